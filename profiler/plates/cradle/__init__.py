"""Sheets of a cradle: every piece at full size, and the fit check as pictures and a table."""
