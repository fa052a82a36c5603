"""Name what the shop has: people, stations, materials, jobs."""
