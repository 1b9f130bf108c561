"""What may be asked, by subject; the contract of each is in `profiler/web/API.md`."""
