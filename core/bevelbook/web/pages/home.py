"""The first page: the shelf, what to do before the next time out, then venues, the latest runs and builds."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.declare.counting import counted
from bevelbook.display.days import built_in_words, to_come_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.display.hand_feel import turned_in_words
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.planning.kept_plans import latest_plan_of
from bevelbook.reports import questions
from bevelbook.reports.before_next_time_out import MostUrgent, most_urgent
from bevelbook.reports.clashes_there import count_clashes
from bevelbook.reports.oil_lost_builds import Lost, lost_builds
from bevelbook.reports.put_by import builds_with_lost_oil_put_by
from bevelbook.reports.race_events import EventAhead, event_just_over, events_ahead
from bevelbook.reports.shelf import lost_said, shelf_without_advice, short_words, with_advice
from bevelbook.reports.stock import stock_in_words
from bevelbook.reports.to_finish import count_to_finish
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import OF_DATABASE, NavigationEntry, Page
from bevelbook.web.host.private_datasette import answer_as_index
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.event_lines import event_line
from bevelbook.web.shared.job_lines import job_line
from bevelbook.web.shared.keeping_here import copy_due_here
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil_words
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.sentences import build_sentence, by_run, run_sentence
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.waits_here import waits_here
from bevelbook.web.shared.writing_here import FormOffered, WayToWrite, is_paired, ways_to_write, writing_here

BUILDS: Final = 4
RUNS: Final = 6
LOST: Final = 6
ON_FIRST_SCREEN: Final = 8
"""Diffs that, with what to do, fit the first screen of a phone."""
DIFFS: Final = 24
"""Diffs shown of a longer shelf: those that need something first. Of the others the page says how many there are."""
URGENT_FIRST: Final = ("open it", "look at it", "weigh it", "ready", "apart")
LOOKED_AT: Final = 100
"""The newest builds that lost oil, among which those that have ended are looked for."""
TO_WRITE: Final[tuple[FormOffered, ...]] = (
    ("Note a run", "run", {}),
    ("Weigh a diff", "weigh", {}),
    ("Bench", "bench", {}),
)
"""What is written most, each by its words and its page below ``enter/``."""
MORE_TO_WRITE: Final[tuple[FormOffered, ...]] = (
    ("An opening", "opening", {}),
    ("An idea", "idea", {}),
    ("A swap", "swap", {}),
    ("A fluid comparison", "comparison", {}),
    ("A run sheet", "sheet", {}),
    ("A file of notes", "import", {}),
    ("Anything else", "record", {}),
)
COUNT_STOCK: Final[FormOffered] = ("Count the stock", "stock", {})
"""The form for a team that has anything to count."""
AT_ROOT: Final = r"^/(\.(?P<format>jsono?))?$"
AT_DATABASE: Final = rf"{OF_DATABASE}$"


class ShelfRow(NamedTuple):
    """One diff as the shelf shows it; ``write`` leads to what may be written of it."""

    label: Markup | str
    word: Markup
    why: str
    oil: str
    oil_from: str
    lost: str
    runs: str
    where: str
    feel: str
    build: Markup | str
    built: str
    write: list[WayToWrite]


class NextEvent(NamedTuple):
    """The next event to come, and of the plan that was kept for it how many diffs wait to be done (None where none was
    kept) and how many are done."""

    event: EventAhead
    to_do: int | None
    done: int


class HomePage(NamedTuple):
    """All that the page asks of the database."""

    shelf: list[Row]
    further: dict[str, int]
    """How many diffs of a long shelf are not in it, by their word."""
    builds: list[Row]
    runs: list[Row]
    venues: list[Row]
    to_come: list[EventAhead]
    to_do: MostUrgent
    past: list[Lost]
    """Builds that lost oil and are open or replaced by now, but for those that were put by; the newest."""
    clashes: int
    """Records that were changed in two places."""
    stock: str
    """What is short or has to be counted again, or that nothing is; empty where the team has nothing to count."""
    next_event: NextEvent | None
    just_over: EventAhead | None


def home_page_of(connection: sqlite3.Connection, today: date | None = None) -> HomePage:
    """The shelf, what to do, the latest builds and runs, venues, builds that lost oil, and the next event as of today,
    the clock's if not given."""
    shelf = shelf_without_advice(connection)
    shown, further = most_urgent_diffs(shelf)
    to_come = events_ahead(connection, (today or date.today()).isoformat())
    return HomePage(
        with_advice(connection, shown),
        further,
        questions.latest_builds(connection, BUILDS),
        questions.latest_runs(connection, RUNS),
        questions.venues(connection),
        to_come,
        most_urgent(connection, shelf),
        _past(connection),
        count_clashes(connection),
        stock_in_words(connection),
        _with_plan(connection, to_come[0]) if to_come else None,
        event_just_over(connection, (today or date.today()).isoformat()),
    )


def _with_plan(connection: sqlite3.Connection, event: EventAhead) -> NextEvent:
    """An event with what is done of the plan that was kept for it; no plan is made for that."""
    plan = latest_plan_of(connection, event.event)
    return NextEvent(event, len(plan.to_do) if plan else None, len(plan.done) if plan else 0)


def next_event_words(one: NextEvent, today: date) -> str:
    """The line that leads to its plan: ``spring race in 5 days: 3 to do, 1 done``.

    >>> event = EventAhead("1", "spring race", None, None, "2026-05-09", None)
    >>> next_event_words(NextEvent(event, 3, 1), date(2026, 5, 4))
    'spring race in 5 days: 3 to do, 1 done'
    >>> next_event_words(NextEvent(event, 0, 2), date(2026, 5, 8))
    'spring race tomorrow: all done'
    >>> next_event_words(NextEvent(event, None, 0), date(2026, 5, 9))
    'spring race today: its plan'
    """
    if one.to_do is None:
        state = "its plan"
    elif one.to_do == 0:
        state = "all done" if one.done else "nothing to do"
    else:
        state = f"{one.to_do} to do" + (f", {one.done} done" if one.done else "")
    return f"{one.event.name} {to_come_in_words(one.event.first_on, one.event.last_on, today)}: {state}"


def most_urgent_diffs(shelf: Sequence[Row]) -> tuple[Sequence[Row], dict[str, int]]:
    """The rows of the shelf that a page shows, of more than ``DIFFS`` the most urgent first; and how many it leaves
    out, by their word."""
    if len(shelf) <= DIFFS:
        return shelf, {}
    in_order = sorted(shelf, key=lambda row: URGENT_FIRST.index(row["word"]))
    return in_order[:DIFFS], dict(Counter(row["word"] for row in in_order[DIFFS:]))


def _past(connection: sqlite3.Connection) -> list[Lost]:
    ended = [one for one in lost_builds(connection, LOOKED_AT) if one.opened_on or not one.is_last]
    resting = builds_with_lost_oil_put_by(connection)
    return [one for one in ended if one.build not in resting][: LOST + 1]


async def home(request: Any, datasette: Any) -> Any:
    """The first page of a database."""
    return await _rendered(await page_request(datasette, request))


async def index(request: Any, datasette: Any) -> Any:
    """``/``: the first page of a bevelbook database where it is the only one, else Datasette's list of databases."""
    names = [name for name, one in datasette.databases.items() if not one.is_memory]
    only = names[0] if len(names) == 1 else None
    if request.url_vars.get("format") or only is None or only not in _ours(datasette):
        return await answer_as_index(datasette, request)
    return await _rendered(await page_request(datasette, request, only))


def _ours(datasette: Any) -> tuple[str, ...]:
    return state_of(datasette).names(datasette)


async def _rendered(page: PageRequest) -> Any:
    """The first page of the database asked for."""
    copy = state_of(page.datasette).copy
    today = (copy.day if copy else None) or date.today()
    found = await page.ask(home_page_of, today)
    writing = await writing_here(page)
    waiting = await page.ask(count_to_finish, date.today()) if writing and not writing.pair else 0
    links = page.links
    first, apart = apart_folded(found.shelf)
    return await page.render(
        PAGE,
        page.team.name,
        shelf=[_on_shelf(page, row) for row in first],
        apart=[_on_shelf(page, row) for row in apart],
        apart_words=f"{counted(len(apart), 'diff')} apart",
        clashes=counted(found.clashes, "clash") if found.clashes else "",
        next_event=links.to(f"plan/{found.next_event.event.event}", next_event_words(found.next_event, today))
        if found.next_event
        else "",
        just_over=links.to(f"enter/after-event/{found.just_over.event}", f"{found.just_over.name} is over: finish it")
        if found.just_over and writing and not writing.pair
        else "",
        copy_due=await copy_due_here(page),
        further=further_words(links, found.further),
        jobs=[job_line(links, job, may_write=is_paired(page), in_short=True) for job in found.to_do.jobs],
        more=found.to_do.more,
        stock=found.stock,
        past_words=f"About the past: {_past_words(found.past)}" if found.past else "",
        past=list(_lost(links, found.past)),
        to_come=[] if links.is_in_copy else [event_line(links, one) for one in found.to_come],
        venues=[(links.record("venues", row["id"], row["name"]), _venue_words(row)) for row in found.venues],
        builds=[build_sentence(links, row) for row in found.builds],
        runs=[run_sentence(links, rows) for rows in by_run(found.runs)],
        writing=writing,
        waits=await waits_here(page) if writing and not writing.pair else [],
        to_write=ways_to_write(page, *TO_WRITE),
        afternoon=links.page("afternoon"),
        more_to_write=ways_to_write(
            page,
            *MORE_TO_WRITE,
            *((COUNT_STOCK,) if found.stock else ()),
            (f"To finish: {waiting or 'nothing'}", "to-finish", {}),
        ),
    )


def apart_folded(shelf: Sequence[Row]) -> tuple[Sequence[Row], list[Row]]:
    """The diffs of the shelf, and those apart by themselves where all together are more than a phone's first screen."""
    if len(shelf) <= ON_FIRST_SCREEN:
        return shelf, []
    return [row for row in shelf if row["word"] != "apart"], [row for row in shelf if row["word"] == "apart"]


def further_words(links: Linker, counts: Mapping[str, int]) -> Markup | str:
    """What a long shelf leaves out: ``The most urgent come first; not shown: 176 weigh it, 192 ready.``"""
    if not counts:
        return ""
    each = Markup(", ").join(links.rows("shelf", f"{count:,} {word}", word=word) for word, count in counts.items())
    return Markup("The most urgent of {} come first. Not shown: {}.").format(
        counted(DIFFS + sum(counts.values()), "diff"), each
    )


def _on_shelf(page: PageRequest, row: Row) -> ShelfRow:
    links = page.links
    return ShelfRow(
        links.record("diffs", row["diff"], with_mark(row["label"], row["mark"])),
        with_sign(row["word"]),
        "; ".join(short_words(row)),
        oil_words(row["fluid"], row["viscosity_cst"]) if row["build"] else "",
        short(row["viscosity_from"], 60) if row["viscosity_cst"] is not None else "",
        lost_said(row) if row["build"] else "",
        count_of(row["runs"]) if row["build"] else "",
        row["position"] or "",
        turned_in_words(row["hand_feel"]),
        links.record("builds", row["build"], row["build_label"]),
        built_in_words(row["built_on"]) if row["build"] and row["word"] != "apart" else "",
        ways_to_write(
            page, ("weigh it", "weigh", {"build": row["label"]}), ("to the bench", "bench", {"diff": row["label"]})
        ),
    )


def _past_words(past: list[Lost]) -> str:
    return f"over {LOST} builds lost oil" if len(past) > LOST else f"{counted(len(past), 'build')} lost oil"


def _lost(links: Linker, past: list[Lost]) -> Iterator[Markup]:
    """Builds that lost oil and are open or replaced by now; the shelf says it of the others."""
    for one in past[:LOST]:
        build = links.record("builds", one.build, one.label)
        opened = f"; {one.opened_words}" if one.opened_on else ""
        yield Markup("{}: {}{}").format(build, one.words, opened)
    if len(past) > LOST:
        yield links.to("look", "More builds that lost oil")


def _venue_words(row: Row) -> str:
    indoor = {"yes": "indoor", "no": "outdoor"}.get(row["indoor"] or "", "")
    last = f"last on {row['last_on']}" if row["last_on"] else ""
    return ", ".join(part for part in (row["surface"], indoor, last) if part)


PAGE: Final = Page(
    "home",
    home,
    navigation=NavigationEntry("Shelf", 10),
    elsewhere=((AT_ROOT, index), (AT_DATABASE, home)),
    in_copy=True,
)
