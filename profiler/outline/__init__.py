"""From the silhouette in the photo to the instrument's plan outline in millimetres."""
