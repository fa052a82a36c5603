"""The handbook that the tool shows: one page a person and a task."""
