"""What every service builds on: the unit of work, codes, ids, revisions of entries."""
