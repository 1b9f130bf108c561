"""The lens and where it stands: millimetres to pixels and back."""
