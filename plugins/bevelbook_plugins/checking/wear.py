"""Wear: team limits that are near, seals in use after a stop, new seals on a grooved shaft."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any, Final

from bevelbook import NEAR_SHARE, Finding, Reader, about_build, counted, oldest_first, vocabulary
from bevelbook.kept_json import texts_in
from bevelbook_plugins.checking import listed, nth

SHAFTS: Final = vocabulary.SHAFT_SEAL_PLACES
SIDE_OF_SHAFT: Final = {"case-side shaft": "case side", "lid-side shaft": "lid side"}

_IN_USE: Final = """
SELECT b.id AS build, b.label, b.diff, k.runs, s.limit_runs, s.limit_seal_uses
FROM diff_facts s JOIN builds b ON b.id = s.current_build JOIN build_facts k ON k.build = b.id
WHERE k.opened_on IS NULL ORDER BY b.label, b.id
"""
_SEALS: Final = """
SELECT p.build, p.place, p.uses, p.runs, p.since_build FROM part_runs p
WHERE p.part = 'seal' AND p.build IN (SELECT current_build FROM diff_facts) ORDER BY p.build, p.place, p.mark
"""
_VERDICTS: Final = """
SELECT f.place, f.build AS measured_in, b.label AS measured_label, b.diff, p.since_build, k.reasons, k.calculated_at
FROM latest_calculations k
JOIN seal_fittings f ON f.id = k.subject_id
JOIN builds b ON b.id = f.build
JOIN part_runs p ON p.build = f.build AND p.part = 'seal' AND p.place = f.place
WHERE k.calculator = 'seal-swell' AND k.subject_table = 'seal_fittings' AND k.verdict = 'stop'
ORDER BY k.calculated_at, k.id
"""
_BUILDS: Final = f"""
SELECT b.id AS build, b.label, b.diff, o.opened_on, o.shafts, o.leak_place
FROM builds b LEFT JOIN openings o ON o.build = b.id
WHERE b.diff IN (SELECT c.diff FROM openings p JOIN builds c ON c.id = p.build WHERE p.shafts = 'grooved')
ORDER BY b.diff, {oldest_first("b")}, o.opened_on, o.id
"""
"""Builds of the diffs that had a grooved shaft, with their openings."""


def check(reader: Reader) -> Iterator[Finding]:
    in_use = reader.rows(_IN_USE)
    verdicts = reader.rows(_VERDICTS)
    are_asked_for = verdicts or any(build["limit_seal_uses"] is not None for build in in_use)
    seals = reader.rows(_SEALS) if are_asked_for else []
    by_build: dict[str, list[dict[str, Any]]] = {}
    for row in seals:
        by_build.setdefault(row["build"], []).append(row)
    for build in in_use:
        yield from _runs(build)
        yield from _uses(build, by_build.get(build["build"], []))
    yield from _verdicts(verdicts, in_use, seals)
    yield from _grooved(reader)


def _runs(build: dict[str, Any]) -> Iterator[Finding]:
    limit = build["limit_runs"]
    if limit is None or not NEAR_SHARE * limit <= build["runs"] < limit:
        return
    yield about_build(
        build,
        "limit_near",
        "worth a look",
        f"{counted(build['runs'], 'run')} since it was filled, your limit is {limit:g}: {limit - build['runs']:g} left",
        "Plan to open it.",
    )


def _uses(build: dict[str, Any], seals: list[dict[str, Any]]) -> Iterator[Finding]:
    limit = build["limit_seal_uses"]
    if limit is None:
        return
    last = [row for row in seals if row["uses"] == limit]
    if last:
        listing = listed([f"{row['place']} ({row['uses']} uses, {counted(row['runs'], 'run')})" for row in last])
        yield about_build(
            build,
            "limit_near",
            "worth a look",
            f"seals: {listing}; your limit is {limit:g} uses",
            "This is their last use: have new ones ready for the next opening.",
        )


def _verdicts(
    verdicts: list[dict[str, Any]], in_use: list[dict[str, Any]], seals: list[dict[str, Any]]
) -> Iterator[Finding]:
    """Seals with the verdict stop that are still in a diff in use."""
    fitted = {(row["build"], row["place"]): row["since_build"] for row in seals}
    by_diff = {build["diff"]: build for build in in_use}
    for row in verdicts:
        build = by_diff.get(row["diff"])
        if build is None or fitted.get((build["build"], row["place"])) != row["since_build"]:
            continue
        measured = "" if row["measured_in"] == build["build"] else f", measured in {row['measured_label']}"
        reasons = texts_in(row["reasons"])
        yield about_build(
            build,
            "seal_past_verdict",
            "caution",
            f"the seal at the {row['place']}{measured} is in use after the verdict stop: "
            f"{reasons[0] if reasons else 'no reason kept'}",
            "Put a new one in before the next run, and measure that one too.",
        )


def _grooved(reader: Reader) -> Iterator[Finding]:
    """New seals on a shaft that was found grooved, with no new outdrive since."""
    new_seals: dict[str, set[str]] = {}
    for row in reader.rows("SELECT build, place FROM seal_fittings WHERE condition = 'new'"):
        new_seals.setdefault(row["build"], set()).add(row["place"])
    new_outdrives: dict[str, set[str]] = {}
    for row in reader.rows(
        "SELECT build, coalesce(place, 'both') AS place FROM build_parts WHERE part = 'outdrive' AND condition = 'new'"
    ):
        new_outdrives.setdefault(row["build"], set()).add(row["place"])
    for _, rows in groupby(reader.rows(_BUILDS), key=lambda row: row["diff"]):
        own = list(rows)
        for shaft in SHAFTS:
            yield from _grooved_shaft(own, shaft, new_seals, new_outdrives)


def _grooved_shaft(
    builds: list[dict[str, Any]], shaft: str, new_seals: dict[str, set[str]], new_outdrives: dict[str, set[str]]
) -> Iterator[Finding]:
    seals: list[str] = []
    found: dict[str, Any] | None = None
    since: list[dict[str, Any]] = []
    for build, rows in groupby(builds, key=lambda row: row["build"]):
        openings = list(rows)
        if new_outdrives.get(build, set()) & {SIDE_OF_SHAFT[shaft], "both"}:
            seals, found, since = [], None, []
        if shaft in new_seals.get(build, set()):
            seals.append(build)
            if found:
                since.append(openings[0])
        for one in openings:
            other_side = one["leak_place"] in SHAFTS and one["leak_place"] != shaft
            if one["shafts"] == "grooved" and not other_side and found is None:
                found = one
    if found is None or not since:
        return
    yield about_build(
        since[-1],
        "new_seal_on_groove",
        "caution",
        f"the {nth(len(seals))} new seal noted on the {shaft}, which was found grooved when {found['label']} was "
        f"opened ({found['opened_on']}); no new outdrive since: new seals alone do not cure a groove",
        "Fit a new outdrive with the seal; call it cured only when it was weighed with no loss after some runs.",
    )
