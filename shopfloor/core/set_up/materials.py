"""Work materials on the set-up card: cutting force, start speed, and the tap, hole and lubricant they need."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

from shopfloor.core.errors import InputError
from shopfloor.core.input.reader import shown
from shopfloor.core.phrases import phrase, rounded
from shopfloor.core.vocabulary import IsoGroup

KC_SOURCE = phrase("specific cutting force as printed on a public technical page of a tap maker")
SPEED_SOURCE = phrase("start range for taps of high-speed steel as printed on two public technical pages of tap makers")


def _assumed(what: str) -> str:
    return phrase("no published value found for this formula; assumed on the safe side, from memory: {what}", what=what)


def _no_speed(what: str) -> str:
    return phrase("no published start range found; from memory, common practice: {what}", what=what)


class Family(Enum):
    """Families of materials, for which the factors of a tap's style are published."""

    STEEL = "steel"
    IRON_ALUMINIUM = "cast iron and aluminium"
    BRASS = "brass"


@dataclass(frozen=True)
class WorkMaterial:
    """A kind of work material. Forces and speeds are guide values, each with its source."""

    name: str
    group: IsoGroup
    family: Family
    kc_n_mm2: float
    """Specific cutting force for the formula of `torque`, N/mm2."""
    hss_ft_min: tuple[float, float]
    """Start range of surface speed for an uncoated tap of high-speed steel, ft/min as published."""
    lubricant: str
    also: tuple[str, ...] = ()
    is_ductile: bool = False
    """Whether it is ductile enough for a forming tap."""
    has_short_chips: bool = False
    """Whether its chips are crumbs that need no spiral to leave the hole."""
    kc_source: str = KC_SOURCE
    speed_source: str = SPEED_SOURCE


_SULPHURISED = phrase("sulphurised or chlorine-free high-pressure cutting oil, or rich soluble oil")
_TOUGH = phrase("high-pressure tapping oil or paste; never dry")
_LIGHT = phrase("light cutting oil, kerosene-type oil or soluble oil, against chips that weld on")
_P, _M, _K, _N, _S, _H = IsoGroup
_ST, _IA, _BR = Family

MATERIALS = (
    WorkMaterial(
        "steel", _P, _ST, 2500, (50, 60), _SULPHURISED,
        ("structural steel", "carbon steel", "mild steel", "machine steel", "low carbon steel"), True,
    ),
    WorkMaterial(
        "free-machining steel", _P, _ST, 2300, (40, 80), _SULPHURISED, ("free-cutting steel", "leaded steel"),
    ),
    WorkMaterial("alloy steel", _P, _ST, 2600, (32, 50), _SULPHURISED, ("cast steel",), True),
    WorkMaterial(
        "tempered steel", _P, _ST, 3600, (22, 32), _TOUGH,
        ("quenched and tempered steel", "tool steel", "nitrided steel"),
    ),
    WorkMaterial(
        "stainless steel", _M, _ST, 3200, (5, 35), _TOUGH,
        ("stainless", "inox", "ferritic stainless", "duplex stainless"), True,
    ),
    WorkMaterial(
        "austenitic stainless steel", _M, _ST, 3200, (16, 22), _TOUGH, ("austenitic stainless", "austenitic"), True,
    ),
    WorkMaterial(
        "grey cast iron", _K, _IA, 1250, (50, 100), "dry with an air jet that is shielded, or soluble oil",
        ("cast iron", "gray cast iron", "grey iron", "gray iron", "iron"),
        has_short_chips=True,
    ),
    WorkMaterial(
        "alloy cast iron", _K, _IA, 1600, (35, 60), "soluble oil",
        ("nodular cast iron", "ductile iron", "nodular iron"),
        speed_source=_no_speed(phrase("taken as malleable iron")),
        has_short_chips=True,
    ),
    WorkMaterial(
        "malleable iron", _K, _IA, 1100, (35, 60), "soluble oil", ("malleable cast iron",), has_short_chips=True,
    ),
    WorkMaterial(
        "aluminium", _N, _IA, 800, (50, 150), _LIGHT,
        ("aluminum", "wrought aluminium", "wrought aluminum", "alu"), True,
    ),
    WorkMaterial("cast aluminium", _N, _IA, 680, (50, 150), _LIGHT, ("cast aluminum", "die-cast aluminium"), True),
    WorkMaterial(
        "brass", _N, _BR, 720, (50, 200), "dry or soluble oil; light oil for long chips", has_short_chips=True,
    ),
    WorkMaterial("bronze", _N, _BR, 1100, (50, 100), "soluble oil or light cutting oil"),
    WorkMaterial("copper", _N, _BR, 1100, (30, 60), "light cutting oil or rich soluble oil", is_ductile=True),
    WorkMaterial(
        "magnesium", _N, _IA, 680, (75, 200), "mineral oil free of water, or dry; clear chips often: they burn",
        kc_source=_assumed(phrase("taken as short-chipping aluminium")),
        has_short_chips=True,
    ),
    WorkMaterial(
        "zinc", _N, _IA, 680, (60, 150), "soluble oil", ("zinc die casting", "zamak"), True,
        kc_source=_assumed(phrase("taken as short-chipping aluminium")),
    ),
    WorkMaterial(
        "plastic", _N, _IA, 680, (50, 100), "dry with air, or soapy water; check that the fluid does not crack it",
        ("plastics", "thermoplastic", "thermosetting", "nylon", "acetal"),
        kc_source=_assumed(phrase("taken as short-chipping aluminium")),
    ),
    WorkMaterial(
        "titanium", _S, _ST, 2600, (10, 40), _TOUGH, ("titanium alloy", "titanium alloys"),
        kc_source=_assumed(phrase("taken as steel quenched and tempered to 500-950 N/mm2")),
    ),
    WorkMaterial(
        "nickel alloy", _S, _ST, 3600, (10, 16), _TOUGH,
        ("nickel", "nickel alloys", "heat-resistant alloy", "superalloy"),
        kc_source=_assumed(phrase("taken as steel quenched and tempered to 950-1400 N/mm2")),
    ),
    WorkMaterial(
        "hardened steel", _H, _ST, 4000, (6, 16), _TOUGH, ("hardened",),
        kc_source=_assumed(phrase("quenched and tempered steel, raised as published values rise from 30 to 40 HRC")),
        speed_source=_no_speed(phrase("2 to 5 m/min")),
    ),
)  # fmt: skip
"""Lubricants, chips and what can be formed: common practice, no source. Groups: ISO 513."""

_OF_GROUP = {
    "P": "steel",
    "M": "stainless steel",
    "K": "grey cast iron",
    "N": "aluminium",
    "S": "nickel alloy",
    "H": "hardened steel",
}
_BY_WORD = {word: material for material in MATERIALS for word in (material.name, *material.also)}
_TEMPERED_FROM_HB, _HARDENED_FROM_HB = 250, 420


def work_material(text: str, hardness_hb: float | None = None) -> WorkMaterial:
    """The kind of material that `text` means: a known word in it, or the letter of an ISO 513 group.

    Parameters
    ----------
    text : str                 'stainless', '304 stainless', 'N', 'brass bar'; the longest known word decides
    hardness_hb : float        Brinell; steel from 250 HB counts as tempered, from 420 HB (45 HRC) as hardened

    Raises
    ------
    InputError    no known word and no letter; lists those known
    """
    material = _named(text)
    if material is None:
        words = ", ".join(sorted(material.name for material in MATERIALS))
        raise InputError.of(
            "material",
            phrase("{text} is not known", text=shown(text)),
            phrase("give P, M, K, N, S or H, or one of: {words}", words=words),
        )
    return _at_hardness(material, hardness_hb)


def material_of_group(group: IsoGroup, hardness_hb: float | None = None) -> WorkMaterial:
    """The material that represents an ISO 513 group: the commonest, for S the hardest to cut."""
    return _at_hardness(_BY_WORD[_OF_GROUP[group.value]], hardness_hb)


def _named(text: str) -> WorkMaterial | None:
    text = " ".join(text.split())
    if text.upper() in _OF_GROUP:
        return _BY_WORD[_OF_GROUP[text.upper()]]
    found = [word for word in _BY_WORD if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text.casefold())]
    return _BY_WORD[max(found, key=len)] if found else None


def _at_hardness(material: WorkMaterial, hardness_hb: float | None) -> WorkMaterial:
    if hardness_hb is None:
        return material
    if not 0 < hardness_hb < 1000:
        raise InputError.of(
            "hardness",
            phrase("{hardness_hb} HB is not a hardness", hardness_hb=rounded(hardness_hb)),
            "give Brinell between 10 and 800",
        )
    if material.group is IsoGroup.P and hardness_hb >= _TEMPERED_FROM_HB:
        return _BY_WORD["tempered steel" if hardness_hb < _HARDENED_FROM_HB else "hardened steel"]
    return material
