"""The last parts of a card: a part for each calculator that fits under none of the others, and what calculators left
behind that are not loaded here."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final

from bevelbook.calculating.for_record import Known
from bevelbook.calculating.known import Subject
from bevelbook.card.calculators import CardEntry, said_of
from bevelbook.card.contents import LONGEST_REASON, CalculatorResult, CardSection
from bevelbook.card.steps import shortened
from bevelbook.display.begun import begun
from bevelbook.facts.sql import rows
from bevelbook.kept_json import texts_in
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.plugin.where_shown import MORE
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

_WORST_FIRST: Final = ("stop", "caution", "unclear", "ok", None)
"""Verdicts; without one an input is still to be measured."""
MOST_LEFT_BEHIND: Final = 3
"""Kept results of calculators that are not loaded, the last ones; the page of the build has all of them."""
_BUILD: Final = BY_NAME["build"]
_LEFT_BEHIND: Final = """
SELECT calculator, verdict, reasons, calculated_at FROM latest_calculations
WHERE subject_table = ? AND subject_id = ? ORDER BY calculated_at DESC, id DESC
"""


def about(connection: sqlite3.Connection, build: Subject, row: Mapping[str, Any] | sqlite3.Row) -> dict[str, Subject]:
    """The build and what it names, each by the kind of record: its diff, its oil, its bottle, its scale."""
    found = {_BUILD.name: build}
    for field in _BUILD.fields:
        if field.target is not None and field.target not in found and row[field.name] is not None:
            kind = BY_NAME[field.target]
            found[field.target] = Subject(kind, row[field.name], label_of(connection, kind, row[field.name]))
    return found


def said_in_more(
    connection: sqlite3.Connection, registry: Registry, subjects: Mapping[str, Subject], more: Known
) -> list[tuple[Calculator[Any, Any], CardEntry]]:
    """What each calculator says that has no other part of the card, the worst first: the last ones may find no room."""
    found = [
        (one, said_of(connection, one, subjects[one.of], more)) for one in registry.on_card(MORE) if one.of in subjects
    ]
    return sorted(found, key=lambda pair: _WORST_FIRST.index(pair[1].result.verdict if pair[1].result else None))


def more_section(calculator: Calculator[Any, Any], entry: CardEntry) -> CardSection:
    """The part of one calculator, under its title."""
    return CardSection(
        MORE,
        calculator.title,
        entry.lines,
        () if entry.result is None else (entry.result,),
        entry.listed,
        entry.picture,
        entry.picture_words,
    )


def left_behind(connection: sqlite3.Connection, registry: Registry, build: Subject) -> Iterator[CardSection]:
    """What was kept for a build by calculators that are not loaded here, each with its day."""
    kept = [
        row
        for row in rows(connection, _LEFT_BEHIND, (build.kind.table, build.row_id))
        if registry.declared(row["calculator"]) is None
    ]
    for row in kept[:MOST_LEFT_BEHIND]:
        name = row["calculator"].replace("-", " ")
        title = shortened(begun(name))
        reasons = tuple(shortened(one, LONGEST_REASON) for one in texts_in(row["reasons"]) or ())
        day = f"Kept on {row['calculated_at'][:10]}"
        yield CardSection(
            MORE,
            title,
            results=(
                CalculatorResult(
                    day,
                    row["verdict"],
                    reasons or ("no reason was kept",),
                    ("its plugin is not loaded here, so it is not worked out again",),
                ),
            ),
        )
