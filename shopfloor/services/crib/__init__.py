"""What the tool crib decides: taps to change, taps to order."""
