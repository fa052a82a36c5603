"""The shop floor: taps and their lives, holes, cutting data, slips, stock."""
