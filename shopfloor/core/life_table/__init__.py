"""Life tables from a file, without a log: reading, units, estimates by group."""
