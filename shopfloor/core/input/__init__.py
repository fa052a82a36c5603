"""Whatever comes in, by whichever door, is read here: forms, JSON, tables, labels, passwords."""
