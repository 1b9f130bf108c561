"""A small ray-traced photo studio: photo-real pictures of instruments whose truth is known exactly.

For development only; needs the `studio` extra. Nothing in the program under test reads from here.
"""
