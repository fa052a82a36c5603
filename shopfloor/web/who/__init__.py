"""Say who one is: name tiles and PIN on an enrolled tablet, a password elsewhere."""
