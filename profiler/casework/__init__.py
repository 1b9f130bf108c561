"""From the outline to the box: pure computation, every size with the rule that it comes from."""
