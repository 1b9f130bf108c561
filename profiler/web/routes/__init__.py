"""What may be asked, by subject; the contract of each is in DEVELOPERS.md."""
