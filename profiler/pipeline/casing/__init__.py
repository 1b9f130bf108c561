"""What `profiler case` needs to turn what was typed into wishes."""
