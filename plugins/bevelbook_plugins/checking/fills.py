"""Oil outside its window: too much for the room, off target, run out at the lid, or unlike the other fills; and a
closed mass that is unlike the one before, seen from the filled one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final

from bevelbook import (
    DENSITY_G_CM3,
    FILLED_G,
    Finding,
    InputError,
    Reader,
    about_build,
    in_command,
    milder,
    oldest_first,
    vocabulary,
)
from bevelbook.facts.fill_off_target import OFF_TARGET_COLUMNS, off_target_of_row
from bevelbook.facts.lid_mass import LID_COLUMNS, unlike_last_lid
from bevelbook.formulas.fill_target import FILL, FillGiven, fill, judge_room
from bevelbook.formulas.room_for_heat import HOT_C
from bevelbook.kept_json import object_in
from bevelbook.physics.density import EXPANSION_PER_K
from bevelbook.physics.weighing import USUAL_STEP_G, difference_uncertainty_g
from bevelbook.stats.odd_one_out import odd_one_out
from bevelbook_plugins.fill_repeatability import TOO_FEW_FILLS

_BUILDS: Final = f"""
WITH hottest AS (
    SELECT b.diff, max(max(ifnull(x.diff_temp_c, -273.15), ifnull(x.second_diff_temp_c, -273.15))) AS hot_c
    FROM builds b CROSS JOIN run_diffs x ON x.build = b.id GROUP BY b.diff
)
SELECT b.id AS build, b.label, b.kind, b.diff AS diff_id, d.label AS diff, b.squeeze_out, b.dry_mass_g,
       k.oil_in_g AS oil_mass_g,
       {FILLED_G} AS filled_mass_g, d.free_volume_cm3, d.housing_material, f.expansion_per_k, h.hot_c,
       k.viscosity_cst,
       {DENSITY_G_CM3} AS density_g_cm3,
       {OFF_TARGET_COLUMNS},
       {LID_COLUMNS},
       w.current_build = b.id AND k.opened_on IS NULL AS in_use,
       t.found AS target_found, t.origins AS target_origins
FROM builds b
JOIN diffs d ON d.id = b.diff
JOIN build_facts k ON k.build = b.id
JOIN diff_facts w ON w.diff = b.diff
LEFT JOIN bottles bo ON bo.id = b.bottle
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN scales s ON s.id = b.scale
LEFT JOIN hottest h ON h.diff = b.diff
LEFT JOIN latest_calculations t
       ON t.calculator = 'fill-target' AND t.subject_table = 'builds' AND t.subject_id = b.id
ORDER BY d.label, {oldest_first("b")}
"""
_LESS_OIL: Final = "Put less in next time; 'bevelbook calc fill-target' shows how much fits."


def check(reader: Reader) -> Iterator[Finding]:
    by_diff: dict[str, list[dict[str, Any]]] = {}
    of_diff: dict[str, list[dict[str, Any]]] = {}
    for build in reader.rows(_BUILDS):
        so_far = of_diff.setdefault(build["diff_id"], [])
        so_far.append(build)
        if build["in_use"]:
            yield from _unlike_last_lid(so_far)
        yield from _room(build)
        if build["squeeze_out"] == "runs out":
            yield about_build(
                build,
                "oil_ran_out",
                _severity("stop", build),
                "oil ran out when the lid went on: it was closed full, without room for heat, and how much stayed in "
                "is not known",
                "Open it, draw oil out, and weigh again before the lid goes on. " + _LESS_OIL
                if build["in_use"]
                else _LESS_OIL,
            )
        beside = list(_beside_kept_target(build)) or list(_beside_target(build))
        yield from beside
        if build["oil_mass_g"] is not None and build["kind"] != vocabulary.TOP_UP and not beside:
            by_diff.setdefault(build["diff"], []).append(build)
    for builds in by_diff.values():
        yield from _unlike_the_others(builds)


def _severity(severity: str, build: dict[str, Any]) -> str:
    return severity if build["in_use"] else milder(severity)


def _room(build: dict[str, Any]) -> Iterator[Finding]:
    if build["oil_mass_g"] is None or build["free_volume_cm3"] is None or build["oil_mass_g"] <= 0:
        return
    given = FillGiven(
        dry_mass_g=build["dry_mass_g"] or 0.0,
        oil_mass_g=build["oil_mass_g"],
        free_volume_cm3=build["free_volume_cm3"],
        viscosity_cst=build["viscosity_cst"],
        density_g_cm3=build["density_g_cm3"],
        scale_step_g=build["step_g"] or USUAL_STEP_G,
        repeatability_g=build["repeatability_g"],
        scale_error_g=build["error_bound_g"] or 0.0,
        hot_temperature_c=max(HOT_C, build["hot_c"] or HOT_C),
        expansion_per_k=build["expansion_per_k"] or EXPANSION_PER_K,
        housing_material=build["housing_material"] or "unknown",
    )
    try:
        room = judge_room(given, fill(given))
    except InputError:
        return
    if room.verdict in ("caution", "stop"):
        yield about_build(
            build,
            "overfilled",
            _severity(room.verdict, build),
            f"{build['oil_mass_g']:.2f} g of oil in {build['free_volume_cm3']:g} cm³: {room.reason}",
            _LESS_OIL,
        )


def _beside_target(build: dict[str, Any]) -> Iterator[Finding]:
    """Against the oil that was meant to go in, as its record has it."""
    found = off_target_of_row(build)
    if found is None:
        return
    oil = f"{found.oil_g:g}" if found.oil_g > 0 else "..."
    target = f"bevelbook record build {in_command(build['label'])} target_oil_mass={oil}"
    yield about_build(
        build,
        "beside_target",
        "worth a look",
        found.words,
        f"If it was a slip of the pen, correct the oil; if the target was another, that: '{target}'; else compare it "
        "with other builds as one with a different fill.",
    )


def _beside_kept_target(build: dict[str, Any]) -> Iterator[Finding]:
    """Against a fill target that was kept for this build with its oil given, not taken from the build itself."""
    if build["filled_mass_g"] is None or build["target_found"] is None:
        return
    if (object_in(build["target_origins"]) or {}).get("oil_mass_g") != "given":
        return
    target = FILL.found_from(build["target_found"])
    if target is None:
        return
    low, high, filled = target.stop_low_g, target.stop_high_g, build["filled_mass_g"]
    if low - 1e-9 <= filled <= high + 1e-9:
        return
    off = filled - target.stop_mass_g
    yield about_build(
        build,
        "beside_target",
        "worth a look",
        f"filled to {filled:.2f} g, its target was {target.stop_mass_g:.2f} g (anything from {low:.2f} to {high:.2f} g "
        f"is fine): {abs(off):.2f} g too {'much' if off > 0 else 'little'}",
        "Compare it with other builds as one with a different fill.",
    )


def _unlike_last_lid(builds: Sequence[dict[str, Any]]) -> Iterator[Finding]:
    """The last of one diff's builds, oldest first, whose lid and screws do not weigh what they did before."""
    found = unlike_last_lid(reversed(builds))
    if found is None:
        return
    command = f"bevelbook record build {in_command(found.build.label)} closed_mass=..."
    yield about_build(
        builds[-1],
        "lid_unlike_last",
        "worth a look",
        found.words,
        f"If it was a slip of the pen, correct the mass, such as '{command}': a loss is counted from the closed mass. "
        "If another lid or other screws went on, it stays as it is.",
    )


def _unlike_the_others(builds: list[dict[str, Any]]) -> Iterator[Finding]:
    """Fills of one diff that do not belong with its others (Grubbs' test at 1 %), taken out one by one."""
    left = list(builds)
    while len(left) >= TOO_FEW_FILLS:
        smallest = max(difference_uncertainty_g(one["step_g"] or USUAL_STEP_G, one["repeatability_g"]) for one in left)
        coarsest = max(one["step_g"] or USUAL_STEP_G for one in left)
        place = odd_one_out([one["oil_mass_g"] for one in left], smallest, step=coarsest)
        if place is None:
            return
        odd = left.pop(place)
        low, high = min(one["oil_mass_g"] for one in left), max(one["oil_mass_g"] for one in left)
        yield about_build(
            odd,
            "fill_unlike_others",
            "worth a look",
            f"{odd['oil_mass_g']:.2f} g of oil, the other {len(left)} fills of {odd['diff']} lie between {low:.2f} and "
            f"{high:.2f} g",
            "Compare it with other builds as one with a different fill; if it was a slip of the pen, correct it.",
        )
