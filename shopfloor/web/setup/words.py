"""What a shop sets up before it can log, each thing after those it needs."""

from __future__ import annotations

from dataclasses import dataclass

from shopfloor.core.phrases import phrase

TAP_TYPES = "tap types"
"""Kept by the tool crib, listed here so that nobody forgets them."""


@dataclass(frozen=True)
class Thing:
    """One kind of thing: its title, its singular, and its purpose."""

    title: str
    one: str
    purpose: str


THINGS = {
    "people": Thing(phrase("People"), phrase("a person"), phrase("Who logs batches, and who books taps.")),
    "stations": Thing(phrase("Stations"), phrase("a station"), phrase("What turns the tap, with its speeds.")),
    "materials": Thing(phrase("Materials"), phrase("a material"), phrase("What is tapped, by its ISO 513 group.")),
    TAP_TYPES: Thing(
        phrase("Tap types"),
        phrase("a tap type"),
        phrase("Thread, style, supplier and price. The tool crib keeps them."),
    ),
    "jobs": Thing(
        phrase("Jobs"), phrase("a job"), phrase("Part, material, thread and holes. A job needs its material first.")
    ),
}


@dataclass(frozen=True)
class Step:
    """One step of the set-up: where it is done, and how many there are so far."""

    kind: str
    address: str
    count: int

    @property
    def thing(self) -> Thing:
        """The kind of thing set up in this step."""
        return THINGS[self.kind]
