"""Oils: bottles never measured, labels against measurements, masses of bottles, comparisons against each other."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby, pairwise
from math import sqrt
from typing import Any, Final

from bevelbook import Finding, Reader
from bevelbook.stats.ordering import ThicknessComparison, thickness_order
from bevelbook_plugins.checking import listed

COVERAGE_K: Final = 2.0
LABEL_SHARE: Final = 0.10
"""A label may be off by this much before it is reported (our own figure)."""
OFTEN: Final = 5
"""From this many builds an oil counts as used often (our own figure)."""
_MEASURE: Final = (
    "Measure it with 'bevelbook calc falling-ball', or against a measured one with 'bevelbook calc fluid-ratio'."
)

_BOTTLES: Final = """
SELECT bo.id, bo.fluid AS fluid_id, bo.lot, bo.viscosity_cst, bo.viscosity_uncertainty_cst AS uncertainty_cst, bo.empty,
       bo.full_mass_g, bo.empty_mass_g,
       f.label AS fluid, f.viscosity_cst AS label_cst
FROM bottles bo JOIN fluids f ON f.id = bo.fluid ORDER BY f.label, bo.lot, bo.id
"""
_USES: Final = """
SELECT coalesce(u.fluid, bo.fluid) AS fluid, f.label, u.bottle, bo.lot, count(DISTINCT u.build) AS builds
FROM (
    SELECT id AS build, fluid, bottle FROM builds
    UNION SELECT build, fluid, bottle FROM blend_parts
) u
LEFT JOIN bottles bo ON bo.id = u.bottle
JOIN fluids f ON f.id = coalesce(u.fluid, bo.fluid) AND coalesce(f.medium, 'oil') = 'oil'
GROUP BY 1, u.bottle ORDER BY f.label, 1, bo.lot, u.bottle
"""


def check(reader: Reader) -> Iterator[Finding]:
    bottles = {row["id"]: row | {"name": _name(row)} for row in reader.rows(_BOTTLES)}
    yield from _never_measured(reader, bottles)
    for bottle in bottles.values():
        yield from _label(bottle)
        yield from _masses(bottle)
    yield from _comparisons(reader, bottles)


def label_viscosity_cst(label: str) -> float | None:
    """The viscosity that a label names in thousands (``7k``), in cSt, or as a bare number; wt says nothing.

    >>> [label_viscosity_cst(one) for one in ("7k", "house 7.5 K", "10,000 cSt", "60 wt", "7000", "box 3")]
    [7000.0, 7500.0, 10000.0, None, 7000.0, None]
    """
    for pattern, factor in (
        (r"(?<![\w.,])(\d+(?:[.,]\d)?)\s?k\b", 1000.0),
        (r"(?<![\w.,])(\d{1,3}(?:[., ]\d{3})+|\d{2,7})\s?c(?:st|s)\b", 1.0),
        (r"\A\s*(\d{1,3}(?:[., ]\d{3})+|\d{3,7})\s*\Z", 1.0),
    ):
        found = re.findall(pattern, label, re.IGNORECASE)
        if len(found) == 1:
            digits = found[0].replace(",", ".") if factor > 1.0 else re.sub(r"[., ]", "", found[0])
            return float(digits) * factor
    return None


def _name(bottle: dict[str, Any]) -> str:
    return f"{bottle['fluid']} ({bottle['lot']})" if bottle["lot"] else str(bottle["fluid"])


def _about_bottle(bottle: dict[str, Any], code: str, words: str, remedy: str) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=remedy,
        subject_table="bottles",
        subject_id=bottle["id"],
        subject_label=bottle["name"],
    )


def _never_measured(reader: Reader, bottles: dict[str, dict[str, Any]]) -> Iterator[Finding]:
    """Oils of which no bottle was ever measured; if one was, its other bottles that are used often."""
    measured = {row["fluid_id"] for row in bottles.values() if row["viscosity_cst"] is not None}
    for fluid, rows in groupby(reader.rows(_USES), key=lambda row: row["fluid"]):
        uses = list(rows)
        total = sum(row["builds"] for row in uses)
        if fluid in measured:
            for row in uses:
                bottle = bottles.get(row["bottle"])
                if bottle and row["builds"] >= OFTEN and bottle["viscosity_cst"] is None and bottle["empty"] != "yes":
                    words = f"went into {row['builds']} builds and was never measured, another bottle of it was"
                    yield _about_bottle(bottle, "never_measured", words, _MEASURE)
        elif total >= OFTEN:
            listing = listed([f"{row['builds']} from {row['lot'] or 'a bottle not noted'}" for row in uses])
            yield Finding(
                code="never_measured",
                severity="worth a look",
                words=f"went into {total} builds ({listing}), and no bottle of it was ever measured",
                remedy=_MEASURE,
                subject_table="fluids",
                subject_id=fluid,
                subject_label=uses[0]["label"],
            )


def _label(bottle: dict[str, Any]) -> Iterator[Finding]:
    measured = bottle["viscosity_cst"]
    label = bottle["label_cst"] or label_viscosity_cst(bottle["fluid"])
    if measured is None or label is None:
        return
    wide = COVERAGE_K * (bottle["uncertainty_cst"] or 0.0)
    off = measured - label
    if abs(off) <= max(wide, LABEL_SHARE * label):
        return
    spread = f" ± {wide:,.0f} cSt (k = 2)" if wide else " cSt (its uncertainty is not noted)"
    yield _about_bottle(
        bottle,
        "label_disagrees",
        f"labelled {label:,.0f} cSt, measured {measured:,.0f}{spread}: {abs(off) / label * 100:.0f} % "
        f"{'thicker' if off > 0 else 'thinner'} than the label says",
        "Go by the measurement, and write it on the bottle.",
    )


def _masses(bottle: dict[str, Any]) -> Iterator[Finding]:
    """Masses that cannot be right, as another program or two laptops may have written them."""
    full, empty = bottle["full_mass_g"], bottle["empty_mass_g"]
    if full is not None and empty is not None and full <= empty:
        words = f"weighs {full:g} g full and {empty:g} g empty: one of the two is wrong"
        remedy = "Weigh it again with its cap on, and correct it with 'bevelbook record bottle'."
        yield _about_bottle(bottle, "bottle_masses", words, remedy)


def _comparisons(reader: Reader, bottles: dict[str, dict[str, Any]]) -> Iterator[Finding]:
    rows = reader.rows("SELECT id, thicker, thinner, ratio FROM fluid_comparisons ORDER BY compared_on, id")
    first = {(row["thicker"], row["thinner"]): row["id"] for row in reversed(rows)}
    order = thickness_order(ThicknessComparison(row["thicker"], row["thinner"], row["ratio"]) for row in rows)

    def about(pair: tuple[str, str], words: str, remedy: str) -> Finding:
        return Finding(
            code="comparisons_contradict",
            severity="worth a look",
            words=words,
            remedy=remedy,
            subject_table="fluid_comparisons",
            subject_id=first[pair],
            subject_label=f"{bottles[pair[0]]['name']} against {bottles[pair[1]]['name']}",
        )

    for circle in order.cycles:
        names = [bottles[one]["name"] for one in circle]
        listing = ", ".join(f"{a} thicker than {b}" for a, b in pairwise(names))
        yield about(
            (circle[0], circle[1]), f"{listing}: these cannot all be right", "Repeat these tests at one temperature."
        )
    for one in order.disagreements:
        yield about(
            (one.thicker, one.thinner),
            f"{bottles[one.thicker]['name']} over {bottles[one.thinner]['name']} was measured as {one.ratio:.2f}; "
            f"other comparisons make it {one.by_way_of_others:.2f}",
            "Repeat the one that was done least carefully, both oils at one temperature.",
        )
    for pair in first:
        thicker, thinner = bottles[pair[0]], bottles[pair[1]]
        if thicker["viscosity_cst"] is None or thinner["viscosity_cst"] is None:
            continue
        wide = COVERAGE_K * sqrt((thicker["uncertainty_cst"] or 0.0) ** 2 + (thinner["uncertainty_cst"] or 0.0) ** 2)
        if thinner["viscosity_cst"] - thicker["viscosity_cst"] > wide:
            yield about(
                pair,
                f"{thicker['name']} was found thicker than {thinner['name']}, but measured "
                f"{thicker['viscosity_cst']:,.0f} cSt against {thinner['viscosity_cst']:,.0f} cSt",
                "Were the bottles mixed up? Repeat the comparison, then the measurement.",
            )
