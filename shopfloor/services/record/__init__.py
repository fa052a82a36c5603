"""What every service stands on: the unit of work, codes, ids, revisions of entries."""
