"""Set up the shop: people, stations, materials, jobs."""
