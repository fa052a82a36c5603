"""Tables of lives that come without a log: read, counted in other units, estimated."""
