"""The fixed cast of Ottermere Works, a shop of our own invention: people, stations, materials and kinds of tap."""

from __future__ import annotations

from decimal import Decimal

from seed.rows import Material, Person, Station, TapType
from shopfloor.core.vocabulary import Chamfer, IsoGroup, Role, StationKind, Substrate, TapStyle

SHOP_NAME = "Ottermere Works"

NORTH, DELTA = "Supplier North", "Supplier Delta"
CRIB_KEEPER, QUALITY_LEAD = "hana", "greta"

STRUCTURAL, FREE_CUTTING, ALLOY = "structural steel", "free-cutting steel", "alloy steel"
STAINLESS, CAST_IRON, ALUMINIUM, BRASS = "stainless austenitic", "grey cast iron", "aluminium", "brass"

ARM_1, ARM_2, AIR, PRESS, CENTRE, WRENCH = "arm-1", "arm-2", "air-1", "press-1", "centre-1", "wrench-1"

MATERIALS = (
    Material(STRUCTURAL, "Structural steel", IsoGroup.P, 140),
    Material(FREE_CUTTING, "Free-cutting steel", IsoGroup.P, 160),
    Material(ALLOY, "Alloy steel, quenched and tempered", IsoGroup.P, 270),
    Material(STAINLESS, "Stainless steel, austenitic", IsoGroup.M, 185),
    Material(CAST_IRON, "Grey cast iron", IsoGroup.K, 200),
    Material(ALUMINIUM, "Wrought aluminium", IsoGroup.N, 75),
    Material(BRASS, "Free-cutting brass", IsoGroup.N, 110),
)

STATIONS = (
    Station(ARM_1, "Tapping arm 1", StationKind.ELECTRIC_ARM, 25, 500, 55, "5/8-11", "9/16-12", "1-8"),
    Station(ARM_2, "Tapping arm 2", StationKind.ELECTRIC_ARM, 25, 500, 55, "5/8-11", "9/16-12", "1-8"),
    Station(AIR, "Air arm", StationKind.AIR_ARM, 350, 350, 34, "1/2-13", "7/16-14", "3/4-10"),
    Station(PRESS, "Drill press with tapping head", StationKind.DRILL_PRESS, 150, 1200, 40),
    Station(CENTRE, "Machining centre", StationKind.MACHINING_CENTRE, 50, 4000, 95),
    Station(WRENCH, "Hand wrench, fitting bench", StationKind.HAND_WRENCH, 5, 40),
)

PEOPLE = (
    Person("ada", "Ada K.", (Role.OPERATOR,)),
    Person("ben", "Ben O.", (Role.OPERATOR,)),
    Person("chidi", "Chidi N.", (Role.OPERATOR,)),
    Person("dora", "Dora L.", (Role.OPERATOR,)),
    Person("emil", "Emil R.", (Role.OPERATOR,)),
    Person("femi", "Femi A.", (Role.OPERATOR, Role.ADMIN)),
    Person(QUALITY_LEAD, "Greta S.", (Role.QUALITY,)),
    Person(CRIB_KEEPER, "Hana T.", (Role.CRIB,)),
)

OPERATORS = tuple(person.code for person in PEOPLE if Role.OPERATOR in person.roles)
REGULAR_OPERATOR = {ARM_1: "ada", ARM_2: "ben", AIR: "chidi", PRESS: "dora", CENTRE: "emil", WRENCH: "femi"}

BRIGHT, COATED = "bright", "TiN"


def _tap_type(
    thread: str, style: TapStyle, supplier: str, cost: str, days: int, bin_: str, *, coating: str = BRIGHT
) -> TapType:
    is_blind = style in (TapStyle.SPIRAL_FLUTE, TapStyle.FORMING)
    return TapType(
        code=f"{thread} {style.value} {supplier.removeprefix('Supplier ')}",
        thread=thread,
        style=style,
        chamfer=Chamfer.BOTTOMING if is_blind else Chamfer.PLUG,
        substrate=Substrate.POWDER if style is TapStyle.FORMING else Substrate.HSS_COBALT,
        coating=coating,
        supplier=supplier,
        unit_cost=Decimal(cost),
        lead_time_days=days,
        bin=bin_,
    )


TAP_TYPES = (
    _tap_type("M6", TapStyle.SPIRAL_POINT, NORTH, "9.80", 7, "A1"),
    _tap_type("M6", TapStyle.SPIRAL_FLUTE, DELTA, "14.60", 14, "A2", coating=COATED),
    _tap_type("M6", TapStyle.FORMING, NORTH, "21.50", 14, "A3", coating=COATED),
    _tap_type("M8", TapStyle.SPIRAL_POINT, NORTH, "11.90", 7, "A4"),
    _tap_type("M8", TapStyle.SPIRAL_POINT, DELTA, "9.40", 14, "A5"),
    _tap_type("M8", TapStyle.SPIRAL_FLUTE, NORTH, "16.20", 10, "A6"),
    _tap_type("M10", TapStyle.SPIRAL_POINT, NORTH, "14.30", 7, "A7"),
    _tap_type("M10", TapStyle.STRAIGHT_FLUTE, DELTA, "12.70", 14, "B1"),
    _tap_type("M12x1.25", TapStyle.SPIRAL_FLUTE, NORTH, "24.90", 21, "B2"),
    _tap_type("#10-32 UNF", TapStyle.SPIRAL_POINT, NORTH, "8.70", 7, "B3"),
    _tap_type("1/4-20 UNC", TapStyle.SPIRAL_POINT, NORTH, "9.20", 7, "B4"),
    _tap_type("3/8-16 UNC", TapStyle.SPIRAL_POINT, NORTH, "15.80", 7, "B5"),
    _tap_type("3/8-16 UNC", TapStyle.SPIRAL_POINT, DELTA, "12.10", 14, "B6"),
    _tap_type("1/2-13 UNC", TapStyle.SPIRAL_POINT, NORTH, "19.40", 10, "B7"),
)

TAP_TYPE = {tap_type.code: tap_type for tap_type in TAP_TYPES}
STATION = {station.code: station for station in STATIONS}
BAD_LOT = "D-1417"
BAD_LOT_TYPE = "M8 spiral point Delta"


def tap_types_for(thread: str, style: TapStyle) -> tuple[str, ...]:
    """Codes of the kinds of tap that cut `thread` with flutes of that `style`."""
    return tuple(kind.code for kind in TAP_TYPES if (kind.thread, kind.style) == (thread, style))
