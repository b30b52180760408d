"""What a change of records did to the facts: what the weighings of its builds say, and which shelf words changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterator, Mapping
from json import dumps
from typing import Any, Final, NamedTuple

from bevelbook.facts.diffs import BETWEEN_REASONS
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.facts.sql import Row, rows
from bevelbook.formulas.leak import assumed_from_day_to_day, never_checked_in_words, water_reasons
from bevelbook.formulas.oil_lost_words import UNCLEAR
from bevelbook.records import Kind
from bevelbook.reports.build_not_in_use import out_of_time_line
from bevelbook.reports.dry_mass_findings import dry_mass_line, holding_line
from bevelbook.reports.records_under_older_build import late_records, later_build_line
from bevelbook.reports.runs_at_weighing import counted_after_line
from bevelbook.reports.shelf import reasons_in_words, shelf_row, words_for_word
from bevelbook.reports.uncompared_findings import uncompared_line

SHOWN: Final = 20
"""The most builds with lost oil that an import names."""


class LeakNews(NamedTuple):
    """What the weighings of one build say."""

    build: str
    leak: Leak

    def line(self) -> str:
        """The verdict with its first reason, the limit that cannot be decided, the weighings that disagree, what
        water in the housing did, and what is assumed of the scale."""
        verdict = self.leak.loss.verdict
        sign = verdict.upper() if verdict == "stop" else verdict
        disagreeing = tuple(one.words for one in self.leak.weighed.disagreeing())
        if (contradicted := self.leak.loss.contradiction) is not None:
            disagreeing = (*disagreeing, contradicted.words)
        first, *others = self.leak.judgement.reasons
        beside = (*water_reasons(self.leak.given), assumed_from_day_to_day(self.leak.given))
        said = [
            first,
            *(one for one in others if UNCLEAR in one or one in beside or one.startswith(disagreeing)),
        ]
        assumed = never_checked_in_words(self.leak.given)
        said += [assumed] if assumed else []
        return f"{self.build}: {sign}: {'; '.join(said)}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "build": self.build,
            "verdict": self.leak.loss.verdict,
            "loss_g": round(self.leak.loss.loss_g, 6),
            "reasons": list(self.leak.judgement.reasons),
        }


class ShelfChange(NamedTuple):
    """A diff with a new shelf word and why; or with one more reason for the same word."""

    diff: str
    before: str
    after: str
    why: tuple[str, ...]

    def line(self) -> str:
        """The change in words."""
        why = f": {'; '.join(self.why)}" if self.why else ""
        if self.after == self.before:
            return f"Shelf: {self.diff} is still {self.after!r}{why}"
        return f"Shelf: {self.diff} was {self.before!r}, is now {self.after!r}{why}"


class News(NamedTuple):
    """What a record that was written changed."""

    leaks: tuple[LeakNews, ...]
    turned: tuple[ShelfChange, ...]
    hints: tuple[str, ...] = ()
    """What a person may expect from the record but it does not do, and what to write so that it does."""

    def lines(self) -> Iterator[str]:
        """The same for people."""
        yield from self.hints
        yield from (one.line() for one in self.leaks)
        yield from (one.line() for one in self.turned)

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "weighings_say": [one.as_dict() for one in self.leaks],
            "shelf": [one._asdict() for one in self.turned],
            "hints": list(self.hints),
        }


class OnShelf(NamedTuple):
    """The shelf word of a diff and the reasons for it, as the facts have them."""

    word: str
    reasons: str | None


def touched_on_shelf(connection: sqlite3.Connection) -> dict[str, OnShelf]:
    """The shelf word and reasons that each touched diff had before, by its id: what :func:`news_of` compares with.

    Asked after writing and before the facts are worked out again.
    """
    found = connection.execute(
        "SELECT f.diff, f.word, f.reasons FROM temp.touched t CROSS JOIN diff_facts f ON f.diff = t.diff"
    )
    return {row[0]: OnShelf(row[1], row[2]) for row in found}


def all_on_shelf(connection: sqlite3.Connection) -> dict[str, OnShelf]:
    """The shelf word and reasons of every diff, by its id."""
    return {row[0]: OnShelf(row[1], row[2]) for row in connection.execute("SELECT diff, word, reasons FROM diff_facts")}


def shelf_changes(connection: sqlite3.Connection, before: Mapping[str, OnShelf]) -> Iterator[ShelfChange]:
    """What changed on the shelf for these diffs, by name; it is read only where the word or the reasons changed."""
    now = connection.execute(
        "SELECT f.diff, f.word, f.reasons FROM json_each(?) t CROSS JOIN diff_facts f ON f.diff = t.value",
        (dumps(list(before)),),
    )
    others = [row[0] for row in now if before[row[0]] != (row[1], row[2])]
    found = [row for diff in others if (row := shelf_row(connection, diff)) is not None]
    for row in sorted(found, key=lambda row: (row["label"], row["diff"])):
        turned = _turned(row, before[row["diff"]])
        if turned is not None:
            yield turned


def _turned(row: dict[str, Any], before: OnShelf) -> ShelfChange | None:
    """What changed on the shelf for one diff; None where neither its word nor a reason is new."""
    if row["word"] != before.word:
        return ShelfChange(row["label"], before.word, row["word"], words_for_word(row))
    known = (before.reasons or "").split(BETWEEN_REASONS)
    new = tuple(words for reason, words in reasons_in_words(row) if reason not in known)
    return ShelfChange(row["label"], before.word, row["word"], new) if new else None


_SPEAK_OF_A_MASS: Final = ("build", "weighing", "opening")


def news_of(
    connection: sqlite3.Connection,
    kind: Kind,
    row_id: str,
    before: Mapping[str, OnShelf],
    wrote: Collection[str] | None = None,
) -> News:
    """What writing one record changed; ``before`` has the shelf words of the diffs that it touched.

    ``wrote`` are the fields that were written, None for all: what only speaks of others is not said again.
    """
    builds: dict[str, str] = {}
    if kind.name in _SPEAK_OF_A_MASS:
        column = "id" if kind.name == "build" else "build"
        builds = dict(
            connection.execute(
                f"SELECT b.id, b.label FROM {kind.table} t JOIN builds b ON b.id = t.{column} WHERE t.id = ?", (row_id,)
            ).fetchall()
        )
    leaks = leaks_of(connection, builds)
    return News(
        tuple(LeakNews(builds[build], leak) for build, leak in leaks.items()),
        tuple(shelf_changes(connection, before)),
        tuple(_hints(connection, kind, row_id, wrote)),
    )


def _hints(connection: sqlite3.Connection, kind: Kind, row_id: str, wrote: Collection[str] | None) -> Iterator[str]:
    if kind.name == "weighing":
        for said in (counted_after_line(connection, row_id), uncompared_line(connection, row_id)):
            if said is not None:
                yield said
    if kind.table in ("weighings", "runs", "run_diffs"):
        said = out_of_time_line(connection, kind.table, row_id)
        if said is not None:
            yield said
    if kind.name == "build":
        if wrote is None or not {"diff", "kind", "washed", "dry_mass_g"}.isdisjoint(wrote):
            dry = dry_mass_line(connection, row_id) or holding_line(connection, row_id)
            if dry is not None:
                yield dry
        later = later_build_line(connection, row_id)
        if later is not None:
            yield later
        (diff,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (row_id,)).fetchone()
        yield from (f"{one.words}. {one.remedy}" for one in late_records(connection, diff))


class ImportNews(NamedTuple):
    """Verdicts on the weighed builds that a file of notes touched, counted, and which builds lost oil.

    ``disagreeing`` are builds that lost none for certain, but whose weighings disagree.
    """

    counts: dict[str, int]
    lost: tuple[LeakNews, ...]
    more: int
    disagreeing: tuple[LeakNews, ...] = ()
    more_disagreeing: int = 0

    def lines(self) -> Iterator[str]:
        """The same for people."""
        if self.counts:
            yield "Weighed twice: " + ", ".join(f"{count} {verdict}" for verdict, count in self.counts.items())
        yield from (f"  {one.line()}" for one in self.lost)
        if self.more:
            yield f"  and {self.more} more that lost oil"
        if self.disagreeing:
            yield "Weighings that disagree:"
        yield from (f"  {one.line()}" for one in self.disagreeing)
        if self.more_disagreeing:
            yield f"  and {self.more_disagreeing} more whose weighings disagree"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "verdicts": self.counts,
            "lost_oil": [one.as_dict() for one in self.lost],
            "more": self.more,
            "disagreeing": [one.as_dict() for one in self.disagreeing],
            "more_disagreeing": self.more_disagreeing,
        }


_WEIGHED_FIRST: Final = """
SELECT k.build, b.label, k.leak, k.weighings_apart FROM build_facts k CROSS JOIN builds b ON b.id = k.build
WHERE k.leak IS NOT NULL AND (
    b.note_file = :file
    OR EXISTS (SELECT 1 FROM weighings w WHERE w.build = k.build AND +w.note_file = :file)
    OR EXISTS (SELECT 1 FROM run_diffs x WHERE x.build = k.build AND +x.note_file = :file))
ORDER BY b.built_on, b.label, b.id
"""
_FILE_FIRST: Final = """
SELECT k.build, b.label, k.leak, k.weighings_apart FROM (
    SELECT id AS build FROM builds WHERE note_file = :file
    UNION SELECT build FROM weighings WHERE note_file = :file
    UNION SELECT build FROM run_diffs WHERE note_file = :file
) t CROSS JOIN build_facts k ON k.build = t.build AND k.leak IS NOT NULL JOIN builds b ON b.id = k.build
ORDER BY b.built_on, b.label, b.id
"""


def _weighed_of(connection: sqlite3.Connection, note_file: str) -> list[Row]:
    """The weighed builds that a file of notes touched, searched from the side with fewer rows."""
    weighed, accepted = connection.execute(
        "SELECT (SELECT count(*) FROM build_facts WHERE leak IS NOT NULL), accepted FROM note_files WHERE id = ?",
        (note_file,),
    ).fetchone()
    return rows(connection, _WEIGHED_FIRST if weighed <= accepted else _FILE_FIRST, {"file": note_file})


def news_of_notes(connection: sqlite3.Connection, note_file: str) -> ImportNews:
    """What importing a file of notes changed."""
    found = _weighed_of(connection, note_file)
    counts: dict[str, int] = {}
    for row in found:
        counts[row["leak"]] = counts.get(row["leak"], 0) + 1
    lost = [row for row in found if row["leak"] in ("caution", "stop")]
    disagreeing = [row for row in found if row["weighings_apart"] and row["leak"] not in ("caution", "stop")]
    shown = [{row["build"]: row["label"] for row in some[-SHOWN:]} for some in (lost, disagreeing)]
    leaks = leaks_of(connection, [*shown[0], *shown[1]])
    of_lost, of_disagreeing = (
        tuple(LeakNews(label, leaks[build]) for build, label in labels.items()) for labels in shown
    )
    return ImportNews(counts, of_lost, max(0, len(lost) - SHOWN), of_disagreeing, max(0, len(disagreeing) - SHOWN))
