"""Static files and what every page shares."""
