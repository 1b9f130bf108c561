"""Do the stated uncertainties hold, and how far out are the numbers: over many varied scenes."""
