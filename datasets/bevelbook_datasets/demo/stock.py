"""What the invented team owns and decided: people, cars, oils, seals, ideas, limits. Rows in the form of the
records."""

from __future__ import annotations

from typing import Final

from bevelbook_datasets.demo.plan import DRY_G, FREE_VOLUME_CM3, LABEL_CST, LID_G, PEOPLE

Rows = list[dict[str, object]]

SCALES: Final = {"bench": "bench scale", "pocket": "bo's pocket scale", "kitchen": "ana's kitchen scale"}
BOTTLES: Final = {
    "club 3000": "3000-A",
    "club 5000": "5000-A",
    "club 7000": "7000-B",
    "club 10000": "10000-A",
    "club 15000": "15000-A",
    "7k": "7k-A",
    "60 wt": "60wt-A",
}
SHAFT_RING: Final = "shaft ring 5 x 1.5"
JOINT_RING: Final = "joint ring 18 x 1"
FULL_G: Final = 62.4
EMPTY_G: Final = {
    "club 3000": 12.36,
    "club 5000": 12.31,
    "club 7000": 12.34,
    "club 10000": 12.4,
    "club 15000": 12.29,
}
"""Bottles with their caps: all were about as heavy when full; those of the same shop were weighed empty."""
IDEAS: Final = (
    ("15000 in the rear against 5000 when it is dusty", "Brickfield", "dee", "2025-07-20", ""),
    ("10000 against 7000 in the rear, one driver, in turn", "North Quay", "bo", "2025-08-31", ""),
    ("3000 in front, to see whether it turns in earlier", "Brickfield", "cy", "2026-05-24", ""),
    ("7000 mixed from 5000 and 10000 in front", "North Quay", "bo", "2026-06-14", ""),
    ("diff temperature straight after the run, every time", "Tannery Hall", "ana", "2026-04-12", ""),
    ("one paper gasket less under the lid of rear-a", "Tannery Hall", "bo", "2026-09-06", ""),
    ("temperature of the front diff too, straight after the run", "North Quay", "cy", "2026-08-09", ""),
    ("putty in front for the carpet", "Tannery Hall", "dee", "2025-10-12", "not allowed in the hall"),
)
TRIED_BY: Final = {"rear-c/6": 0, "rear-c/7": 1, "front-b/4": 2, "front-a/4": 3}


def people() -> Rows:
    return [{"name": name, "note": "invented"} for name in PEOPLE]


def cars() -> Rows:
    return [
        {"name": f"{colour} {year}", "drive": "4WD", "note": "invented"}
        for year in ("2025", "2026")
        for colour in ("red", "blue")
    ]


def venues() -> Rows:
    return [
        {"name": "Tannery Hall", "surface": "carpet", "indoor": "yes", "altitude_m": 60, "note": "invented"},
        {"name": "North Quay", "surface": "asphalt", "indoor": "no", "altitude_m": 4, "note": "invented"},
        {"name": "Brickfield", "surface": "asphalt", "indoor": "no", "altitude_m": 110, "note": "invented; dusty"},
    ]


def scales() -> Rows:
    """The terms from day to day are of the same thing put on five days."""
    checked = {"repeatability_g": 0.005, "day_to_day_g": 0.003, "error_bound_g": 0.01}
    return [
        {
            "name": SCALES["bench"],
            "step_g": 0.01,
            **checked,
            "checked_on": "2026-03-01",
            "note": "ten times 20 g, on five days",
        },
        {
            "name": SCALES["pocket"],
            "step_g": 0.01,
            **checked,
            "checked_on": "2025-03-02",
            "note": "ten times 20 g, on five days",
        },
        {
            "name": SCALES["kitchen"],
            "step_g": 0.1,
            "repeatability_g": 0.01,
            "day_to_day_g": 0.01,
            "checked_on": "2025-03-02",
            "note": "first season only; small weights added until it turned over and ten times again, on five days",
        },
    ]


def seals() -> Rows:
    return [
        {
            "label": SHAFT_RING,
            "form": "O-ring",
            "inside_diameter_mm": 5,
            "section_mm": 1.5,
            "outside_diameter_mm": 8,
            "material": "NBR",
            "hardness": 70,
            "groove_depth_mm": 1.3,
            "groove_width_mm": 1.9,
        },
        {
            "label": JOINT_RING,
            "form": "O-ring",
            "inside_diameter_mm": 18,
            "section_mm": 1,
            "outside_diameter_mm": 20,
            "material": "NBR",
            "hardness": 70,
            "groove_depth_mm": 0.75,
            "groove_width_mm": 1.4,
        },
        {"label": "paper gasket", "form": "paper", "material": "paper", "note": "cut by hand"},
    ]


def diffs() -> Rows:
    rows: Rows = []
    for label, dry in DRY_G.items():
        room = FREE_VOLUME_CM3.get(label)
        rows.append(
            {
                "label": label,
                "usual_position": label.partition("-")[0],
                "housing_material": "aluminium",
                "free_volume_cm3": room,
                "free_volume_from": "overfilled, lid laid on by hand, wiped, weighed; smallest of three"
                if room
                else None,
                "screw_count": 4,
                "screw_size": "M2 x 8",
                "screw_hole": "blind",
                "shaft_diameter_mm": 5,
                "joint_seal": JOINT_RING,
                "shaft_seal": SHAFT_RING,
                "usual_dry_mass_g": dry,
                "usual_lid_mass_g": LID_G[label],
                "note": "invented",
            }
        )
    return rows


def fluids() -> Rows:
    rows: Rows = [
        {"label": label, "viscosity_cst": cst, "viscosity_source": "what the label says", "note": "own label, invented"}
        for label, cst in LABEL_CST.items()
        if label.startswith("club")
    ]
    return [
        *rows,
        {"label": "7k", "viscosity_cst": 7000, "viscosity_source": "what the label says", "note": "measured thinner"},
        {"label": "60 wt", "note": "no cSt on the bottle, and wt is not a unit of viscosity"},
    ]


def bottles() -> Rows:
    rows: Rows = [
        {"fluid": fluid, "lot": lot, "opened_on": "2025-03-30" if fluid != "club 15000" else "2026-06-28"}
        for fluid, lot in BOTTLES.items()
    ]
    for row in rows:
        if row["fluid"] in EMPTY_G:
            row |= {"full_mass_g": FULL_G, "empty_mass_g": EMPTY_G[str(row["fluid"])]}
    rows[2]["note"] = "the second one; the first is used up"
    rows[5] |= {
        "viscosity_cst": 6150,
        "viscosity_uncertainty_cst": 150,
        "measured_on": "2026-02-14",
        "method": "bearing ball in a syringe, five falls",
    }
    rows.append({"fluid": "club 7000", "lot": "7000-A", "opened_on": "2025-03-30", "empty": "yes"})
    return rows


def fluid_comparisons() -> Rows:
    how = "same syringe, same ball, one after the other"
    return [
        *(
            {
                "thicker": thicker,
                "thinner": thinner,
                "ratio": ratio,
                "temperature_c": warm,
                "compared_on": day,
                "note": how,
            }
            for thicker, thinner, ratio, warm, day in (
                ("10000-A", "7000-B", 1.42, 21, "2026-02-14"),
                ("7000-B", "7k-A", 1.14, 21, "2026-02-14"),
                ("7k-A", "5000-A", 1.22, 21, "2026-02-14"),
                ("15000-A", "10000-A", 1.51, 24, "2026-07-04"),
                ("5000-A", "3000-A", 1.66, 24, "2026-07-04"),
            )
        ),
        {"thicker": "5000-A", "thinner": "60wt-A", "temperature_c": 18, "compared_on": "2026-02-15", "note": "by feel"},
        {
            "thicker": "60wt-A",
            "thinner": "7k-A",
            "temperature_c": 12,
            "compared_on": "2026-01-10",
            "note": "by feel, one bottle was cold",
        },
    ]


def limits() -> Rows:
    return [
        {"kind": "runs between openings", "value": 20, "note": "agreed in March 2026"},
        {"kind": "oil lost as a share", "value": 0.10},
        {"kind": "seal uses", "value": 2, "note": "rings are turned out after two builds"},
        {"kind": "runs between openings", "value": 12, "diff": "rear-b", "note": "until its shaft is trusted again"},
    ]


def ideas() -> Rows:
    return [
        {"text": text, "venue": venue, "person": person, "noted_on": day, "dropped": dropped}
        for text, venue, person, day, dropped in IDEAS
    ]
