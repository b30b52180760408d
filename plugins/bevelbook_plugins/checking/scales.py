"""Scales that masses in use rest on: never checked, or checked long ago; and scales that their readings contradict."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any, Final

from bevelbook import Finding, InputError, Reader, in_command
from bevelbook.formulas.scale_check import (
    CheckReading,
    ScaleCheckGiven,
    ScaleFigures,
    doubt_about,
    figures_to_keep,
    scale_check,
)
from bevelbook.physics.weighing import USUAL_STEP_G

LONGEST_DAYS: Final = 365
"""A check holds for this long (our own figure)."""
_IN_USE: Final = """
WITH used AS (
    SELECT b.scale, b.built_on AS day FROM diff_facts f JOIN builds b ON b.id = f.current_build
    WHERE coalesce(b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, b.closed_mass_g) IS NOT NULL
    UNION ALL
    SELECT coalesce(w.scale, b.scale), w.weighed_on FROM diff_facts f JOIN builds b ON b.id = f.current_build
    JOIN weighings w ON w.build = b.id WHERE w.mass_g IS NOT NULL
)
SELECT s.id, s.name, s.step_g, s.repeatability_g, s.checked_on, count(*) AS masses,
       julianday(max(u.day)) - julianday(s.checked_on) AS days
FROM used u JOIN scales s ON s.id = u.scale GROUP BY s.id ORDER BY s.name, s.id
"""
_FINE_STEP_G: Final = 0.005
"""Under this step a scale usually scatters by several steps (common practice, no source)."""
_READINGS: Final = """
SELECT s.id, s.name, s.step_g, s.repeatability_g, s.day_to_day_g, r.mass_g, r.read_on, r.thing, r.place
FROM scale_readings r JOIN scales s ON s.id = r.scale WHERE r.mass_g IS NOT NULL
ORDER BY s.name, s.id, r.read_on, r.thing, r.place, r.id
"""


def check(reader: Reader) -> Iterator[Finding]:
    yield from _in_use(reader)
    for _, same in groupby(reader.rows(_READINGS), key=lambda row: row["id"]):
        yield from _against_its_readings(list(same))


def _in_use(reader: Reader) -> Iterator[Finding]:
    for scale in reader.rows(_IN_USE):
        if scale["repeatability_g"] is None:
            step = scale["step_g"] or USUAL_STEP_G
            fine = "; a scale as fine as that usually scatters by several steps, so a loss may be called too early"
            yield _about(
                scale,
                "scale_never_checked",
                f"never checked, and masses of diffs in use were taken on it: one step, {step:g} g, is assumed as its "
                f"repeatability{fine if step < _FINE_STEP_G else ''}",
            )
        elif scale["days"] is not None and scale["days"] > LONGEST_DAYS:
            yield _about(
                scale,
                "scale_checked_long_ago",
                f"last checked on {scale['checked_on']}, {scale['days']:.0f} days before its last mass (a check holds "
                f"for {LONGEST_DAYS} days, our own figure)",
            )


def _against_its_readings(rows: list[dict[str, Any]]) -> Iterator[Finding]:
    """A reading that is asked about, or a record that says another figure than the readings."""
    scale, name = rows[0], rows[0]["name"]
    readings = tuple(CheckReading(mass_g=row["mass_g"], day=row["read_on"], thing=row["thing"]) for row in rows)
    given = ScaleCheckGiven(readings=readings, scale_step_g=scale["step_g"] or USUAL_STEP_G)
    try:
        found = scale_check(given)
    except InputError:
        return
    doubt, figures = doubt_about(given, found), figures_to_keep(given, found, set_day_to_day_g=scale["day_to_day_g"])
    if doubt is not None:
        odd = rows[doubt.places[0]]
        reading = in_command(f"{name} {odd['thing']} on {odd['read_on']} reading {odd['place']}")
        others = f" ({len(doubt.places) - 1} more of that day too)" if len(doubt.places) > 1 else ""
        yield _about(
            scale,
            "scale_reading_odd",
            doubt.words,
            f"To leave it out: 'bevelbook record scale-reading {reading} --remove WHY'{others}. To correct it: "
            f"'bevelbook record scale-reading {reading} mass=...'. If it is right: "
            f"'bevelbook scale-check {in_command(name)} --set --yes'.",
        )
        return
    now = None
    if scale["repeatability_g"] is not None:
        now = ScaleFigures(scale["repeatability_g"], scale["day_to_day_g"])
    if figures is not None and figures != now:
        record = "has no repeatability" if now is None else f"says {now.words}"
        yield _about(
            scale,
            "scale_differs_from_readings",
            f"its readings now say {figures.words}, its record {record}",
            f"If the readings are right: 'bevelbook scale-check {in_command(name)} --set'.",
        )


def _about(scale: dict[str, Any], code: str, words: str, remedy: str | None = None) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=remedy
        or f"Put one thing on it ten times: 'bevelbook scale-check {in_command(scale['name'])} MASS MASS ...'.",
        subject_table="scales",
        subject_id=scale["id"],
        subject_label=scale["name"],
    )
