"""All raw input is read here, whatever way it comes in: forms, JSON, files, scans, the command line."""
