"""Inputs that no reference of a record leads to: temperatures of a build's last runs, and how seals were found."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence

from bevelbook.calculating.binding import Value
from bevelbook.calculating.seal_input import FOUND_AT_OPENING
from bevelbook.facts.last_temperatures import TEMPERATURES, last_temperatures
from bevelbook.facts.seals_found import found_before_fitted
from bevelbook.records import Kind


def with_values_from_elsewhere(
    connection: sqlite3.Connection,
    kind: Kind,
    columns: Sequence[str],
    found: Iterable[tuple[str, dict[str, Value]]],
    row_id: str | None = None,
) -> Iterator[tuple[str, dict[str, Value]]]:
    """Records with their values, as :func:`~bevelbook.calculating.binding.bound_rows` gives them for the same kind,
    and what else is known of them: of one record (by id), or of all."""
    more = dict(_elsewhere(connection, kind, columns, row_id))
    for one, values in found:
        yield one, {**values, **{column: known[one] for column, known in more.items() if one in known}}


def _elsewhere(
    connection: sqlite3.Connection, kind: Kind, columns: Sequence[str], row_id: str | None
) -> Iterator[tuple[str, dict[str, Value]]]:
    """For each column that can be known of this kind of record: its values by record id."""
    if kind.name == "build":
        for column in columns:
            if column in TEMPERATURES:
                taken = last_temperatures(connection, column, row_id)
                yield column, {one: Value(value, f"run {run}") for one, (value, run) in taken.items()}
    elif kind.name == "seal_fitting" and FOUND_AT_OPENING in columns:
        seen = found_before_fitted(connection, row_id)
        yield FOUND_AT_OPENING, {one: Value(was.state, was.words) for one, was in seen.items()}
