"""The measured instrument: its frame, its envelope, its named widths."""
