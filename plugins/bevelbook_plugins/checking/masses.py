"""Masses that do not agree, dry and oil against filled, and labels used twice."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from bevelbook import Finding, Reader, about_build, oldest_first
from bevelbook.formulas.mass_agreement import is_explained, mass_gap_g
from bevelbook.physics.weighing import USUAL_STEP_G
from bevelbook_plugins.checking import listed

MUCH_OF_THE_OIL: Final = 0.05

_BUILDS: Final = f"""
SELECT b.id AS build, b.label, b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, s.step_g, s.repeatability_g
FROM builds b LEFT JOIN scales s ON s.id = b.scale
ORDER BY b.diff, {oldest_first("b")}
"""


def check(reader: Reader) -> Iterator[Finding]:
    for build in reader.rows(_BUILDS):
        yield from _balance(build)
    yield from _equal_labels(reader)


def _balance(build: dict[str, Any]) -> Iterator[Finding]:
    dry, oil, filled = build["dry_mass_g"], build["oil_mass_g"], build["filled_mass_g"]
    if None in (dry, oil, filled):
        return
    step = build["step_g"] or USUAL_STEP_G
    gap = mass_gap_g(dry, oil, filled)
    if is_explained(gap, step, build["repeatability_g"]):
        return
    yield about_build(
        build,
        "mass_balance",
        "caution" if abs(gap) > MUCH_OF_THE_OIL * oil else "worth a look",
        f"{dry:.2f} g dry and {oil:.2f} g of oil make {dry + oil:.2f} g, but {filled:.2f} g was weighed: "
        f"{abs(gap):.2f} g too {'much' if gap > 0 else 'little'} for {_scale(build)}",
        "One of the three masses is wrong: correct it with 'bevelbook record build', or clear the least certain.",
    )


def _scale(build: dict[str, Any]) -> str:
    scale = "a scale" if build["step_g"] else "no scale is noted; one"
    return f"{scale} with steps of {build['step_g'] or USUAL_STEP_G:g} g"


def _equal_labels(reader: Reader) -> Iterator[Finding]:
    rows = reader.rows(
        "SELECT id AS build, label, built_on FROM builds WHERE lower(label) IN (SELECT lower(label) FROM builds "
        "GROUP BY lower(label) HAVING count(*) > 1) ORDER BY lower(label), built_on, id"
    )
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault(row["label"].lower(), []).append(row)
    for same in groups.values():
        yield about_build(
            same[-1],
            "equal_labels",
            "worth a look",
            f"{len(same)} builds are named {same[-1]['label']} ({listed([one['built_on'] for one in same])}): "
            "the name is ambiguous",
            f"Rename one: 'bevelbook record build {same[-1]['build']} label=...'.",
        )
