"""What can be proved of a database: part by part what was looked at, how many rows, and what was found.

Nothing is written. A part that could not be looked at, whatever the reason, is said as such: it never counts as one in
which nothing was found.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from pathlib import Path
from time import monotonic
from typing import Any, Final, NamedTuple

from bevelbook.calculating.kept_again import kept_worked_out_again
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.display.begun import begun
from bevelbook.display.format import wrapped
from bevelbook.facts.renew import stale
from bevelbook.notes.read_once_more import files_read_once_more
from bevelbook.notes.rows_to_turn import diffs_with_rows, rows_looked_at, rows_to_turn
from bevelbook.pictures.reader import INSTALL, pictures_can_be_read
from bevelbook.plugin.check import Reader
from bevelbook.plugin.guard import one_line
from bevelbook.plugin.registry import Registry
from bevelbook.records import FACTS
from bevelbook.reports.check import stale_facts
from bevelbook.store.about_table import accepted_changes, facts_version, has_met
from bevelbook.store.as_written import out_of_step
from bevelbook.store.calculations import misshapen
from bevelbook.store.closed_file import log_of
from bevelbook.store.damaged_pages import damaged_pages
from bevelbook.store.edition_mark import edition_of
from bevelbook.store.entries_agree import (
    left_in_passing,
    names_of_nothing,
    not_as_entries_say,
    odd_about,
    rows_left_out_gone,
    written_of_nothing,
)
from bevelbook.store.files_as_kept import count_kept, files_otherwise
from bevelbook.store.history import changed_by_others, unreadable
from bevelbook.store.kept_for_meetings import not_as_meetings_keep
from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.migrate import steps_not_listed
from bevelbook.store.own_views import read_through_own_views
from bevelbook.store.schema import ALL_KINDS, APPLICATION_ID
from bevelbook.store.schema_differences import count_declared, of_other_programs, schema_differences
from bevelbook.store.searching import wrong_searches
from bevelbook.store.soundness import (
    changed_in_words,
    misshapen_in_words,
    not_json_in_words,
    pointing_at_nothing,
    results_of_nothing,
    unkept_files,
    unkept_pictures,
    unmatched_search,
    written_nowhere_in_words,
)
from bevelbook.store.values_refused import count_rows, values_refused
from bevelbook.store.version_chains import broken_chains, count_versions
from bevelbook.store.written_otherwise import (
    names_not_kept_in_words,
    written_otherwise,
    written_otherwise_in_words,
)

LONGEST_S: Final = 900.0
"""The longest that a part may take; our own figure, for a file that would keep it busy for ever."""
MOST_SAID: Final = 20
"""Findings of a part that are said one by one; more are counted."""
_STEPS: Final = 10_000
"""How many steps of SQLite go by between two looks at the clock."""
_MOST_SENTENCES: Final = 100
_LEFT_HALF_WRITTEN: Final = (
    "SELECT 1 FROM main.writing WHERE entry IS NOT NULL OR bulk IS NOT NULL OR placing IS NOT NULL LIMIT 1"
)
_WAL: Final = 2
_GOES_WRONG: Final = (
    sqlite3.Error,
    BevelbookError,
    ArithmeticError,
    AttributeError,
    LookupError,
    MemoryError,
    OSError,
    RecursionError,
    TypeError,
    ValueError,
)
"""What a damaged row may raise in code that takes it for sound."""


class Examined(NamedTuple):
    """What a part looked at: how many of what, what is wrong, what else is to be said, and what of it could not be
    checked."""

    looked_at: int
    of: str
    wrong: Iterable[str] = ()
    noted: Iterable[str] = ()
    unchecked: Iterable[str] = ()


class Proved(NamedTuple):
    """One part of a proof: what it is about, how many of what were looked at, and what came of it. ``unchecked`` is
    what could not be checked, with the reason."""

    what: str
    looked_at: int
    of: str
    found: tuple[str, ...] = ()
    found_in_all: int = 0
    noted: tuple[str, ...] = ()
    unchecked: tuple[str, ...] = ()

    @property
    def is_in_order(self) -> bool:
        """Whether all of it was looked at and nothing was found."""
        return not self.found_in_all and not self.unchecked

    @property
    def line(self) -> str:
        """The part in one line."""
        if self.unchecked and not self.looked_at:
            return f"{self.what}: could not be checked"
        wrong = f"{self.found_in_all:,} wrong" if self.found_in_all else "nothing wrong"
        if self.unchecked:
            wrong += f", {counted(len(self.unchecked), 'thing')} not checked"
        of = self.of if self.looked_at == 1 else f"{self.of}s"
        return f"{self.what}: {self.looked_at:,} {of}, {wrong}"

    def as_dict(self) -> dict[str, Any]:
        """The part for programs."""
        return {
            "what": self.what,
            "looked_at": self.looked_at,
            "of": self.of,
            "wrong": self.found_in_all,
            "found": list(self.found),
            "noted": list(self.noted),
            "could_not_be_checked": list(self.unchecked),
        }


class Proof(NamedTuple):
    """All parts, in the order in which they were looked at."""

    parts: tuple[Proved, ...]

    @property
    def is_in_order(self) -> bool:
        """Whether all was looked at and nothing is wrong."""
        return all(one.is_in_order for one in self.parts)

    def as_dict(self) -> dict[str, Any]:
        """The proof for programs."""
        return {
            "in_order": self.is_in_order,
            "wrong": sum(one.found_in_all for one in self.parts),
            "not_checked": sum(len(one.unchecked) for one in self.parts),
            "proved": [one.as_dict() for one in self.parts],
        }

    def lines(self) -> Iterator[str]:
        """What is wrong and what could not be checked, then what was looked at, for people."""
        for part in self.parts:
            if part.is_in_order:
                continue
            yield begun(part.what)
            for one in part.unchecked:
                yield from wrapped(f"could not be checked: {one}", indent="  ")
            for one in part.found:
                yield from wrapped(f"{one.removesuffix('.')}.", indent="  ")
            if part.found_in_all > len(part.found):
                yield f"  and {part.found_in_all - len(part.found):,} more"
            yield ""
        yield "Looked at"
        for part in self.parts:
            yield from wrapped(part.line, indent="  ")
            for one in part.noted:
                yield from wrapped(one, indent="    ")
        yield ""

    def summary(self) -> str:
        """What came of it, in one line."""
        wrong = sum(one.found_in_all for one in self.parts)
        unchecked = sum(len(one.unchecked) for one in self.parts)
        if self.is_in_order:
            return f"All {len(self.parts)} parts were looked at: nothing wrong."
        said = [f"{counted(wrong, 'thing')} wrong"] if wrong else []
        said += [f"{counted(unchecked, 'thing')} could not be checked, so there may be more"] if unchecked else []
        return f"{'; '.join(said)}. Go on with care: keep the file as it is, and see 'bevelbook help backup'."


class _FileAsked(NamedTuple):
    connection: sqlite3.Connection
    path: Path
    registry: Registry


def prove(
    connection: sqlite3.Connection,
    path: Path,
    registry: Registry,
    *,
    tell: Callable[[str], None] = lambda _what: None,
    longest_s: float = LONGEST_S,
    only: str | None = None,
) -> Proof:
    """Look at all that can be proved of a database of this version, or at one part of it; ``tell`` is called with each
    part before it is looked at, ``longest_s`` is how long one may take. The connection may be read-only."""
    asked = _FileAsked(connection, path, registry)
    of_edition = _is_edition(connection)
    parts = []
    for what, examine in _PARTS.items():
        if only in (None, what) and not (of_edition and what in _NOT_OF_EDITIONS):
            tell(what)
            parts.append(_proved(asked, what, examine, longest_s))
    return Proof(tuple(parts))


def _is_edition(connection: sqlite3.Connection) -> bool:
    """Whether it says that it is an edition; one that cannot be asked is none."""
    try:
        return edition_of(connection) is not None
    except _GOES_WRONG:
        return False


def _proved(asked: _FileAsked, what: str, examine: Callable[[_FileAsked], Examined], longest_s: float) -> Proved:
    """One part; whatever goes wrong in it is what could not be checked."""
    connection = asked.connection
    found: list[str] = []
    noted: list[str] = []
    unchecked: list[str] = []
    count, looked_at, of = 0, 0, ""
    until = monotonic() + longest_s
    connection.set_progress_handler(lambda: monotonic() > until, _STEPS)
    try:
        if not connection.in_transaction:
            connection.execute("BEGIN")
        looked_at, of, wrong, more, not_checked = examine(asked)
        rest = iter(wrong)
        found += islice(rest, MOST_SAID)
        count = len(found)
        noted += more
        unchecked += not_checked
        for _ in rest:
            count += 1
    except _GOES_WRONG as fault:
        count = max(count, len(found))
        said = one_line(fault)
        if "interrupted" in said:
            said = f"it was given up after {longest_s:,.0f} s"
        unchecked.append(said)
    finally:
        connection.set_progress_handler(None, 0)
    return Proved(what, looked_at, of, tuple(found), count, tuple(noted), tuple(unchecked))


def _file(asked: _FileAsked) -> Examined:
    connection, path = asked.connection, asked.path

    def pragma(name: str) -> Any:
        return connection.execute(f"PRAGMA main.{name}").fetchone()[0]

    wrong, noted = [], []
    if pragma("application_id") != APPLICATION_ID:
        wrong.append("the file does not say that it is a database of this tool")
    if pragma("user_version") != LAST_STEP:
        wrong.append(f"the file says that it is at step {pragma('user_version')}, and this version has {LAST_STEP}")
    if pragma("encoding") != "UTF-8":
        wrong.append(f"its texts are in {pragma('encoding')}, not in UTF-8")
    size, pages = path.stat().st_size, int(pragma("page_count")) * int(pragma("page_size"))
    log = log_of(path)
    beside = log.stat().st_size if log.exists() else 0
    if not beside and size != pages:
        wrong.append(f"the file has {size:,} bytes, and its pages {pages:,}")
    with path.open("rb") as file:
        head = file.read(100)
    if head[18:20] != bytes((_WAL, _WAL)) and not _is_edition(connection):  # which nobody opens for writing
        noted.append("changes go into the file by a rollback journal; opening it for writing sets that right")
    if beside:
        noted.append(f"beside it lie {beside:,} bytes of changes (-wal), which were read too")
    journal = path.with_name(f"{path.name}-journal")
    if journal.exists() and journal.stat().st_size:
        wrong.append("beside it lies a journal of a change that was not finished (-journal): open it for writing once")
    return Examined(size + beside, "byte", wrong, noted)


def _pages(asked: _FileAsked) -> Examined:
    pages = int(asked.connection.execute("PRAGMA main.page_count").fetchone()[0])
    return Examined(pages, "page", damaged_pages(asked.connection, _MOST_SENTENCES))


def _schema(asked: _FileAsked) -> Examined:
    others = of_other_programs(asked.connection)
    noted = [f"another program keeps a {one.sort} in it: {one.name}" for one in others]
    wrong = [*schema_differences(asked.connection)]
    if not _is_edition(asked.connection):  # which nobody brings to a later step
        wrong += steps_not_listed(asked.connection)
    return Examined(count_declared(asked.connection), "part", wrong, noted)


def _values(asked: _FileAsked) -> Examined:
    wrong: list[str] = []
    unchecked: list[str] = []
    count = 0
    for kind in ALL_KINDS:
        try:
            count += count_rows(asked.connection, kind)
            wrong += values_refused(asked.connection, kind)
        except sqlite3.Error as fault:
            if "interrupted" in str(fault):
                raise
            unchecked.append(f"the table {kind.table}: {fault}")
    return Examined(count, "row", wrong, (), unchecked)


def _references(asked: _FileAsked) -> Examined:
    connection = asked.connection
    wrong = [*pointing_at_nothing(connection), *written_nowhere_in_words(connection)]
    if not _is_edition(connection):  # which has no past: what was removed is nowhere in it
        wrong += results_of_nothing(connection)
    return Examined(_rows_in(connection, [kind.table for kind in ALL_KINDS]), "row", wrong)


def _versions(asked: _FileAsked) -> Examined:
    connection = asked.connection
    wrong = [
        *not_json_in_words(unreadable(connection, accepted_changes(connection))),
        *changed_in_words(changed_by_others(connection)),
    ]
    if connection.execute(_LEFT_HALF_WRITTEN).fetchone() is not None:
        wrong.append(
            "the file says that an entry is being written, and none is: what another program changes goes unseen. The "
            "next entry sets that right"
        )
    if not _is_edition(connection):
        wrong += [*odd_about(connection), *left_in_passing(connection), *not_as_meetings_keep(connection)]
    return Examined(
        count_versions(connection), "version", (*wrong, *broken_chains(connection), *not_as_entries_say(connection))
    )


def _facts(asked: _FileAsked) -> Examined:
    wrong = stale_facts(stale(asked.connection), facts_version(asked.connection))
    return Examined(_rows_in(asked.connection, [kind.table for kind in FACTS]), "row", wrong)


def _joins(asked: _FileAsked) -> Examined:
    connection = asked.connection
    count = out_of_step(connection)
    wrong = (
        f"{counted(count, 'record')} {'do' if count > 1 else 'does'} not show what stands for what was written: run "
        "'bevelbook check --rebuild'"
    )
    return Examined(
        _rows_in(connection, ["as_written", "one_with", "joins", "also_called"]),
        "row",
        [
            *([wrong] if count else []),
            *names_of_nothing(connection),
            *written_of_nothing(connection),
            *written_otherwise_in_words(connection, written_otherwise(connection)),
            *names_not_kept_in_words(connection),
        ],
    )


def _rows_of_notes(asked: _FileAsked) -> Examined:
    connection = asked.connection
    diffs = diffs_with_rows(connection)
    met = has_met(connection)
    looked_at = rows_looked_at(connection, diffs, turn=not met)
    wrong = [
        *looked_at.out_of_place,
        *(
            f"a row of notes would make a build, or none, if it were placed now: {one.words()}"
            for one in looked_at.to_turn
        ),
    ]
    waiting = sum(len(one.rows) for one in rows_to_turn(connection, diffs)) if met else 0
    noted = []
    if waiting:
        noted.append(f"{counted(waiting, 'row')} of notes that came together wait for 'bevelbook check --place'")
    return Examined(len(diffs), "diff", wrong, noted)


def _notes_read(asked: _FileAsked) -> Examined:
    connection = asked.connection
    again = files_read_once_more(connection)
    wrong = [*again.wrong, *written_otherwise_in_words(connection, again.written)]
    return Examined(again.rows, "row", wrong, again.noted)


def _search(asked: _FileAsked) -> Examined:
    kinds = [kind for kind in ALL_KINDS if kind.searched]
    wrong = [unmatched_search(kind) for kind in wrong_searches(asked.connection, kinds)]
    return Examined(_rows_in(asked.connection, [kind.table for kind in kinds]), "row", wrong)


def _files(asked: _FileAsked) -> Examined:
    connection = asked.connection
    wrong = [*files_otherwise(connection), *unkept_pictures(connection), *unkept_files(connection)]
    if not _is_edition(connection):
        wrong += rows_left_out_gone(connection)
    pictures = _rows_in(connection, ["picture_bytes"])
    unread = (
        [f"the size of {counted(pictures, 'picture')}: install what reads them with {INSTALL}"]
        if pictures and not pictures_can_be_read()
        else []
    )
    return Examined(count_kept(connection), "file", wrong, unchecked=unread)


def _kept_results(asked: _FileAsked) -> Examined:
    connection = asked.connection
    again = kept_worked_out_again(connection, asked.registry)
    noted = [f"not worked out again: {count:,} {reason}" for reason, count in again.left_out.items()]
    noted += [f"worked out in part: {count:,} {reason}" for reason, count in again.in_part.items()]
    wrong = [*again.otherwise, *misshapen_in_words(misshapen(connection))]
    return Examined(again.equal + len(again.otherwise), "result", wrong, noted, _some(again.failed))


def _plugins(asked: _FileAsked) -> Examined:
    registry = asked.registry
    read_through_own_views(asked.connection)
    registry.findings(Reader(asked.connection))
    return Examined(len(registry.plugins()), "plugin", (), (), _some([str(one) for one in registry.failures]))


def _some(said: Sequence[str]) -> list[str]:
    more = [f"{len(said) - MOST_SAID:,} more"] if len(said) > MOST_SAID else []
    return [*said[:MOST_SAID], *more]


def _rows_in(connection: sqlite3.Connection, tables: Sequence[str]) -> int:
    return sum(int(connection.execute(f"SELECT count(*) FROM main.{one}").fetchone()[0]) for one in tables)


_PARTS: Final[Mapping[str, Callable[[_FileAsked], Examined]]] = {
    "the file": _file,
    "its pages and indexes, by SQLite": _pages,
    "tables, indexes, triggers and views as declared": _schema,
    "values as declared": _values,
    "references": _references,
    "versions, entries and clashes": _versions,
    "what follows from the records": _facts,
    "names and joins as they show": _joins,
    "rows of notes on their builds": _rows_of_notes,
    "kept files of notes, read once more": _notes_read,
    "the search": _search,
    "kept files and pictures": _files,
    "kept results, worked out again": _kept_results,
    "plugins and their checks": _plugins,
}
_NOT_OF_EDITIONS: Final = frozenset(
    {"what follows from the records", "names and joins as they show", "rows of notes on their builds"}
)
"""What is never put right in an edition: it is as it was where that was made."""
