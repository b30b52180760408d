"""What was recorded at the bench and at the track in addition to the notes: builds, parts, weighings, openings,
runs."""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import Final

from bevelbook_datasets.demo.notes import notes_of
from bevelbook_datasets.demo.plan import CAR_OF, CHANGED, OPENED, PLANNED_BUILDS, TARED, TARGET_G, THICKER, PlannedBuild
from bevelbook_datasets.demo.stock import BOTTLES, IDEAS, JOINT_RING, SCALES, SHAFT_RING, TRIED_BY, Rows
from bevelbook_datasets.demo.timeline import RunRow, day_reached, run_rows, runs_of
from bevelbook_datasets.demo.world import closed_reading_g, filled_readings_g, lap_lengths_s, uniform

RECORDED: Final = tuple(one for one in PLANNED_BUILDS if one.kept == "records")
LAST_WEIGHED_BEFORE_OPENING: Final = ("rear-d/4",)
"""Builds whose last mass is recorded with the opening, not as a weighing."""
FEEL: Final = {"rear-a/12": "loose", "front-b/3": "stiff all round"}
NEW_RINGS: Final = ("rear-b/3", "rear-b/4", "rear-d/4", "front-b/4", "rear-c/7")
LIKE: Final = {"rear-a/11": "rear-a/10", "rear-a/12": "rear-a/11", "rear-c/7": "rear-c/6"}
BLEND: Final = (("club 5000", 5000, 10.29), ("club 10000", 10000, 9.71))
BUILD_NOTES: Final = {
    "rear-b/3": "new rings on both shafts, the outdrive put back",
    "rear-b/4": "new outdrive on the lid side",
    "front-b/3": "talked while pouring: 2.13 g",
    "front-b/4": "the dry diff was tared off, so only the oil was read",
    "rear-a/12": "turns lighter than before, one shim lies on the bench",
}


def builds() -> Rows:
    rows: Rows = []
    for build in RECORDED:
        read = filled_readings_g(build)
        blend = build.oil == "blend"
        rows.append(
            {
                "label": build.label,
                "diff": build.diff,
                "built_on": build.day,
                "kind": "rebuild" if build.label in NEW_RINGS else "oil change",
                "builder": build.builder,
                "like": LIKE.get(build.label),
                "tries": IDEAS[TRIED_BY[build.label]][0] if build.label in TRIED_BY else None,
                "fluid": None if blend else build.oil,
                "bottle": None if blend else BOTTLES[build.oil],
                "viscosity_cst": 7000 if blend else None,
                "viscosity_from": "blend" if blend else None,
                "target_oil_mass_g": TARGET_G,
                "dry_mass_g": read.dry_g,
                "oil_mass_g": read.oil_g,
                "filled_mass_g": read.filled_g,
                "closed_mass_g": closed_reading_g(build, 0) if build.weighed else None,
                "mass_basis": None if build.label in TARED else "open half",
                "parts_on_pan": "housing with gears, cross pin and case-side shaft; no lid, no screws",
                "scale": SCALES[build.scale],
                "squeeze_out": _squeezed_out(build),
                "degassing": "stood open under a cup while the bench was cleared, gears turned by hand",
                "screw_torque_nm": 0.18,
                "hand_feel": FEEL.get(build.label, "smooth"),
                "note": BUILD_NOTES.get(build.label),
            }
        )
    return rows


def _squeezed_out(build: PlannedBuild) -> str:
    if (build.poured_g or 0.0) > 2.0:
        return "runs out"
    return "trace" if uniform(0.0, 0.02, "squeezed out", build.label) > 0.01 else "none"


def blend_parts() -> Rows:
    return [
        {"build": "front-a/4", "fluid": fluid, "bottle": BOTTLES[fluid], "viscosity_cst": cst, "mass_g": mass}
        for fluid, cst, mass in BLEND
    ]


def seal_fittings() -> Rows:
    rows: Rows = []
    for build in RECORDED:
        new = build.label in NEW_RINGS
        for place, seal in (
            ("joint", JOINT_RING),
            ("case-side shaft", SHAFT_RING),
            ("lid-side shaft", SHAFT_RING),
        ):
            is_new = new and place != "joint"
            rows.append(
                {
                    "build": build.label,
                    "place": place,
                    "seal": seal,
                    "condition": "new" if is_new else "used",
                    "measured_outside_diameter_mm": None if is_new or place == "joint" else _ring(build, place),
                    "state": None if is_new else "ok",
                }
            )
    return rows


def _ring(build: PlannedBuild, place: str) -> float:
    """A used ring of 8.00 mm, swollen a little by the oil."""
    return round(uniform(8.03, 8.14, "ring", build.label, place), 2)


def build_parts() -> Rows:
    return [
        {"build": "rear-b/3", "part": "outdrive", "place": "lid side", "condition": "used", "note": "has a groove"},
        {"build": "rear-b/4", "part": "outdrive", "place": "lid side", "condition": "new", "mark": "dot of paint"},
        {"build": "rear-a/10", "part": "side gear", "place": "both", "condition": "new"},
        {"build": "rear-d/4", "part": "screw", "place": "lid side", "condition": "used", "note": "one went in askew"},
        {"build": "front-a/4", "part": "cross pin", "condition": "turned over"},
        {"build": "front-b/4", "part": "gasket", "place": "lid side", "condition": "new", "mark": "paper"},
    ]


def build_shims() -> Rows:
    """As the team wrote them down: nobody saw that a shim was forgotten in the light build."""
    ring = {"bore_mm": 5, "outside_diameter_mm": 7}
    rows: Rows = []
    for build in RECORDED:
        if build.diff.startswith("rear"):
            for place in ("behind case-side gear", "behind lid-side gear"):
                rows.append({"build": build.label, "place": place, "thickness_mm": 0.2, **ring})
    rows.append({"build": "front-b/4", "place": "behind lid-side gear", "thickness_mm": -0.05, "note": "ground off"})
    return rows


def weighings() -> Rows:
    rows: Rows = []
    for build in PLANNED_BUILDS:
        if build.masses == "oil":
            continue
        for runs in build.weighed:
            at_build = build.kept == "records" and runs == 0
            at_opening = build.label in LAST_WEIGHED_BEFORE_OPENING and runs == build.weighed[-1]
            if not (at_build or at_opening):
                rows.append(
                    {
                        "build": build.label,
                        "weighed_on": day_reached(build, runs),
                        "mass_g": f"{closed_reading_g(build, runs):.{1 if build.scale == 'kitchen' else 2}f}",
                        "mass_basis": "closed",
                        "scale": SCALES[build.scale],
                        "runs": runs,
                        "person": "ana" if build.scale == "kitchen" else build.builder,
                        "wiped": "yes",
                    }
                )
    return sorted(rows, key=lambda row: (str(row["weighed_on"]), str(row["build"])))


def openings() -> Rows:
    rows: Rows = []
    for found in sorted(OPENED, key=lambda one: (one.day, one.build)):
        weighed = found.build in LAST_WEIGHED_BEFORE_OPENING
        build = next(one for one in PLANNED_BUILDS if one.label == found.build)
        rows.append(
            {
                "build": found.build,
                "opened_on": found.day,
                "reason": found.reason,
                "person": found.person,
                "closed_mass_g": closed_reading_g(build, runs_of(build)) if weighed else None,
                "scale": SCALES[build.scale] if weighed else None,
                "leak_place": found.leak_place or None,
                "leak_amount": found.leak_amount,
                "oil": found.oil,
                "side_gears": found.side_gears,
                "small_gears": "ok",
                "shafts": found.shafts,
                "cross_pin": "ok",
                "bores": "ok",
                "seals": found.seals,
                "screws": found.screws,
                "note": found.note or None,
            }
        )
    return rows


@cache
def _labelled() -> tuple[tuple[str, RunRow], ...]:
    """The recorded runs with their labels, which go on after those that the note files make on the same day."""
    number: Counter[str] = Counter(note.date for note in notes_of("season_2") if note.runs)
    found = []
    for row in run_rows():
        if row.sheet == "records":
            number[row.day] += 1
            found.append((f"{row.day}/{number[row.day]}", row))
    return tuple(found)


def runs() -> Rows:
    rows: Rows = []
    for label, row in _labelled():
        laps = lap_lengths_s(row.best_five_s, label)
        best = sorted(laps)[:5]
        last_thin = row.build.label == THICKER[1] and row.day == THICKER[0] and row.runs_before >= 17
        rows.append(
            {
                "label": label,
                "run_on": row.day,
                "started_at": f"{9 + row.order // 2:02d}:{30 * (row.order % 2) + 10:02d}",
                "day_order": row.order,
                "event": row.event,
                "venue": row.venue,
                "car": f"{CAR_OF[row.driver]} 2026",
                "driver": row.driver,
                "noted_by": row.driver,
                "surface_state": "dusty" if row.venue == "Brickfield" else "dry",
                "grip": row.here.grip,
                "grip_trend": row.here.trend,
                "air_temp_c": round(row.here.air_c),
                "track_temp_c": round(row.here.track_c),
                "runs": row.runs,
                "laps": len(laps) if row.runs == 1 else None,
                "lap_times": " ".join(f"{lap:.2f}" for lap in laps),
                "best_lap_s": best[0],
                "best_five_s": round(sum(best) / 5, 2),
                "tyres": "club set, new that morning",
                "tyre_runs": row.tyre_runs,
                "changed": CHANGED.get((row.day, CAR_OF[row.driver], row.order), "nothing"),
                "balance_exit": 1 if row.missed < -0.45 else -1 if row.missed > 0.45 else 0,
                "forward_drive": "low" if row.missed < -0.45 else "ok",
                "call": "change" if last_thin else row.call,
                "note": "no drive any more, going thicker" if last_thin else row.note,
            }
        )
    return rows


def run_diffs() -> Rows:
    rows: Rows = []
    for label, row in _labelled():
        rows.append(
            {
                "run": label,
                "build": row.build.label,
                "position": "rear",
                "diff_temp_c": round(row.diff_temp_c, 1) if row.measured else None,
                "temp_taken": "straight after the run" if row.measured else None,
            }
        )
        if row.front:
            rows.append({"run": label, "build": row.front.label, "position": "front"})
    return rows
