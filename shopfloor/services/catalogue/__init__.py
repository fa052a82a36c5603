"""People, stations, materials, jobs and tap types, and their labels."""
