"""Benchmarks: ratios and rates measured in one run; nothing here limits the clock."""
