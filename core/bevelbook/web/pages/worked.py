"""Find what worked: conditions in, the nearest runs out, with their distance and number."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare import vocabulary
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.facts.oil_days import days_kept_of, oil_days, oil_days_kept_of
from bevelbook.facts.places import USUAL, place_words
from bevelbook.facts.runs import count_of, notes_and_runs, runs_of_row
from bevelbook.facts.sql import Row
from bevelbook.formulas.conditions import GRIP_INDEX, condition_distance
from bevelbook.formulas.left_out import NO_OIL, RunsLeftOut, Why, counted_by_reason, lost_oil
from bevelbook.formulas.oil_days import DECIDED, DaysKept
from bevelbook.reading import read, read_choice
from bevelbook.records import BY_NAME
from bevelbook.reports import questions
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import title_of
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.offered_calculators import offered_for_conditions, offered_links
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.short_text import short

RUN: Final = BY_NAME["run"]
GRIP: Final = RUN.field("grip")
TRACK: Final = RUN.field("track_temp_c")
POSITION: Final = BY_NAME["run_diff"].field("position")
SHOWN: Final = 40
LOOKED_AT: Final = 2_000


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


class OilRuns(NamedTuple):
    """The diffs in runs with one oil in one place of the car, and how they did by day."""

    viscosity_cst: float
    place: str
    rows: list[Row]
    by_day: DaysKept


class NearestRun(NamedTuple):
    """A run with its distance from the conditions asked for; None where none was measured."""

    row: Row
    distance: float | None


class WorkedPage(NamedTuple):
    """The names of all venues, the runs in the conditions asked for, the newest first, and those left out."""

    venues: list[str]
    runs: list[Row]
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
    venues = [row["name"] for row in questions.venues(connection)]
    if not wanted.anything:
        return WorkedPage(venues, [], ())
    return WorkedPage(
        venues,
        questions.runs_like(connection, asked_for, LOOKED_AT),
        questions.left_out_of_runs_like(connection, asked_for),
    )


async def worked(request: Any, datasette: Any) -> Any:
    """The form, and the runs nearest to the conditions in it."""
    page = await page_request(datasette, request)
    faults: dict[str, str] = {}
    wanted = await _wanted(page, faults)
    found = await page.ask(worked_page_of, wanted)
    near = nearest(wanted, found.runs)
    return await page.render(
        PAGE,
        "Find what worked",
        venues=found.venues,
        grips=GRIP.choices,
        positions=POSITION.choices,
        typed={name: page.given(name) for name in ("venue", "grip", "position", "track", "track_from", "track_to")}
        | {"venue": wanted.venue_name},
        faults=faults,
        words=wanted.in_words(),
        counted=count_words(near) if wanted.anything else "",
        oils=by_oil(near) if wanted.anything else None,
        left_out=[*summary_left_out(near), *(one.advice for one in found.left_out)],
        runs=_runs(page.links, near, wanted) if wanted.anything and near else None,
        more=len(near) - SHOWN if len(near) > SHOWN else 0,
        offered=_offered(page, wanted),
    )


def nearest(wanted: Wanted, runs: Sequence[Row]) -> list[NearestRun]:
    """Runs by distance where a temperature was asked for, else the newest first.

    Distance: a step of grip counts as much as 5 °C; without a grip only the temperature counts.
    """
    if wanted.track_c is None:
        return [NearestRun(row, None) for row in runs]
    found = []
    for row in runs:
        if row["track_temp_c"] is None or (wanted.grip and row["grip"] is None):
            continue
        grips = (GRIP_INDEX[wanted.grip], GRIP_INDEX[row["grip"]]) if wanted.grip else (0.0, 0.0)
        distance = condition_distance(grips[0], wanted.track_c, grips[1], row["track_temp_c"])
        found.append(NearestRun(row, distance))
    return sorted(found, key=lambda one: one.distance or 0.0)


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

    What was decided is counted by oil day, as the runs of one are alike. As in the table by oil, what was decided on a
    diff that had lost oil does not count.
    """
    if not near:
        return "No run is known in these conditions."
    decided = _decided_words([one.row for one in near if not _lost_oil(one.row)])
    in_notes, rows = {one.row["run"]: runs_of_row(one.row) for one in near}, len(near)
    count = notes_and_runs(len(in_notes), sum(in_notes.values()))
    if rows != len(in_notes):
        count = f"{rows} rows, one for each diff in a run ({count})"
    return f"{count}: {decided or 'nothing decided'}."


def _decided_words(full: Sequence[Row]) -> str:
    """The oil days that were kept, changed or split, and the runs that were neither."""
    decided = oil_days_kept_of(full).oil_days_in_words
    calls = {one["run"]: one["call"] for one in full}.values()
    others = [f"{counted(list(calls).count(call), 'run')} {call}" for call in OTHER_CALLS if call in calls]
    return ", ".join(part for part in (decided, *others) if part)


def summary_left_out(near: Sequence[NearestRun]) -> list[str]:
    """What the table by oil leaves out of the runs shown, or counts only by what is usual."""
    shown = [one.row for one in near[:SHOWN]]
    lost = counted_by_reason(
        (row["build_label"], lost_oil(row["loss_g"], row["oil_in_g"]), runs_of_row(row))
        for row in shown
        if _lost_oil(row)
    )
    without_call = sum(runs_of_row(row) for row in shown if row["call"] is None)
    no_oil = sum(runs_of_row(row) for row in shown if row["viscosity_cst"] is None)
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


def _lost_oil(row: Row) -> bool:
    """Whether the diff had lost oil in this run, or may have."""
    return row["fill_state"] in ("doubtful", "lost oil")


def by_oil(near: Sequence[NearestRun]) -> PageTable:
    """How each oil did among the runs shown, those of a diff that lost oil left out: its days, kept, changed or split.

    Runs, diffs and calls of one day count as one day of an oil.
    """
    by_oil: dict[tuple[float, str], list[Row]] = {}
    for one in near[:SHOWN]:
        if one.row["viscosity_cst"] is not None and not _lost_oil(one.row):
            place = one.row["place"] or "position not recorded"
            by_oil.setdefault((one.row["viscosity_cst"], place), []).append(one.row)
    groups = [OilRuns(*key, rows, days_kept_of(rows)) for key, rows in sorted(by_oil.items())]
    columns: tuple[PageColumn[OilRuns], ...] = (
        PageColumn("Oil at 25 °C [cSt]", lambda group: figure("viscosity_cst", group.viscosity_cst), numeric=True),
        PageColumn("Place", lambda group: group.place),
        PageColumn("Runs", lambda group: f"{sum(map(runs_of_row, group.rows)):g}", numeric=True),
        PageColumn("Oil days", lambda group: str(len(oil_days(group.rows))), numeric=True),
        PageColumn("Days decided", lambda group: str(group.by_day.days), numeric=True),
        PageColumn("Kept", lambda group: str(group.by_day.all_kept), numeric=True),
        PageColumn("Changed", lambda group: str(group.by_day.all_changed), numeric=True),
        PageColumn("Split", lambda group: str(group.by_day.split or ""), numeric=True),
        PageColumn(
            "Not known to be full",
            lambda group: str(sum(row["fill_state"] != "full" for row in group.rows)),
            numeric=True,
        ),
        PageColumn("", lambda group: "" if group.by_day.enough else "too few to conclude"),
    )
    return page_table("By oil", columns, groups)


def _how_it_went(row: Row) -> Markup | str:
    """The call; without one the remark, which is then all that is known."""
    if row["call"]:
        return Markup("<strong>{}</strong>").format(row["call"])
    remark = short(row["note"] or row["happened"])
    words = Markup("“{}” ").format(remark) if remark else ""
    return Markup('<span class="remark">{}<span class="quiet">no call</span></span>').format(words)


def _runs(links: Linker, near: Sequence[NearestRun], wanted: Wanted) -> PageTable:
    columns: tuple[PageColumn[NearestRun], ...] = (
        PageColumn("Distance", lambda run: "" if run.distance is None else f"{run.distance:.1f}", numeric=True),
        PageColumn("How it went", lambda run: _how_it_went(run.row)),
        PageColumn("Oil", lambda run: oil(run.row) if run.row["build"] else ""),
        PageColumn("Place", lambda run: place_words(run.row["place"], run.row["place_from"])),
        PageColumn("Full?", lambda run: with_sign(run.row["fill_state"] or "")),
        PageColumn("Runs since opened", lambda run: figure("runs", run.row["runs_before"]), numeric=True),
        PageColumn("Track [°C]", lambda run: figure("track_temp_c", run.row["track_temp_c"]), numeric=True),
        PageColumn("Diff [°C]", lambda run: figure("diff_temp_c", run.row["diff_temp_c"]), numeric=True),
        PageColumn("Grip", lambda run: run.row["grip"] if wanted.grip is None or wanted.track_c is not None else ""),
        PageColumn("Day", lambda run: links.record("runs", run.row["run"], run.row["run_on"])),
        PageColumn(
            "Venue",
            lambda run: links.record("venues", run.row["venue"], run.row["venue_name"]) if wanted.venue is None else "",
        ),
        PageColumn("Build", lambda run: links.record("builds", run.row["build"], run.row["build_label"])),
        PageColumn("Best five [s]", lambda run: figure("best_five_s", run.row["best_five_s"]), numeric=True),
        PageColumn("Note", lambda run: short(run.row["note"] or run.row["happened"]) if run.row["call"] else ""),
    )
    return page_table(
        "Runs, nearest first" if near[0].distance is not None else "Runs, newest first", columns, near[:SHOWN]
    )


def _offered(page: PageRequest, wanted: Wanted) -> list[Markup]:
    """The calculators that take these conditions, with them filled in."""
    if wanted.grip is None or wanted.track_c is None:
        return []
    offered = offered_for_conditions(page.registry, wanted.grip, wanted.track_c, wanted.position)
    return offered_links(page.links, offered)


PAGE: Final = Page("worked", worked, navigation=NavigationEntry("What worked", 20))
