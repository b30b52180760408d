"""Runs as a list of blocks: the oil and where it was, what came of it, conditions and lap, then day and build."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from markupsafe import Markup

from bevelbook.facts.lap_times import BEST_FIVE, BEST_LAP, worked_out_beside
from bevelbook.facts.places import place_words
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import ListedBlock, block, joined
from bevelbook.web.shared.figures import figure
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.remark_words import one_remark
from bevelbook.web.shared.sentences import by_run, conditions
from bevelbook.web.shared.short_text import NOTE_LENGTH


def run_blocks(links: Linker, rows: Iterable[Row], *, venue: bool = True, build: bool = True) -> list[ListedBlock]:
    """Runs, one block each, of rows as ``questions.runs_of`` and its neighbours give: one for each diff in a run.

    ``venue`` and ``build`` say whether these are named: a page of one venue or of one build need not.
    """
    return [run_block(links, of_run, venue=venue, build=build) for of_run in by_run(rows)]


def run_block(
    links: Linker,
    rows: Sequence[Row],
    *,
    venue: bool = True,
    build: bool = True,
    how_near: str = "",
    excerpt: Markup | None = None,
) -> ListedBlock:
    """A run, of its rows: oils with their places and the call, the remark; whether a diff was full only where it was
    not known to be; conditions and lap; and the day, which leads to the run. ``how_near`` goes before the conditions;
    ``excerpt`` is what is shown in place of the remark."""
    first = rows[0]
    remark = Markup("“{}”").format(excerpt) if excerpt else one_remark(first, NOTE_LENGTH)
    builds = [links.record("builds", row["build"], row["build_label"]) for row in rows if row["build"]]
    return block(
        Markup("<br>").join(oil_and_place(row) for row in rows),
        called(first),
        remark,
        *_not_full(rows),
        joined(joined(how_near, conditions(rows), by=": "), lap_words(first)),
        quiet=joined(
            links.record("runs", first["run"], first["run_on"]),
            links.record("venues", first["venue"], first["venue_name"]) if venue and first["venue"] else "",
            *(builds if build else ()),
            count_of(first["runs"]) if first["runs"] not in (None, 1) else "",
        ),
    )


def oil_and_place(row: Row) -> str:
    """``7,000 cSt, rear``; a run in which no diff was noted says so."""
    place = place_words(row["place"], row["place_from"])
    return f"{oil(row)}{f', {place}' if place else ''}" if row["build"] else "no diff noted"


def called(row: Row) -> Markup:
    """The call, or that there is none."""
    if row["call"]:
        return Markup("<strong>{}</strong>").format(row["call"])
    return Markup('<span class="quiet">no call</span>')


def lap_words(row: Row) -> str:
    """The mean of the best five laps, else the best lap, and whether the list of laps gave it; empty where there is
    neither."""
    for name, words in ((BEST_FIVE, "best five"), (BEST_LAP, "best lap")):
        if row[name] is not None:
            return f"{words} {figure(name, row[name], unit=True)}{worked_out_beside(row, name)}"
    return ""


def not_full(row: Row) -> Markup | str:
    """What is known of the oil in the diff where it was not certainly full."""
    state = row["fill_state"]
    if state in (None, "full"):
        return ""
    if state == "unknown":
        return Markup('<span class="quiet">not known to be full</span>')
    return with_sign(state)


def _not_full(rows: Sequence[Row]) -> Iterator[Markup | str]:
    for row in rows:
        state = not_full(row)
        yield Markup("{}: {}").format(row["place"] or row["build_label"], state) if state and len(rows) > 1 else state
