"""Find what worked: conditions in, the oils out with how each did, then the runs, the nearest first."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare import vocabulary
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.display.days import day_in_words
from bevelbook.facts.oil_days import days_kept_of, oil_day
from bevelbook.facts.places import USUAL
from bevelbook.facts.runs import count_of, notes_and_runs, runs_of_row
from bevelbook.facts.sql import Row
from bevelbook.formulas.conditions import HowNear, how_near
from bevelbook.formulas.left_out import NO_OIL, RunsLeftOut, Why, counted_by_reason, lost_oil
from bevelbook.formulas.oil_days import DAYS_A_SIDE, DECIDED
from bevelbook.reading import read, read_choice
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.reports.oils_in_runs import OilInRuns, has_lost_oil, oils_in_runs
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import title_of
from bevelbook.web.host.arguments import any_texts
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.blocks import ListedBlock, Words, block, joined
from bevelbook.web.shared.blocks_of_runs import run_block
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.offered_calculators import offered_for_conditions, offered_links
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.remark_words import one_remark
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.sentences import by_run
from bevelbook.web.shared.short_text import short

RUN: Final = BY_NAME["run"]
_CONDITIONS: Final = ("venue", "grip", "position", "track", "track_from", "track_to")
GRIP: Final = RUN.field("grip")
TRACK: Final = RUN.field("track_temp_c")
POSITION: Final = BY_NAME["run_diff"].field("position")
SHOWN: Final = 40
LAST_VENUES: Final = 5
COUNTED: Final = 500
"""Runs that are counted where the newest are shown."""
SHOWN_AT_ONCE: Final = 10
SHORT_REMARK: Final = 90
LOOKED_AT: Final = 2_000
FAR: Final = 2.0
"""Runs farther than two steps of grip or 10 °C say little: an oil changes by some 20 % over 10 °C (our own figure)."""


OTHER_CALLS: Final = tuple(call for call in vocabulary.CALLS if call not in DECIDED)
SHOWN_WITHOUT_CALL: Final = Why("no call, shown with the remark and not counted as kept or changed")
NO_OIL_BY_OIL: Final = Why(f"{NO_OIL.words}, so not among the oils")


class Wanted(NamedTuple):
    """The conditions asked for; None means any."""

    venue: str | None
    venue_name: str
    grip: str | None
    position: str | None
    track_c: float | None
    track_from: float | None
    track_to: float | None

    @property
    def anything(self) -> bool:
        conditions = (self.venue, self.grip, self.position, self.track_c, self.track_from, self.track_to)
        return any(condition is not None for condition in conditions)

    def in_words(self) -> str:
        """The conditions as the heading says them."""
        low, high = self.track_from, self.track_to
        track = ""
        if self.track_c is not None:
            track = f"near {self.track_c:g} °C on the track"
        elif low is not None and high is not None:
            track = f"{low:g} to {high:g} °C on the track"
        elif low is not None or high is not None:
            track = f"above {low:g} °C on the track" if low is not None else f"up to {high:g} °C on the track"
        grip = f"{self.grip} grip" if self.grip else ""
        parts = (
            f"at {self.venue_name}" if self.venue else "",
            f"{'in' if self.track_c is None else 'near'} {grip}" if grip else "",
            track,
            f"in the {self.position}" if self.position else "",
        )
        return ", ".join(part for part in parts if part)


class NearestRun(NamedTuple):
    """A run with how near it is to the conditions asked for; None where no temperature was asked for."""

    row: Row
    how_near: HowNear | None

    @property
    def distance(self) -> float:
        return self.how_near.distance if self.how_near else 0.0


class WorkedPage(NamedTuple):
    """The names of all venues and, where nothing was asked for, of the last ones that were run at; the runs to show in
    the conditions asked for, the newest first, how many more there are, and those left out."""

    venues: list[str]
    last_venues: list[str]
    runs: list[Row]
    more: int
    left_out: tuple[RunsLeftOut, ...]


def worked_page_of(connection: sqlite3.Connection, wanted: Wanted) -> WorkedPage:
    """The runs to show; near a temperature of any grip, since the distance counts the grip as well."""
    near = wanted.track_c is not None
    asked_for: dict[str, object] = {
        "venue": wanted.venue,
        "grip": None if near else wanted.grip,
        "position": wanted.position,
        "track_from": wanted.track_from,
        "track_to": wanted.track_to,
        "track_known": near or None,
        "grip_known": (near and wanted.grip is not None) or None,
    }
    known = questions.venues(connection)
    venues = [row["name"] for row in known]
    if not wanted.anything:
        last_first = sorted((row for row in known if row["last_on"]), key=lambda row: row["last_on"], reverse=True)
        return WorkedPage(venues, [row["name"] for row in last_first[:LAST_VENUES]], [], 0, ())
    all_of_them = questions.conditions_of_runs_like(connection, asked_for, LOOKED_AT if near else COUNTED)
    chosen = [one.row["run"] for one in nearest(wanted, all_of_them)[:SHOWN]]
    return WorkedPage(
        venues,
        [],
        questions.runs_like(connection, asked_for, -1, chosen),
        len(all_of_them) - len(chosen),
        questions.left_out_of_runs_like(connection, asked_for),
    )


async def worked(request: Any, datasette: Any) -> Any:
    """The form, and the runs nearest to the conditions in it."""
    page = await page_request(datasette, request)
    faults: dict[str, str] = {}
    wanted = await _wanted(page, faults)
    found = await page.ask(worked_page_of, wanted)
    near = nearest(wanted, found.runs)
    runs = _run_blocks(page.links, near, wanted)
    answer = await page.render(
        PAGE,
        f"What was run {wanted.in_words()}" if wanted.anything else "Find what worked",
        venues=found.venues,
        grips=GRIP.choices,
        positions=POSITION.choices,
        typed={name: page.given(name) for name in _CONDITIONS} | {"venue": wanted.venue_name},
        straight=[page.links.to("worked", short(name, 60), venue=name) for name in found.last_venues],
        faults=faults,
        asked=wanted.anything,
        counted=_counted(near, found.more, wanted) if wanted.anything else "",
        far=far_words(near),
        oils=[oil_block(page.links, one, near) for one in by_oil(near)],
        days_a_side=DAYS_A_SIDE,
        left_out=[*summary_left_out(near), *(one.advice for one in found.left_out)],
        order="the nearest first" if wanted.track_c is not None else "the newest first",
        runs=runs[:SHOWN_AT_ONCE],
        further=runs[SHOWN_AT_ONCE:],
        more=_more(found.more, wanted),
        offered=_offered(page, wanted),
    )
    if faults:
        answer.status = 400
    return answer


def nearest(wanted: Wanted, runs: Sequence[Row]) -> list[NearestRun]:
    """The nearest runs first where a temperature was asked for, else the newest.

    A step of grip counts as much as 5 °C; without a grip only the temperature counts.
    """
    if wanted.track_c is None:
        return [NearestRun(row, None) for row in runs]
    found = []
    for row in runs:
        if row["track_temp_c"] is None or (wanted.grip and row["grip"] is None):
            continue
        found.append(NearestRun(row, how_near(wanted.grip, wanted.track_c, row["grip"], row["track_temp_c"])))
    return sorted(found, key=lambda one: one.distance)


def far_words(near: Sequence[NearestRun]) -> str:
    """That nothing near is known, where the nearest run is far from what was asked for; else empty."""
    away = near[0].how_near if near else None
    if away is None or away.distance <= FAR:
        return ""
    return f"Nothing near that is known: the nearest run was {away.words}. Below are the nearest there are."


async def _wanted(page: PageRequest, faults: dict[str, str]) -> Wanted:
    named = page.given("venue")
    venue, venue_name = None, named
    if named:
        try:
            venue = await page.ask(find_id, BY_NAME["venue"], named)
            found: str | None = await page.ask(title_of, BY_NAME["venue"], venue)
            venue_name = found or named
        except BevelbookError as fault:
            faults["venue"] = fault_words(fault)
    return Wanted(
        venue,
        venue_name,
        _choice(GRIP, "grip", page, faults),
        _choice(POSITION, "position", page, faults),
        _number("track", page, faults),
        _number("track_from", page, faults),
        _number("track_to", page, faults),
    )


def _choice(field: Field, name: str, page: PageRequest, faults: dict[str, str]) -> str | None:
    try:
        return read_choice(field, page.given(name)) if page.given(name) else None
    except BevelbookError as fault:
        faults[name] = f"Wanted {fault.wanted}."
        return None


def _number(name: str, page: PageRequest, faults: dict[str, str]) -> float | None:
    try:
        value = read(TRACK, page.given(name)) if page.given(name) else None
        return None if value is None else float(value)
    except BevelbookError as fault:
        faults[name] = fault_words(fault)
        return None


def count_words(near: Sequence[NearestRun]) -> str:
    """How many diffs in runs were found, the rows of the table, and what was decided after them.

    What was decided is counted by day, as the runs of one are alike. As in the table by oil, what was decided on a diff
    that had lost oil does not count.
    """
    if not near:
        return "No run is known in these conditions."
    decided = _decided_words([one.row for one in near if not has_lost_oil(one.row)])
    in_notes = {one.row["run"]: runs_of_row(one.row) for one in near}
    count = notes_and_runs(len(in_notes), sum(in_notes.values()))
    return f"{count}: {decided or 'nothing decided'}."


def _decided_words(full: Sequence[Row]) -> str:
    """The days that were kept, changed or both, and the runs that were neither."""
    by_day = days_kept_of(full)
    decided = by_day.words if by_day.days else ""
    calls = {one["run"]: one["call"] for one in full}.values()
    others = [f"{counted(list(calls).count(call), 'run')} {call}" for call in OTHER_CALLS if call in calls]
    return ", ".join(part for part in (decided, *others) if part)


def summary_left_out(near: Sequence[NearestRun]) -> list[str]:
    """What is left out by oil of the runs shown, or counts only by what is usual."""
    shown = [one.row for one in near]
    lost = counted_by_reason(
        (row["build_label"], lost_oil(row["loss_g"], row["oil_in_g"]), runs_of_row(row))
        for row in shown
        if has_lost_oil(row)
    )
    without_call = sum(runs_of_row(row) for row in shown if row["call"] is None)
    no_oil = sum(runs_of_row(row) for row in shown if oil_day(row).oil is None)
    usual = sum(runs_of_row(row) for row in shown if row["place_from"] == USUAL)
    said = [one.words for one in lost]
    said += [
        RunsLeftOut(count, "", why).words
        for count, why in ((without_call, SHOWN_WITHOUT_CALL), (no_oil, NO_OIL_BY_OIL))
        if count
    ]
    if usual:
        said.append(f"{count_of(usual)} counted at the usual place of the diff, as the run does not say where it was")
    return said


def by_oil(near: Sequence[NearestRun]) -> list[OilInRuns]:
    """The oils among the runs shown, without diffs that had lost oil: the one that was run nearest first, else by
    place and thickness."""
    distance = {one.row["run_diff"]: one.distance for one in near}
    oils = oils_in_runs(one.row for one in near)
    return sorted(oils, key=lambda oil: min(distance[row["run_diff"]] for row in oil.rows))


def oil_block(links: Linker, one: OilInRuns, near: Sequence[NearestRun]) -> ListedBlock:
    """An oil in a place: on how many days it was kept, and its nearest run with the remark; apart from that the runs of
    a diff that was not known to be full."""
    full, unsure = one.of_full_diffs(), one.not_known_full()
    few = "" if full.by_day.enough else " (too few days)"
    known = f"{count_of(full.runs)} on a full diff{few}" if full.rows else ""
    not_known = f"{count_of(unsure.runs)} not known to be full: {unsure.by_day.words}" if unsure.rows else ""
    return block(
        joined(oil(one.rows[0]), one.place),
        full.by_day.words if full.rows else Markup('<span class="quiet">not known to be full</span>'),
        _nearest_words(links, one, near),
        quiet=joined(known, not_known, by="; "),
    )


def _nearest_words(links: Linker, one: OilInRuns, near: Sequence[NearestRun]) -> Words:
    """The nearest run of an oil, or its newest: how near, its day, call and remark; of equally near ones one with a
    remark."""
    own = {row["run_diff"] for row in one.rows}
    found = min(
        (run for run in near if run.row["run_diff"] in own),
        key=lambda run: (run.distance, run.how_near is not None and not _remark(run.row)),
    )
    remark = _remark(found.row)
    return joined(
        found.how_near.words if found.how_near else "last",
        links.record("runs", found.row["run"], day_in_words(found.row["run_on"])),
        found.row["call"],
        remark,
    )


def _remark(row: Row) -> Markup:
    return one_remark(row, SHORT_REMARK)


def _run_blocks(links: Linker, near: Sequence[NearestRun], wanted: Wanted) -> list[ListedBlock]:
    """One block for each of the runs shown."""
    shown = {one.row["run"]: one.how_near for one in near}
    rows = by_run(one.row for one in near)
    venue = wanted.venue is None
    return [
        run_block(links, of_run, venue=venue, how_near=away.words if (away := shown[of_run[0]["run"]]) else "")
        for of_run in rows
    ]


def _more(count: int, wanted: Wanted) -> str:
    if count <= 0:
        return ""
    order, most = ("farther away", LOOKED_AT) if wanted.track_c is not None else ("older", COUNTED)
    few = "" if count + SHOWN < most else "at least "
    return f"{few}{counted(count, 'more run')}, {order}, left out.".capitalize()


def _counted(near: Sequence[NearestRun], more: int, wanted: Wanted) -> str:
    words = count_words(near)
    return f"The {'nearest' if wanted.track_c is not None else 'newest'} {words}" if more else words


def _offered(page: PageRequest, wanted: Wanted) -> list[Markup]:
    """The calculators that take these conditions, with them filled in."""
    if wanted.grip is None or wanted.track_c is None:
        return []
    offered = offered_for_conditions(page.registry, wanted.grip, wanted.track_c, wanted.position)
    return offered_links(page.links, offered)


PAGE: Final = Page(
    "worked", worked, navigation=NavigationEntry("What worked", 20), in_copy=True, takes=any_texts(_CONDITIONS)
)
