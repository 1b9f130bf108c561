"""What the worker processes do; each function takes a progress callable first."""
