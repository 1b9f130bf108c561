"""Photograph an instrument on a printed scale grid; get its outline in millimetres."""

__version__ = "0.1.0"
