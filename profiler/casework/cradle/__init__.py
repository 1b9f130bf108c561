"""Cradle pieces: what holds the instrument in its case, cut to its own cross-profiles."""
