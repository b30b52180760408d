"""Findings about lost oil, the runs that were driven meanwhile, and what was decided on them."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from itertools import groupby
from typing import Any, Final, NamedTuple

from bevelbook.display.begun import begun
from bevelbook.facts import diffs
from bevelbook.facts.builds import build_after, oldest_first
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.facts.openings import FIRST_OPENING
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import rows
from bevelbook.formulas.leak import (
    HEAVIER,
    advice_on_water,
    advice_where_unclear,
    assumed_from_day_to_day,
    disagreeing_reasons,
    never_checked_in_words,
    sister_reasons,
    water_reasons,
)
from bevelbook.formulas.oil_limits import limit_in_words, share_in_words
from bevelbook.formulas.oil_lost import is_more_than_went_in
from bevelbook.formulas.oil_lost_words import is_over_for_certain
from bevelbook.plugin.check import NEAR_SHARE, Finding, about_build, milder
from bevelbook.reports.disagreeing import WIPE_UP, doubtful_sisters, how_to_correct, left_out
from bevelbook.reports.not_noted_findings import not_noted
from bevelbook.reports.oil_lost_verdict import leak_reasons
from bevelbook.reports.shelf import reasons_in_words, shelf_rows
from bevelbook.reports.shelf_findings import severity_of

OIL_LOST: Final = "oil_lost"
"""The code of the finding that a build lost oil for certain."""
_REMEDIES: Final = {
    "weigh it on a finer scale": "Weigh it again, wiped, on a finer scale or after more runs.",
    "weigh it again": "Weigh it again, wiped, or after more runs.",
}
"""What helps, where more can be said of it than the shelf does."""
_AGAIN: Final = " again"
ANOTHER_OIL: Final = 0.05
"""Viscosities that differ by less are the same oil from two bottles (our own figure)."""
_ENDED: Final = "Leave its doubtful runs out when you compare; weigh the builds after it from the first run on."

_WEIGHED: Final = f"""
SELECT k.build, b.label, k.diff, k.leak, k.loss_g, k.loss_uncertainty_g, k.oil_in_g, k.stop_g, k.limit_from,
       k.caution_g, k.viscosity_cst, o.leak_place, o.leak_amount, k.opened_on, k.good_until_runs, k.bad_from_runs,
       s.limit_loss_g, s.limit_loss_share, s.current_build = k.build AND k.opened_on IS NULL AS in_use
FROM build_facts k CROSS JOIN diff_facts s ON s.diff = k.diff CROSS JOIN builds b ON b.id = k.build
LEFT JOIN openings o ON o.id = {FIRST_OPENING}
WHERE k.leak IS NOT NULL AND (
    k.leak IN ('caution', 'stop', 'unclear') OR k.loss_g < 0 OR (s.current_build = k.build AND k.opened_on IS NULL))
ORDER BY k.diff, {oldest_first("b")}
"""
_RUNS: Final = """
SELECT n.build, r.label, r.call, n.runs_after - n.runs_before AS runs, n.fill_state
FROM json_each(?) t CROSS JOIN run_diffs x ON x.build = t.value
JOIN run_diff_facts n ON n.run_diff = x.id JOIN runs r ON r.id = x.run
WHERE n.fill_state IN ('doubtful', 'lost oil') ORDER BY n.build, n.runs_after, r.label, x.id
"""


class _Weighed(NamedTuple):
    """A build that was weighed, as the facts have it, with all that its weighings say."""

    row: dict[str, Any]
    leak: Leak
    on_shelf: tuple[str, str] | None
    """The shelf reason that its weighings give, and its words; None where they give none, or the build has ended."""

    @property
    def lost(self) -> bool:
        """Over the first limit for certain, whether or not the second is decided."""
        row = self.row
        return row["stop_g"] is not None and (row["leak"] in ("caution", "stop") or self.is_unclear_but_lost)

    @property
    def is_unclear_but_lost(self) -> bool:
        """Over the first limit for certain, and whether over the second cannot be decided."""
        row, loss = self.row, self.leak.loss
        return (
            row["leak"] == "unclear"
            and not is_more_than_went_in(loss, row["oil_in_g"])
            and not self.leak.is_unclear_without_runs
            and is_over_for_certain(loss.loss_g, loss.uncertainty_g, row["caution_g"])
        )


def leak_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """Builds that lost oil or got heavier, with the runs and decisions that rest on them."""
    found = rows(connection, among(_WEIGHED))
    stories = leaks_of(connection, [row["build"] for row in found])
    on_shelf = {
        row["build"]: (reason, words)
        for row in shelf_rows(connection)
        for reason, words in reasons_in_words(row)
        if reason in diffs.OF_OIL_LOST
    }
    weighed = [
        _Weighed(row, stories[row["build"]], on_shelf.get(row["build"])) for row in found if row["build"] in stories
    ]
    for one in weighed:
        yield from _said(connection, one)
        yield from _near_limit(one)
        yield from _left_out(connection, one)
    unclear = [one for one in weighed if one.on_shelf is not None and one.on_shelf[0] == diffs.CANNOT_TELL]
    yield from not_noted(connection, [(one.row, one.leak) for one in unclear if not one.leak.is_without_runs])
    lost = [one for one in weighed if one.lost]
    yield from _doubtful(connection, [one for one in lost if one.row["bad_from_runs"] is not None])
    for one in lost:
        yield from _decided_on_it(connection, one)


def _said(connection: sqlite3.Connection, one: _Weighed) -> Iterator[Finding]:
    row = one.row
    if row["leak"] not in ("caution", "stop"):
        yield from _unclear(connection, one) if row["leak"] == "unclear" else _apart(connection, one)
        return
    correction = how_to_correct(connection, one.leak, in_use=bool(row["in_use"]))
    correction = f" {correction}" if correction else ""
    words = "; ".join(_lost_in_words(one))
    severity = severity_of(one.on_shelf[0]) if one.on_shelf else milder(row["leak"])
    if not one.lost:
        yield about_build(
            row,
            "oil_lost_share_unknown",
            severity,
            words,
            f"Write down how much oil went in: oil_mass=... .{correction}",
        )
        return
    if row["opened_on"]:
        where = [word for word in (row["leak_place"], row["leak_amount"]) if word]
        words += f"; opened {row['opened_on']}" + (f": {', '.join(where)}" if where else "")
    first = "Do not run it. " if row["leak"] == "stop" else "Weigh it after the next run. "
    yield about_build(
        row,
        OIL_LOST,
        severity,
        words,
        (first + WIPE_UP if row["in_use"] else _ENDED) + correction,
    )


def _unclear(connection: sqlite3.Connection, one: _Weighed) -> Iterator[Finding]:
    """What the weighings leave unclear, said once: in the words of the shelf where the diff is in use, and why."""
    row, story, in_use = one.row, one.leak, bool(one.row["in_use"])
    asked = sister_reasons(story.given)
    loss, said = story.loss, [reason for reason in story.judgement.reasons if reason not in asked]
    words = said[0] if one.on_shelf is None else one.on_shelf[1]
    correction = how_to_correct(connection, story, in_use=in_use)
    severity = "worth a look"
    if story.is_unclear_without_runs or story.is_unclear_by_weighings:
        code, remedy = "weighings_apart", correction
    elif story.refused is not None:
        code = "weighings_disagree"
        remedy = " ".join(part for part in (story.refused.remedy, correction) if part)
    elif loss.loss_g < -loss.seen_g:
        code = "mass_gained"
        words = "; ".join((said[0] if one.on_shelf is None else f"{words}; {HEAVIER}", *said[1:]))
        again = "Weigh again, wiped, with the same parts on the scale; write" if in_use else "Write"
        remedy = f"{again} oil that was added down as a top-up build."
    elif one.is_unclear_but_lost:
        code, severity = "weighing_unclear", "caution" if in_use else "worth a look"
        words = "; ".join(_lost_in_words(one))
        remedy = f"Weigh it again before it runs, wiped. {WIPE_UP}" if in_use else _ENDED
    elif one.on_shelf is not None:
        advice = advice_where_unclear(story.given, is_seen=loss.loss_g > loss.seen_g)
        code = "weighing_unclear"
        remedy = _REMEDIES.get(advice) or f"{begun(advice)}."
        near = (f"it is {span}, {limit}" for span, limit in _near(one))
        disagreeing = disagreeing_reasons(story.given, in_use=in_use)
        water = (reason.removesuffix(f"; {advice}") for reason in water_reasons(story.given) if reason not in asked)
        assumed = filter(None, (assumed_from_day_to_day(story.given),))
        words = "; ".join((words, *near, *disagreeing, *water, *assumed))
    else:
        return
    if _AGAIN in remedy and correction not in remedy:
        correction = how_to_correct(connection, story, in_use=False)
    if correction and correction not in remedy:
        remedy = f"{remedy} {correction}"
    yield about_build(row, code, severity, words, remedy)


def _apart(connection: sqlite3.Connection, one: _Weighed) -> Iterator[Finding]:
    """Readings after the same runs that the scale does not explain, where the oil has no other finding."""
    in_use = bool(one.row["in_use"])
    found = [each for each in one.leak.weighed.disagreeing() if not each.counting]
    if found and in_use:
        words = "; ".join(f"{each.words}{each.advice}" for each in found)
        remedy = how_to_correct(connection, one.leak, in_use=in_use)
        yield about_build(one.row, "weighings_apart", "worth a look", words, remedy)


def _left_out(connection: sqlite3.Connection, one: _Weighed) -> Iterator[Finding]:
    """A weighing that does not count, since others after the same runs agree on another mass, or a mass of the sister
    housing that cannot be right."""
    for words, remedy in left_out(connection, one.leak):
        yield about_build(one.row, "weighing_left_out", "worth a look", words, remedy)
    for words, remedy in doubtful_sisters(connection, one.leak):
        yield about_build(one.row, "sister_doubtful", "worth a look", words, remedy)


def _lost_in_words(one: _Weighed) -> list[str]:
    """What was lost: first as on the shelf where the diff is in use, else in how many runs and over which limit."""
    said = list(leak_reasons(one.leak, one.row["good_until_runs"], one.row["bad_from_runs"]))
    if one.on_shelf is None:
        return said
    masses = one.leak.weighed.masses
    runs = (masses[-1].runs or 0.0) - (masses[0].runs or 0.0)
    wide_g = one.leak.loss.uncertainty_g
    measured = f"that is {one.row['loss_g']:.2f} ± {wide_g:.3f} g (k = 2) in {count_of(runs)}"
    advice = advice_on_water(one.leak.given)
    asked = sister_reasons(one.leak.given)
    others = (
        reason.removesuffix(f"; {advice}")
        for reason in said[1:]
        if not reason.startswith("over ") and reason not in asked
    )
    assumed = never_checked_in_words(one.leak.given)
    return [one.on_shelf[1], f"{measured}, {assumed}" if assumed else measured, *others]


def _near_limit(one: _Weighed) -> Iterator[Finding]:
    """The team's own limit, where the loss comes near it; what the scale leaves unclear is reported elsewhere."""
    if one.row["leak"] != "unclear":
        for span, limit in _near(one):
            words = f"lost {one.leak.loss.loss_g:.2f} g ({span}), {limit}"
            yield about_build(one.row, "limit_near", "worth a look", words, "Weigh it after the next run.")


def _near(one: _Weighed) -> Iterator[tuple[str, str]]:
    """The loss with its interval and the team's own limit, where it comes near and is not certainly over."""
    row, loss = one.row, one.leak.loss
    if not row["in_use"] or row["limit_from"] != "yours" or row["leak"] == "stop" or loss.loss_g <= loss.seen_g:
        return
    if loss.loss_g < NEAR_SHARE * row["stop_g"]:
        return
    low, high = loss.loss_g - loss.uncertainty_g, loss.loss_g + loss.uncertainty_g
    yield f"{low:.2f} to {high:.2f} g", f"your limit is {limit_in_words(row['stop_g'], row['limit_loss_g'])}"


def _doubtful(connection: sqlite3.Connection, lost: list[_Weighed]) -> Iterator[Finding]:
    from json import dumps

    if not lost:
        return
    found = rows(connection, _RUNS, (dumps([one.row["build"] for one in lost]),))
    by_build = {build: list(same) for build, same in groupby(found, key=lambda row: row["build"])}
    for one in lost:
        own = by_build.get(one.row["build"], [])
        between = [row for row in own if row["fill_state"] == "doubtful"]
        later = [row for row in own if row["fill_state"] == "lost oil"]
        good, bad = one.row["good_until_runs"], one.row["bad_from_runs"]
        said = []
        if between:
            said.append(
                f"{_named(between)} between the last good weighing (run {good:g}) and the first bad one (run {bad:g}): "
                "doubtful"
            )
        if later:
            said.append(f"{_named(later)} after that, with oil known to be missing")
        if not said:
            continue
        calls = [row["call"] for row in (*between, *later) if row["call"]]
        if calls:
            counts = ", ".join(f"{calls.count(call)} {call}" for call in dict.fromkeys(calls))
            said.append(f"what was decided after them ({counts}) rests on a diff that was losing oil")
        yield about_build(
            one.row,
            "doubtful_runs",
            "caution" if one.row["in_use"] else "worth a look",
            "; ".join(said),
            "Leave them out when you compare oils or settings; run what matters again on a full diff.",
        )


def _named(runs: list[dict[str, Any]]) -> str:
    count = count_of(sum(row["runs"] for row in runs))
    first, last = runs[0]["label"], runs[-1]["label"]
    return f"{count} ({first})" if first == last else f"{count} ({first} to {last})"


def _decided_on_it(connection: sqlite3.Connection, one: _Weighed) -> Iterator[Finding]:
    """A change of oil in the next build, decided on a diff that was not full."""
    following = build_after(connection, one.row["build"])
    if following is None or not one.row["oil_in_g"]:
        return
    old = one.row["viscosity_cst"]
    new = connection.execute("SELECT viscosity_cst FROM build_facts WHERE build = ?", (following.id,)).fetchone()[0]
    if old is None or new is None or abs(new - old) <= ANOTHER_OIL * old:
        return
    share = share_in_words(one.row["loss_g"] / one.row["oil_in_g"])
    yield about_build(
        {"build": following.id, "label": following.label},
        "oil_changed_on_a_leak",
        "worth a look",
        f"{'thicker' if new > old else 'thinner'} oil, {new:,.0f} cSt after {old:,.0f} cSt in {one.row['label']}, "
        f"was decided on a diff that had lost {share} of its oil",
        f"Run {old:,.0f} cSt once more in a full diff before you call this one better.",
    )
