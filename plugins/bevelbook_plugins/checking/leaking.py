"""Oil that was lost, the runs that were driven meanwhile, and what was decided on them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.physics.oil_lost import CAUTION_SHARE, STOP_SHARE

from bevelbook import Finding, InputError, Judgement, Reader
from bevelbook_plugins.checking import MILDER, NEAR_SHARE, USUAL_STEP_G, about_build, runs_in_words
from bevelbook_plugins.checking.limits import Limits
from bevelbook_plugins.leaks import LeakFound, LeakGiven, Weighing, judge_leak, leak

ANOTHER_OIL: Final = 0.05
"""Viscosities that differ by less are one oil from two bottles (this project's proposal)."""

_MASSES: Final = """
SELECT m.build, m.mass_basis, m.runs, m.mass_g, s.step_g, s.repeatability_g
FROM masses m LEFT JOIN scales s ON s.id = m.scale
ORDER BY m.build, m.mass_basis, m.runs, m.step, m.day
"""
_BUILDS: Final = """
SELECT b.id AS build, b.label, b.diff, c.nth, c.runs,
       coalesce(b.oil_mass_g, b.filled_mass_g - b.dry_mass_g) AS oil_mass_g,
       coalesce(bo.viscosity_cst, b.viscosity_cst, f.viscosity_cst) AS viscosity_cst,
       s.step_g, s.repeatability_g, o.id AS opening, o.opened_on, o.leak_place, o.leak_amount,
       EXISTS (SELECT 1 FROM current_builds u WHERE u.id = b.id) AND o.id IS NULL AS in_use
FROM builds b
JOIN build_counts c ON c.build = b.id
LEFT JOIN bottles bo ON bo.id = b.bottle
LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN scales s ON s.id = b.scale
LEFT JOIN openings o ON o.id = (SELECT p.id FROM openings p WHERE p.build = b.id ORDER BY p.opened_on, p.id LIMIT 1)
ORDER BY b.diff, c.nth
"""
_RUNS: Final = """
SELECT br.build, r.label, r.call, br.runs, br.runs_after
FROM build_runs br JOIN runs r ON r.id = br.run
WHERE br.build IN (SELECT value FROM json_each(?)) ORDER BY br.build, br.runs_after, r.label
"""


class Leak(NamedTuple):
    """What the weighings of a build tell."""

    build: dict[str, Any]
    given: LeakGiven
    found: LeakFound
    judgement: Judgement

    @property
    def lost(self) -> bool:
        """Over a limit for certain, with the oil put in known."""
        return self.judgement.verdict in ("caution", "stop") and self.build["oil_mass_g"] is not None


def check(reader: Reader) -> Iterator[Finding]:
    limits = Limits(reader)
    weighings = weighings_by_build(reader)
    builds = reader.rows(_BUILDS)
    leaks = []
    for build in builds:
        given = _given(build, weighings.get(build["build"], []), limits)
        if given is None:
            continue
        try:
            found = leak(given)
        except InputError as fault:
            if fault.code == "mass_basis":
                yield about_build(build, "weighings_disagree", "worth a look", fault.what, fault.remedy or "")
            continue
        leaks.append(Leak(build, given, found, judge_leak(given, found)))
    for one in leaks:
        yield from _lost(one)
        yield from _near_limit(one, limits)
    yield from _doubtful(reader, [one for one in leaks if one.lost and one.found.changed_before_runs is not None])
    after = {(build["diff"], build["nth"]): build for build in builds}
    for one in leaks:
        following = after.get((one.build["diff"], one.build["nth"] + 1))
        if one.lost and following:
            yield from _decided_on_it(one, following)


def weighings_by_build(reader: Reader) -> dict[str, list[dict[str, Any]]]:
    """The masses of each build in the order of its runs, on the one basis that was weighed last, at least two."""
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in reader.rows(_MASSES):
        groups.setdefault((row["build"], row["mass_basis"]), []).append(row)
    found: dict[str, list[dict[str, Any]]] = {}
    for (build, _), rows in groups.items():
        held = found.get(build)
        if len(rows) > 1 and (held is None or (rows[-1]["runs"], len(rows)) > (held[-1]["runs"], len(held))):
            found[build] = rows
    return found


def _given(build: dict[str, Any], rows: list[dict[str, Any]], limits: Limits) -> LeakGiven | None:
    if len({row["runs"] for row in rows}) < 2:
        return None
    stop = limits.value("oil lost as a share", build["diff"]) or STOP_SHARE
    oil = build["oil_mass_g"]
    return LeakGiven(
        weighings=tuple(
            Weighing(
                runs=row["runs"],
                mass_g=row["mass_g"],
                scale_step_g=row["step_g"],
                repeatability_g=row["repeatability_g"],
            )
            for row in rows
        ),
        scale_step_g=build["step_g"] or next((row["step_g"] for row in rows if row["step_g"]), USUAL_STEP_G),
        repeatability_g=build["repeatability_g"] or 0.0,
        oil_mass_g=oil if oil and oil > 0 else None,
        caution_share=min(CAUTION_SHARE, stop),
        stop_share=stop,
    )


def _lost(one: Leak) -> Iterator[Finding]:
    build, found, judgement = one.build, one.found, one.judgement
    if found.loss_g < -found.smallest_loss_seen_g:
        yield about_build(
            build,
            "mass_gained",
            "worth a look",
            judgement.reasons[0],
            "Weigh again, wiped, with the same parts on the pan; mark oil that was added as a top-up build.",
        )
    if judgement.verdict not in ("caution", "stop"):
        return
    words = "; ".join(reason for reason in judgement.reasons if "doubtful" not in reason)
    if found.changed_before_runs is not None:
        words += f"; good at run {found.changed_after_runs:g}, bad at run {found.changed_before_runs:g}"
    if build["oil_mass_g"] is None:
        yield about_build(
            build, "oil_lost_share_unknown", "worth a look", words, "Note how much oil went in: oil_mass=... ."
        )
        return
    if build["opening"]:
        where = [word for word in (build["leak_place"], build["leak_amount"]) if word]
        words += f"; opened {build['opened_on']}" + (f": {', '.join(where)}" if where else "")
    yield about_build(
        build,
        "oil_lost",
        judgement.verdict if build["in_use"] else MILDER[judgement.verdict],
        words,
        ("Do not run it. " if judgement.verdict == "stop" else "Weigh it after the next run. ")
        + "Look where it is wet (joint, shafts, screws), on the floor and on the car; wipe up at once, it is slippery."
        if build["in_use"]
        else "Leave its doubtful runs out when you compare; weigh the builds after it from the first run on.",
    )


def _near_limit(one: Leak, limits: Limits) -> Iterator[Finding]:
    build, found = one.build, one.found
    if not build["in_use"] or found.loss_g <= found.smallest_loss_seen_g:
        return
    grams = limits.value("oil lost in grams", build["diff"])
    share = limits.value("oil lost as a share", build["diff"])
    if grams is not None and found.loss_g >= NEAR_SHARE * grams:
        passed = found.loss_low_g >= grams
        yield about_build(
            build,
            "limit_passed" if passed else "limit_near",
            "caution" if passed else "worth a look",
            f"lost {found.loss_g:.2f} g ({found.loss_low_g:.2f} to {found.loss_high_g:.2f} g), your limit is "
            f"{grams:g} g",
            "Open it and fill it anew." if passed else "Weigh it after the next run.",
        )
    if share is None or found.loss_share is None or one.judgement.verdict == "stop":
        return
    if found.loss_share >= NEAR_SHARE * share:
        yield about_build(
            build,
            "limit_near",
            "worth a look",
            f"lost {100 * found.loss_share:.1f} % of its oil, your limit is {100 * share:g} %",
            "Weigh it after the next run.",
        )


def _doubtful(reader: Reader, leaks: list[Leak]) -> Iterator[Finding]:
    import json

    rows = reader.rows(_RUNS, (json.dumps([one.build["build"] for one in leaks]),)) if leaks else []
    for one in leaks:
        good, bad = one.found.changed_after_runs or 0.0, one.found.changed_before_runs or 0.0
        own = [row for row in rows if row["build"] == one.build["build"]]
        between = [row for row in own if row["runs_after"] > good and row["runs_after"] - row["runs"] < bad]
        later = [row for row in own if row["runs_after"] - row["runs"] >= bad]
        told = []
        if between:
            told.append(
                f"{_named(between)} between the last good weighing (run {good:g}) and the first bad one (run {bad:g}): "
                "doubtful"
            )
        if later:
            told.append(f"{_named(later)} after that, with oil known to be missing")
        if not told:
            continue
        calls = [row["call"] for row in (*between, *later) if row["call"]]
        if calls:
            counts = ", ".join(f"{calls.count(call)} {call}" for call in dict.fromkeys(calls))
            told.append(f"what was decided after them ({counts}) rests on a diff that was losing oil")
        yield about_build(
            one.build,
            "doubtful_runs",
            "caution" if one.build["in_use"] else "worth a look",
            "; ".join(told),
            "Leave them out when you compare oils or settings; run what matters again on a full diff.",
        )


def _named(rows: list[dict[str, Any]]) -> str:
    count = runs_in_words(sum(row["runs"] for row in rows))
    first, last = rows[0]["label"], rows[-1]["label"]
    return f"{count} ({first})" if first == last else f"{count} ({first} to {last})"


def _decided_on_it(one: Leak, following: dict[str, Any]) -> Iterator[Finding]:
    old, new = one.build["viscosity_cst"], following["viscosity_cst"]
    if old is None or new is None or abs(new - old) <= ANOTHER_OIL * old or one.found.loss_share is None:
        return
    yield about_build(
        following,
        "oil_changed_on_a_leak",
        "worth a look",
        f"{'thicker' if new > old else 'thinner'} oil, {new:,.0f} cSt after {old:,.0f} cSt in {one.build['label']}, "
        f"was decided on a diff that had lost {one.found.loss_share:.0%} of its oil".replace("% of", " % of"),
        f"Run {old:,.0f} cSt once more in a full diff before you call this one better.",
    )
