"""Things of the catalogue as a person types them."""

from __future__ import annotations

GOOD: dict[str, dict[str, str]] = {
    "people": {"code": "cy", "name": "Cy M.", "role": "operator"},
    "stations": {
        "code": "press",
        "name": "Press 1",
        "kind": "drill press",
        "rpm_min": "60",
        "rpm_max": "900",
        "torque_nm": "40.5",
        "reducer_ratio": "2",
        "largest_p": "1/2-13",
        "largest_n": "M20",
    },
    "materials": {"code": "brass", "name": "Brass", "iso_group": "N", "hardness_hb": "90"},
    "jobs": {
        "code": "J-9",
        "part": "cover",
        "material": "steel",
        "thread": "3/8-16",
        "holes_per_part": "6",
        "depth_mm": "12.5",
        "hole": "blind",
        "hole_making": "laser cut",
        "drilled_mm": "7.9",
        "drill_depth_mm": "20",
        "is_chamfered": "yes",
        "is_reamed": "no",
        "planned_quantity": "40",
        "due_on": "2026-04-01",
        "planned_rpm": "200",
    },
}
