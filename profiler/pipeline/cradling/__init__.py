"""Typed options to a cradle."""
