"""One form for each kind of thing that a shop names. What values mean is read by the service."""

from __future__ import annotations

from flask_wtf import FlaskForm
from wtforms import SelectChoice, SelectField, StringField  # type: ignore[attr-defined]  # the stubs lag behind

from shopfloor.core.vocabulary import HoleMaking, IsoGroup, Role, StationKind
from shopfloor.services.catalogue import BLIND, THROUGH, Listed

_DIGITS = {"inputmode": "numeric", "autocomplete": "off"}
_POINT = {"inputmode": "decimal", "autocomplete": "off"}
_TEXT = {"autocomplete": "off"}


def _choices(pairs: list[tuple[str, str]]) -> list[SelectChoice]:
    return [SelectChoice(*pair) for pair in pairs]


class PersonForm(FlaskForm):
    """Somebody who works here."""

    code = StringField("Short code", render_kw=_TEXT)
    name = StringField("Name as the tiles show it", render_kw=_TEXT)
    role = SelectField("Role", choices=_choices(Role.choices()), validate_choice=False)


class StationForm(FlaskForm):
    """What turns the tap."""

    code = StringField("Short code", render_kw=_TEXT)
    name = StringField("Name", render_kw=_TEXT)
    kind = SelectField("Kind", choices=_choices(StationKind.choices()), validate_choice=False)
    rpm_min = StringField("Lowest speed (rpm)", render_kw=_DIGITS)
    rpm_max = StringField("Highest speed (rpm); the same where it is fixed", render_kw=_DIGITS)


class MaterialForm(FlaskForm):
    """A work material."""

    code = StringField("Short code", render_kw=_TEXT)
    name = StringField("Name", render_kw=_TEXT)
    iso_group = SelectField("Group (ISO 513)", choices=_choices(IsoGroup.choices()), validate_choice=False)
    hardness_hb = StringField("Hardness (HB), if known", render_kw=_DIGITS)


class JobForm(FlaskForm):
    """A part number and its tapped holes."""

    code = StringField("Job number", render_kw=_TEXT)
    part = StringField("Part", render_kw=_TEXT)
    material = SelectField("Material", validate_choice=False)
    thread = StringField("Thread, as 3/8-16 or M8x1", render_kw=_TEXT)
    holes_per_part = StringField("Holes per part", render_kw=_DIGITS)
    depth_mm = StringField("Depth (mm), if known", render_kw=_POINT)
    hole = SelectField("Hole", choices=_choices([(BLIND, "Blind"), (THROUGH, "Through")]), validate_choice=False)
    hole_making = SelectField("How the hole is made", choices=_choices(HoleMaking.choices()), validate_choice=False)
    planned_quantity = StringField("Planned quantity (parts)", render_kw=_DIGITS)
    due_on = StringField("Due on, as 2026-03-31", render_kw=_TEXT)
    planned_rpm = StringField("Planned speed (rpm)", render_kw=_DIGITS)

    def offer(self, materials: list[Listed]) -> None:
        """List the shop's materials."""
        self.material.choices = _choices([(material.code, material.name) for material in materials])


FORMS: dict[str, type[FlaskForm]] = {
    "people": PersonForm,
    "stations": StationForm,
    "materials": MaterialForm,
    "jobs": JobForm,
}
