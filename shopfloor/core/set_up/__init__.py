"""The set-up card before a batch: one question, one card, and the source of each of its figures.

`question` holds question and answer, `card.set_up` answers, and each rule of `warnings` is a function of its own. The
page and the command `setup` ask the same question.
"""
