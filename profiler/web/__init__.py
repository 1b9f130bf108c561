"""The page at the bench: what the command line does, in a browser on the same machine."""
