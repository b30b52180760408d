"""Scales that masses in use rest on: never checked, or checked long ago."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from bevelbook import Finding, Reader
from bevelbook.physics.weighing import USUAL_STEP_G

LONGEST_DAYS: Final = 365
"""A check holds for this long (this project's proposal)."""
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


def check(reader: Reader) -> Iterator[Finding]:
    for scale in reader.rows(_IN_USE):
        if scale["repeatability_g"] is None:
            step = scale["step_g"] or USUAL_STEP_G
            yield _about(
                scale,
                "scale_never_checked",
                f"never checked, and masses of diffs in use were taken on it: one step, {step:g} g, is assumed as its "
                "repeatability",
            )
        elif scale["days"] is not None and scale["days"] > LONGEST_DAYS:
            yield _about(
                scale,
                "scale_checked_long_ago",
                f"last checked on {scale['checked_on']}, {scale['days']:.0f} days before its last mass (a check holds "
                f"for {LONGEST_DAYS} days, this project's proposal)",
            )


def _about(scale: dict[str, Any], code: str, words: str) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=f"Put one thing on it ten times: 'bevelbook scale-check \"{scale['name']}\" MASS MASS ...'.",
        subject_table="scales",
        subject_id=scale["id"],
        subject_label=scale["name"],
    )
