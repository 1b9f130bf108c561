"""The sheets of a case plan: views, boards, exploded view, tables, order of work."""
