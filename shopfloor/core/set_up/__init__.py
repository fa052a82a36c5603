"""The set-up card before a batch: one question, one card, and the source of each of its figures."""
