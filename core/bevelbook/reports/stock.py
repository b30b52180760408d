"""What the team has: parts that were counted, bottles and what is left in them; and what has to be counted again."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.display.begun import begun
from bevelbook.facts.bottles_left import BottleLeft, bottles_left, left_in
from bevelbook.facts.stock import NotCounted, StockLeft, known_parts, not_counted, stock_left
from bevelbook.plugin.check import Finding
from bevelbook.records import Kind

MOST_NAMED: Final = 3
"""Parts that one line names; of more it says how many there are."""
COUNT_AGAIN: Final = "to_count_again"
_IS_KEPT: Final = """
SELECT EXISTS (SELECT 1 FROM stock_changes WHERE what = 'counted') OR EXISTS (SELECT 1 FROM bottle_checks)
"""


class Stock(NamedTuple):
    """Parts that were counted, those of which too few are left first; those never counted; and the bottles."""

    parts: tuple[StockLeft, ...]
    not_counted: tuple[NotCounted, ...]
    bottles: tuple[BottleLeft, ...]


def is_stock_kept(connection: sqlite3.Connection) -> bool:
    """Whether the team ever counted a part or checked a bottle; without that nothing of stock is shown."""
    return bool(connection.execute(_IS_KEPT).fetchone()[0])


def stock_of_team(connection: sqlite3.Connection) -> Stock:
    """All that the team has, as far as it was counted."""
    parts = sorted(stock_left(connection), key=lambda one: not one.is_short)
    return Stock(tuple(parts), tuple(not_counted(connection)), tuple(bottles_left(connection)))


def left_of_record(connection: sqlite3.Connection, table: str, row_id: str) -> str:
    """What is left of one part or in one bottle, in words; empty where that is not known, and for other records."""
    if table == "bottles":
        bottle = left_in(connection).get(row_id)
        return bottle.words if bottle is not None and bottle.is_known else ""
    if table != "stock_parts":
        return ""
    here = next((one.row_id for one in known_parts(connection) if row_id in one.same), row_id)
    return next((one.words for one in stock_left(connection) if one.stock_part == here), "")


def left_after(connection: sqlite3.Connection, kind: Kind, row_ids: Sequence[str]) -> Iterator[str]:
    """What is left of what these records count, deliver, take out or weigh, a sentence each; nothing for records of
    another kind, and for parts that were never counted."""
    column = {"stock_change": "stock_part", "bottle_check": "bottle"}.get(kind.name)
    if column is None:
        return
    marks = ", ".join("?" * len(row_ids))
    asked = f"SELECT DISTINCT {column} FROM {kind.table} WHERE id IN ({marks})"
    changed = {row[0] for row in connection.execute(asked, tuple(row_ids))}
    if column == "bottle":
        yield from (f"{one.label}: {one.words}." for one in bottles_left(connection) if one.bottle in changed)
        return
    here = {one.row_id for one in known_parts(connection) if not changed.isdisjoint(one.same)}
    yield from (f"{one.label}: {one.words}." for one in stock_left(connection) if one.stock_part in here)


def stock_in_words(connection: sqlite3.Connection) -> str:
    """What is short and what to count again, in one line; empty where there is nothing to count.

    The parts that are short are named up to ``MOST_NAMED``.
    """
    if not is_stock_kept(connection):
        declared = connection.execute("SELECT EXISTS (SELECT 1 FROM stock_parts)").fetchone()[0]
        return "nothing counted yet" if declared else ""
    found = stock_of_team(connection)
    again = [one.label for one in found.parts if one.is_below_none]
    short = [one for one in found.parts if one.is_short and not one.is_below_none]
    none = [one.label for one in short if not one.pieces]
    few = [f"{one.pieces} {one.label}" for one in short if one.pieces]
    said = [f"count the {listed(_first(again))} again"] if again else []
    said += [f"no {listed(_first(none))} left"] if none else []
    said += [f"only {listed(_first(few))} left"] if few else []
    said += [f"put {listed(_first(empty))} on the scale"] if (empty := _below_none(found)) else []
    return "; ".join(said) or ("enough of all that you count" if found.parts else "what is left in the bottles")


def _first(names: Sequence[str]) -> list[str]:
    rest = len(names) - MOST_NAMED
    return [*names[:MOST_NAMED], f"{rest} more"] if rest > 0 else list(names)


def _below_none(stock: Stock) -> list[str]:
    return [one.label for one in stock.bottles if one.is_below_none]


def count_again_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """One finding for all parts and bottles of which more was used than there can have been; none where all is well."""
    parts = [one for one in stock_left(connection) if one.is_below_none]
    bottles = [one for one in bottles_left(connection) if one.is_below_none]
    if not parts and not bottles:
        return
    to_do = [f"count {listed([f'the {one.label}' for one in parts])}"] if parts else []
    to_do += [f"put {listed([one.label for one in bottles])} on the scale"] if bottles else []
    words = [f"{one.label}: {-one.pieces} more used than there were" for one in parts]
    words += [f"{one.label}: {one.how.partition(': ')[0]}" for one in bottles]
    do = ", and ".join(to_do)
    yield Finding(
        code=COUNT_AGAIN,
        severity="worth a look",
        words="; ".join(words),
        remedy=f"{begun(do)}: on the page Stock of 'bevelbook enter'.",
        subject_table="stock_parts" if parts else "bottles",
        subject_id=parts[0].stock_part if parts else bottles[0].bottle,
        subject_label="stock",
    )


def listed(names: Sequence[str]) -> str:
    """Names as a sentence lists them.

    >>> listed(["rings"]), listed(["rings", "pins", "gears"])
    ('rings', 'rings, pins and gears')
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
