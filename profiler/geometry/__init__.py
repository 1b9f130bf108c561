"""Plain plane geometry: frames, curves, fits. Knows no photo and no instrument."""
