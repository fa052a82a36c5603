"""The set-up card before a batch: one question, one card, and what each of its figures rests on."""
