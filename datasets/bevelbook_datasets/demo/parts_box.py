"""What the invented team has in its boxes and bottles, and the minutes that it typed for its jobs."""

from __future__ import annotations

from typing import Final

from bevelbook_datasets.demo.stock import BOTTLES, JOINT_RING, SCALES, SHAFT_RING, Rows

_COUNTED_ON: Final = "2026-06-01"
_CHECKED_ON: Final = "2026-09-12"
_KIT: Final = "ring kit"


def stock_parts() -> Rows:
    return [
        {"label": "shaft ring", "part": "seal", "seal": SHAFT_RING, "least": 4},
        {"label": "joint ring", "part": "seal", "seal": JOINT_RING, "least": 2},
        {"label": "paper gasket", "part": "gasket", "least": 2},
        {"label": "outdrive, lid side", "part": "outdrive", "side": "lid side", "least": 1},
        {"label": "side gear", "part": "side gear"},
        {"label": "screw M2 x 8", "part": "screw", "least": 8},
        {"label": "shim 5 x 7 x 0.2", "part": "shim", "thickness_mm": 0.2, "bore_mm": 5, "outside_diameter_mm": 7},
    ]


def kit_parts() -> Rows:
    return [
        {"kit": _KIT, "stock_part": "shaft ring", "pieces": 4},
        {"kit": _KIT, "stock_part": "joint ring", "pieces": 1},
    ]


def stock_changes() -> Rows:
    """Counted before the second half of the season, shims once more after it; what the builds fitted new since then
    comes off by itself."""
    counted = (
        ("shaft ring", 12),
        ("joint ring", 1),
        ("paper gasket", 5),
        ("outdrive, lid side", 1),
        ("side gear", 4),
        ("screw M2 x 8", 22),
        ("shim 5 x 7 x 0.2", 6),
    )
    rows: Rows = [
        {"stock_part": part, "what": "counted", "pieces": pieces, "changed_on": _COUNTED_ON, "person": "dee"}
        for part, pieces in counted
    ]
    rows.append({**rows[-1], "pieces": 3, "changed_on": _CHECKED_ON})
    kit = {"what": "delivered", "changed_on": "2026-08-20", "kit": _KIT, "person": "bo"}
    rows += [{"stock_part": one["stock_part"], "pieces": one["pieces"], **kit} for one in kit_parts()]
    rows.append(
        {
            "stock_part": "screw M2 x 8",
            "what": "taken out",
            "pieces": 2,
            "changed_on": "2026-07-05",
            "person": "cy",
            "note": "lost in the grass",
        }
    )
    return rows


def bottle_checks() -> Rows:
    """After the last race: most on the scale, one by eye only, and two that nobody looked at."""
    weighed = (("club 7000", 33.74), ("club 10000", 15.62), ("club 3000", 41.08), ("club 15000", 54.37))
    rows: Rows = [
        {
            "bottle": BOTTLES[fluid],
            "checked_on": _CHECKED_ON,
            "mass_g": mass,
            "scale": SCALES["bench"],
            "person": "ana",
        }
        for fluid, mass in weighed
    ]
    rows.append({"bottle": BOTTLES["club 5000"], "checked_on": _CHECKED_ON, "level": "about half", "person": "ana"})
    return rows


def job_times() -> Rows:
    """By the clock on the wall; a rebuild is not among them, since the bench times those."""
    return [
        {"job": "oil change", "minutes": 40, "waiting_minutes": 60},
        {"job": "weigh", "minutes": 6},
        {"job": "look over", "minutes": 15},
        {"job": "out of the car and in again", "minutes": 20},
        {"job": "out of the car and in again", "minutes": 35, "position": "front"},
    ]
