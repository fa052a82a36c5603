"""One form for each kind of thing that a shop sets up. The services interpret the values."""

from __future__ import annotations

from typing import Any

from shopfloor.core.input.catalogue_entries import BLIND, THROUGH
from shopfloor.core.input.catalogue_reading import Answer
from shopfloor.core.phrases import phrase
from shopfloor.core.units import Units
from shopfloor.core.vocabulary import HoleMaking, IsoGroup, LifeMeasure, Role, StationKind
from shopfloor.services.catalogue.things import Listed
from shopfloor.web.forms.fields import (
    TO_CHOOSE,
    CodeField,
    CountField,
    Form,
    MeasureField,
    NameField,
    PickField,
    SeveralField,
    ThreadField,
    WordField,
)
from shopfloor.web.i18n.language import say
from shopfloor.web.i18n.measures import shops_units

_SHORT = phrase("A few letters or digits, as 'ada' or 'arm-1'. It cannot be changed later.")

_LARGEST = phrase("As the machine's maker states it.")


class PersonForm(Form):
    """Somebody who works here."""

    name = NameField("Name", hint="As the tiles show it.")
    code = CodeField("Short code", hint=_SHORT)
    role = PickField("Role", Role, first=TO_CHOOSE)


class PersonChangeForm(Form):
    """Somebody who works here, with all their roles."""

    name = NameField("Name", hint="As the tiles show it.")
    roles = SeveralField("Roles", Role)


class StationForm(Form):
    """What turns the tap."""

    name = NameField("Name", hint="As the tiles show it.")
    code = CodeField("Short code", hint=_SHORT)
    kind = PickField("Kind", StationKind, first=TO_CHOOSE)
    rpm_min = CountField("Lowest speed (rpm)")
    rpm_max = CountField("Highest speed (rpm)", hint="The same where the speed is fixed.")
    torque_nm = MeasureField(
        "Torque",
        hint="At the spindle, if known: the set-up card compares it. A unit may stand after it: 12 N m, 9 ft-lb.",
    )
    reducer_ratio = MeasureField("Reducer", hint="Turns of the spindle for one of the tap, if there is one.")
    largest_p = ThreadField("Largest thread in steel (P)", hint=_LARGEST)
    largest_m = ThreadField("Largest thread in stainless steel (M)", hint=_LARGEST)
    largest_k = ThreadField("Largest thread in cast iron (K)", hint=_LARGEST)
    largest_n = ThreadField("Largest thread in non-ferrous metal (N)", hint=_LARGEST)
    largest_s = ThreadField("Largest thread in heat-resistant metal (S)", hint=_LARGEST)
    largest_h = ThreadField("Largest thread in hardened steel (H)", hint=_LARGEST)

    def __init__(self, *typed: Any, **keywords: Any) -> None:
        super().__init__(*typed, **keywords)
        # A number without a unit is in the shop's unit.
        self.torque_nm.label.text = say(phrase("Torque ({unit})", unit=shops_units().torque))


class MaterialForm(Form):
    """A work material."""

    name = NameField("Name", hint="With its condition, as 'alloy steel, quenched and tempered'.")
    code = CodeField("Short code", hint=_SHORT)
    iso_group = PickField("Group (ISO 513)", IsoGroup, first=TO_CHOOSE)
    hardness_hb = CountField("Hardness (HB)", hint="If known.")


class JobForm(Form):
    """A part number and its tapped holes."""

    code = CodeField("Job number")
    part = NameField("Part")
    material = PickField("Material", first=TO_CHOOSE)
    thread = ThreadField("Thread")
    holes_per_part = CountField("Holes per part")
    hole = PickField("Hole", [(BLIND, phrase("Blind")), (THROUGH, phrase("Through"))], first=TO_CHOOSE)
    units = PickField("Units of the drawing", Units, first=TO_CHOOSE)
    depth_mm = MeasureField(
        "Depth of thread", hint="If known: the set-up card needs it. Another unit may stand after it, as 0.5 in."
    )
    hole_making = PickField("How the hole is made", HoleMaking, first=TO_CHOOSE)
    drilled_mm = MeasureField("Hole before tapping", hint="Its diameter, if known.")
    drill_depth_mm = MeasureField("Depth of the hole", hint="Of a blind one, at full diameter.")
    is_chamfered = PickField("Is the mouth chamfered?", Answer)
    is_reamed = PickField("Is the hole reamed?", Answer)
    planned_rpm = CountField("Planned speed (rpm)", hint="If there is one.")
    planned_quantity = CountField("Planned quantity (parts)", hint="If known: the order list is based on it.")
    due_on = NameField("Due on", hint="If known, as 2026-03-31.")

    def offer(self, materials: list[Listed]) -> None:
        """List the shop's materials."""
        self.material.offer((material.code, material.name) for material in materials)


class LifeMeasureForm(Form):
    """What the shop counts a tap's life in."""

    measure = WordField(
        "Count life in",
        LifeMeasure,
        hint="Length of thread suits holes of different depths; a job without a depth counts at the usual one.",
    )


FORMS: dict[str, type[Form]] = {
    "people": PersonForm,
    "stations": StationForm,
    "materials": MaterialForm,
    "jobs": JobForm,
}
