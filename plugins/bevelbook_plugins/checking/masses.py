"""Masses that do not agree: dry and oil against filled, a dry mass against the last one, and labels used twice."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import pi, sqrt
from typing import Any, Final

from bevelbook import Finding, Reader, about_build, oldest_first
from bevelbook.physics.weighing import SEEN_AT_95, reading_uncertainty_g
from bevelbook_plugins.checking import USUAL_STEP_G, listed

HALF_DIGITS: Final = 3
"""Three readings, each good to half a step, may be off by this many half steps together."""
MUCH_OF_THE_OIL: Final = 0.05
STEEL_G_CM3: Final = 7.85
"""Density of carbon steel; common practice, no source."""
THIN_SHIM_MM: Final = (5.0, 7.0, 0.2)

_BUILDS: Final = f"""
SELECT b.id AS build, b.label, b.diff, b.built_on, b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, b.mass_basis,
       b.gasket, b.grease, b.parts_on_pan, b.scale, s.step_g, s.repeatability_g, s.error_bound_g
FROM builds b LEFT JOIN scales s ON s.id = b.scale
ORDER BY b.diff, {oldest_first("b")}
"""


def check(reader: Reader) -> Iterator[Finding]:
    builds = reader.rows(_BUILDS)
    for build in builds:
        yield from _balance(build)
    yield from _dry_masses(reader, builds)
    yield from _equal_labels(reader)


def shim_mass_g(bore_mm: float, outside_mm: float, thickness_mm: float, density_g_cm3: float = STEEL_G_CM3) -> float:
    """Mass of a flat ring: pi/4 (D^2 - d^2) t rho.

    >>> round(shim_mass_g(5.0, 7.0, 0.2), 3)
    0.03
    """
    return pi / 4.0 * (outside_mm**2 - bore_mm**2) * thickness_mm * density_g_cm3 / 1000.0


def _balance(build: dict[str, Any]) -> Iterator[Finding]:
    dry, oil, filled = build["dry_mass_g"], build["oil_mass_g"], build["filled_mass_g"]
    if None in (dry, oil, filled):
        return
    step = build["step_g"] or USUAL_STEP_G
    gap = filled - dry - oil
    if abs(gap) <= HALF_DIGITS * step / 2.0 + 1e-9:
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


def _dry_masses(reader: Reader, builds: list[dict[str, Any]]) -> Iterator[Finding]:
    changes = _Changes(reader)
    last: dict[tuple[Any, Any], int] = {}
    for place, build in enumerate(builds):
        if build["dry_mass_g"] is None:
            continue
        before_place = last.get((build["diff"], build["mass_basis"]))
        last[build["diff"], build["mass_basis"]] = place
        if before_place is None:
            continue
        before = builds[before_place]
        change = build["dry_mass_g"] - before["dry_mass_g"]
        if abs(change) <= 1e-9 or changes.noted(builds[before_place : place + 1]):
            continue
        seen = _smallest_change_seen_g(before, build)
        if abs(change) <= seen + 1e-9:
            continue
        bore, outside, thickness = THIN_SHIM_MM
        shim = f"a {bore:g} x {outside:g} x {thickness:g} mm steel shim is {shim_mass_g(*THIN_SHIM_MM):.3f} g"
        yield about_build(
            build,
            "dry_mass_changed",
            "worth a look",
            f"{build['dry_mass_g']:.2f} g dry, {before['label']} had {before['dry_mass_g']:.2f} g: "
            f"{abs(change):.2f} g {'heavier' if change > 0 else 'lighter'} with nothing noted as changed "
            f"(these readings can show {seen:.3f} g); {shim}",
            "Count shims, gaskets and pins against the build before; if it is right, note what was changed."
            if change < 0
            else "Look for old oil left in, or a shim too many; if it is right, note what was changed.",
        )


def _smallest_change_seen_g(before: dict[str, Any], build: dict[str, Any]) -> float:
    """1.96 sqrt(u1^2 + u2^2), at least three half steps; two scales add their own errors (a^2 / 3 each)."""
    steps = [one["step_g"] or USUAL_STEP_G for one in (before, build)]
    variance = sum(
        reading_uncertainty_g(step, one["repeatability_g"] or 0.0) ** 2
        for step, one in zip(steps, (before, build), strict=True)
    )
    if before["scale"] != build["scale"]:
        variance += sum((one["error_bound_g"] or 0.0) ** 2 / 3.0 for one in (before, build))
    return max(SEEN_AT_95 * sqrt(variance), HALF_DIGITS * max(steps) / 2.0)


class _Changes:
    """What was noted as changed from build to build: shims, parts, kinds of seal, gasket, grease, parts on the
    scale."""

    def __init__(self, reader: Reader) -> None:
        self.shims: dict[str, list[tuple[Any, ...]]] = {}
        for row in reader.rows(
            "SELECT build, place, thickness_mm, coalesce(pieces, 1) AS pieces FROM build_shims ORDER BY 2, 3, 4"
        ):
            self.shims.setdefault(row["build"], []).append((row["place"], row["thickness_mm"], row["pieces"]))
        self.new_parts = {
            row["build"] for row in reader.rows("SELECT DISTINCT build FROM build_parts WHERE condition = 'new'")
        }
        self.seals: dict[str, dict[str, str]] = {}
        for row in reader.rows("SELECT build, place, seal FROM seal_fittings WHERE seal IS NOT NULL"):
            self.seals.setdefault(row["build"], {})[row["place"]] = row["seal"]

    def noted(self, builds: list[dict[str, Any]]) -> bool:
        """Whether anything that has a mass was noted as changed from the first to the last of one diff's builds."""
        return any(self._noted_in(earlier, later) for earlier, later in pairwise(builds))

    def _noted_in(self, earlier: dict[str, Any], later: dict[str, Any]) -> bool:
        old, new = earlier["build"], later["build"]
        if new in self.new_parts or (new in self.shims and self.shims[new] != self.shims.get(old, [])):
            return True
        seals, before = self.seals.get(new, {}), self.seals.get(old, {})
        if any(seals[place] != before[place] for place in seals.keys() & before.keys()):
            return True
        return any(
            earlier[name] is not None and later[name] is not None and earlier[name] != later[name]
            for name in ("gasket", "grease", "parts_on_pan")
        )


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
            f"Rename one: bevelbook record build {same[-1]['build']} label=...",
        )
