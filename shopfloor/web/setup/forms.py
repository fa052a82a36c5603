"""One form for each kind of thing that a shop names. What values mean is read by the service."""

from __future__ import annotations

from wtforms import Form

from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Role, StationKind
from shopfloor.services.catalogue import BLIND, THROUGH, Listed
from shopfloor.web.fields import TO_CHOOSE, CodeField, CountField, MeasureField, NameField, PickField

_SHORT = "A few letters or digits, as 'ada' or 'arm-1'. It cannot be changed later."


class PersonForm(Form):
    """Somebody who works here."""

    name = NameField("Name", hint="As the tiles show it.")
    code = CodeField("Short code", hint=_SHORT)
    role = PickField("Role", Role, first=TO_CHOOSE)


class StationForm(Form):
    """What turns the tap."""

    name = NameField("Name", hint="As the tiles show it.")
    code = CodeField("Short code", hint=_SHORT)
    kind = PickField("Kind", StationKind, first=TO_CHOOSE)
    rpm_min = CountField("Lowest speed (rpm)")
    rpm_max = CountField("Highest speed (rpm)", hint="The same where the speed is fixed.")


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
    thread = CodeField("Thread", hint="Like 3/8-16, #10-32 or M8x1.")
    holes_per_part = CountField("Holes per part")
    hole = PickField("Hole", [(BLIND, "Blind"), (THROUGH, "Through")], first=TO_CHOOSE)
    depth_mm = MeasureField("Depth (mm)", hint="If known.")
    hole_making = PickField("How the hole is made", HoleMaking, first=TO_CHOOSE)
    planned_rpm = CountField("Planned speed (rpm)", hint="If there is one.")
    planned_quantity = CountField("Planned quantity (parts)", hint="If known: the order list rests on it.")
    due_on = NameField("Due on", hint="If known, as 2026-03-31.")

    def offer(self, materials: list[Listed]) -> None:
        """List the shop's materials."""
        self.material.offer((material.code, material.name) for material in materials)


FORMS: dict[str, type[Form]] = {
    "people": PersonForm,
    "stations": StationForm,
    "materials": MaterialForm,
    "jobs": JobForm,
}
