"""What is typed of people, stations, materials, jobs and tap types, new or changed."""

from __future__ import annotations

from dataclasses import fields
from datetime import date
from decimal import Decimal

import pytest

from shopfloor.core.errors import InputError
from shopfloor.core.input.catalogue_entries import (
    JobEntry,
    KnownPersonEntry,
    MaterialEntry,
    PersonEntry,
    StationEntry,
    TapTypeEntry,
)
from shopfloor.core.input.catalogue_reading import CatalogueEntry, EntryContext, read_changes, read_new
from shopfloor.core.units import Units
from shopfloor.core.value_words import field_of
from shopfloor.core.vocabulary import Chamfer, HoleMaking, IsoGroup, Role, StationKind, TapStyle

Typed = dict[str, str]

MATERIALS = {"steel": 1, "brass": 2}
HERE = EntryContext(find_material=MATERIALS.get)
PERSON = {"code": "ada", "name": " Ada K. ", "role": "operator"}
STATION = {"code": "arm", "name": "Arm 1", "kind": "air arm", "rpm_min": "100", "rpm_max": "500", "largest_p": "M12"}
MATERIAL = {"code": "steel", "name": "Structural steel", "iso_group": "P", "hardness_hb": "150"}
JOB = {"code": "J1", "part": "Bracket", "material": "steel", "thread": "M8", "holes_per_part": "4", "hole": "blind",
       "depth_mm": "0.5 in", "hole_making": "drilled", "drilled_mm": "6.8", "is_reamed": "no",
       "due_on": "2026-06-10"}  # fmt: skip
TAP_TYPE = {
    "code": "M8 SP",
    "thread": "M8",
    "style": "spiral point",
    "chamfer": "plug",
    "unit_cost": "18,50",
    "bin": "C3",
}
GOOD: dict[type[CatalogueEntry], Typed] = {
    PersonEntry: PERSON,
    StationEntry: STATION,
    MaterialEntry: MATERIAL,
    JobEntry: JOB,
    TapTypeEntry: TAP_TYPE,
}
ENTRIES = [
    PersonEntry("Ada K.", (Role.OPERATOR,)),
    StationEntry("Arm 1", StationKind.AIR_ARM, 100, 500, None, None, "M12", None, None, None, None, None),
    MaterialEntry("Structural steel", IsoGroup.P, 150),
    JobEntry("Bracket", 1, "M8", 4, None, 12.7, True, HoleMaking.DRILLED, 6.8, None, None, False, None,
             date(2026, 6, 10), None),
    TapTypeEntry("M8", TapStyle.SPIRAL_POINT, Chamfer.PLUG, None, None, None, Decimal("18.50"), None, "C3"),
]  # fmt: skip


def problems(kind: type[CatalogueEntry], changes: Typed, context: EntryContext = HERE) -> list[tuple[str, str]]:
    """Field and sentence of each problem of a new thing with these changes, in order."""
    found = read_new(kind, GOOD[kind] | changes, context).problems
    return [(problem.field, problem.sentence()) for problem in found]


def changed(kind: type[CatalogueEntry], before: Typed, changes: Typed) -> dict[str, object]:
    """The new values by column, where a form showed the good ones with those of before."""
    shown = {field_of(one.name): "" for one in fields(kind)} | GOOD[kind] | before
    return read_changes(kind, shown | changes, HERE, shown)


@pytest.mark.parametrize("entry", ENTRIES, ids=lambda entry: type(entry).__name__)
def test_a_new_thing_has_its_code_and_typed_values(entry: CatalogueEntry) -> None:
    """What was left empty is None; what is right raises nothing."""
    raw = GOOD[type(entry)]
    assert (raw["code"], entry) == read_new(type(entry), raw, HERE).accepted()


@pytest.mark.parametrize(
    ("kind", "field", "typed", "told"),
    [
        (PersonEntry, "code", "", "it is missing"),
        (PersonEntry, "role", "king", "'king' is not known"),
        (StationEntry, "rpm_max", "99", "99 is below the lowest speed, 100"),
        (StationEntry, "largest_k", "M65", "the nearest are M64, M60 or M56"),
        (MaterialEntry, "hardness_hb", "751", "give a number from 1 to 750"),
        (JobEntry, "material", "wood", "'wood' is not a material of this shop"),
        (JobEntry, "hole", "square", "use blind or through"),
        (JobEntry, "drilled_mm", "8", "leaves no metal for M8"),
        (JobEntry, "is_reamed", "perhaps", "use one of: yes, no"),
        (TapTypeEntry, "thread", "M8x1.1", "write 'special' after it if it is one"),
        (TapTypeEntry, "unit_cost", "1,500", "can be read in two ways; write 1500, or at most two decimals"),
        (TapTypeEntry, "unit_cost", "1.500", "can be read in two ways; write 1500, or at most two decimals"),
        (TapTypeEntry, "unit_cost", "100000.01", "give 0 to 100,000 with at most two decimals"),
        (TapTypeEntry, "unit_cost", "NaN", "'NaN' is not a price"),
        (TapTypeEntry, "lead_time_days", "731", "give a number from 0 to 730"),
    ],
)
def test_a_bad_value_is_named_with_its_remedy(kind: type[CatalogueEntry], field: str, typed: str, told: str) -> None:
    """By its field, and nothing else is found wrong."""
    ((named, sentence),) = problems(kind, {field: typed})
    assert field == named
    assert told in sentence


@pytest.mark.parametrize("typed", ["3/8-20 UNS", "M8x1.1 special"])
def test_a_thread_marked_as_special_is_taken(typed: str) -> None:
    """Its pitch is on no list, and whoever typed it knows."""
    assert [] == problems(TapTypeEntry, {"thread": typed})


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        (JobEntry, {"code": "", "material": "wood", "thread": "banana", "hole": "square", "part": "", "due_on": "x"}),
        (
            TapTypeEntry,
            {"code": "", "thread": "banana", "style": "curly", "unit_cost": "1,500", "lead_time_days": "-3"},
        ),
    ],
)
def test_every_bad_field_is_named_at_once(kind: type[CatalogueEntry], wrong: Typed) -> None:
    """In the order in which they are read; the material's place does not depend on who finds it wrong."""
    assert [*wrong] == [field for field, _ in problems(kind, wrong)]


@pytest.mark.parametrize("wrong", [{"code": ""}, {"material": "wood"}, {"holes_per_part": "0"}])
def test_a_hole_is_compared_with_its_thread_where_all_before_is_right(wrong: Typed) -> None:
    """The first mistake may be the reason for the second."""
    assert [*wrong] == [name for name, _ in problems(JobEntry, {"drilled_mm": "8", **wrong})]


@pytest.mark.parametrize(
    ("context", "units", "mm"),
    [(EntryContext(units=Units.INCH), "", 12.7), (EntryContext(decimal_mark=","), "inch", 12.7), (HERE, "", 0.5)],
)
def test_a_length_is_in_the_units_of_the_drawing(context: EntryContext, units: str, mm: float) -> None:
    """Without any said, in those of the shop."""
    _, entry = read_new(JobEntry, JOB | {"units": units, "depth_mm": "0.5"}, context).entry
    assert mm == pytest.approx(entry.depth_mm)


def test_the_shops_decimal_mark_decides_what_is_asked_back() -> None:
    """Where people write a comma, '1.250' may be meant as a thousand and more."""
    assert [] == problems(StationEntry, {"torque_nm": "1.250"})
    ((field, sentence),) = problems(StationEntry, {"torque_nm": "1.250"}, EntryContext(decimal_mark=","))
    assert "torque_nm" == field
    assert "can be read in two ways" in sentence


@pytest.mark.parametrize(
    ("kind", "changes", "values"),
    [
        (StationEntry, {}, {}),
        (StationEntry, {"rpm_max": " 600 "}, {"rpm_max": 600}),
        (JobEntry, {"material": "brass", "hole": "through"}, {"material_id": 2, "is_blind": False}),
        (MaterialEntry, {"hardness_hb": ""}, {"hardness_hb": None}),
        (TapTypeEntry, {"unit_cost": "20"}, {"unit_cost": Decimal(20)}),
    ],
)
def test_only_what_was_changed_has_a_new_value(
    kind: type[CatalogueEntry], changes: Typed, values: dict[str, object]
) -> None:
    """By column; a field emptied becomes None."""
    assert values == changed(kind, {}, changes)


@pytest.mark.parametrize(
    ("kind", "before", "changes", "values"),
    [
        (StationEntry, {"name": ""}, {"rpm_min": "50"}, {"rpm_min": 50}),
        (StationEntry, {"rpm_max": "50"}, {"name": "Arm"}, {"name": "Arm"}),
        (JobEntry, {"drilled_mm": "9"}, {"part": "Plate"}, {"part": "Plate"}),
    ],
)
def test_what_was_left_alone_is_not_judged(
    kind: type[CatalogueEntry], before: Typed, changes: Typed, values: dict[str, object]
) -> None:
    """What an import left open, or an older version took, need not be put right now."""
    assert values == changed(kind, before, changes)


@pytest.mark.parametrize(
    ("kind", "changes", "told"),
    [
        (StationEntry, {"name": ""}, "name"),
        (StationEntry, {"rpm_min": "501"}, "rpm_max"),
        (JobEntry, {"thread": "M6"}, "drilled_mm"),
    ],
)
def test_what_was_changed_is_judged_with_its_neighbour(kind: type[CatalogueEntry], changes: Typed, told: str) -> None:
    """A field that is checked against the changed one is named, though it was left alone."""
    with pytest.raises(InputError) as refused:
        changed(kind, {}, changes)
    assert [told] == [problem.field for problem in refused.value.problems]


@pytest.mark.parametrize(
    ("typed", "roles"), [("", ()), ("crib", (Role.CRIB,)), ("quality  operator", (Role.QUALITY, Role.OPERATOR))]
)
def test_a_known_person_has_any_number_of_roles(typed: str, roles: tuple[Role, ...]) -> None:
    """They are read in any case, since they are not shown as text."""
    raw = {"name": "Ada K.", "roles": typed}
    assert {"roles": roles} == read_changes(KnownPersonEntry, raw, HERE, {"name": "Ada K."})


def test_each_unknown_role_is_named() -> None:
    """As a problem of the field of one role."""
    with pytest.raises(InputError) as refused:
        read_changes(KnownPersonEntry, {"name": "Ada", "roles": "king crib duke"}, HERE, {"name": "Ada"})
    told = [(problem.field, str(problem.what)) for problem in refused.value.problems]
    assert [("role", "'king' is not known"), ("role", "'duke' is not known")] == told
