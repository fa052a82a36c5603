"""Static files and what all pages share."""
