"""Runs: logged, imported, exported, and how large the next batch is."""
