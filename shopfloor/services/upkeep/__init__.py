"""What becomes of a whole shop: backups, what brings them back, and moving to another database."""
