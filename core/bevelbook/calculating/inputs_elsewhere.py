"""Inputs that no reference of a record leads to: temperatures of a build's last runs, measured or expected, what was
kept of another calculation, and how seals were found; and one that does not hold for every build, the usual dry mass of
its diff."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from bevelbook.calculating.binding import USUAL_DRY, Value, origin_in_words
from bevelbook.calculating.expected_input import (
    EXPECTED_OF_BUILD,
    expected_of_diffs_in_runs,
    temperatures_of_builds,
)
from bevelbook.calculating.hottest_input import hottest_of_builds
from bevelbook.calculating.kept_outputs import kept_outputs
from bevelbook.calculating.named_origins import HOTTEST, output_named
from bevelbook.calculating.seal_input import FOUND_AT_OPENING
from bevelbook.declare.vocabulary import MASS_BASES
from bevelbook.facts.last_temperatures import TEMPERATURES
from bevelbook.facts.seals_found import found_before_fitted
from bevelbook.records import Kind

OPEN_HALF: Final = MASS_BASES[1]
"""The mass basis of a diff's usual dry mass."""


def with_values_from_elsewhere(
    connection: sqlite3.Connection,
    kind: Kind,
    columns: Sequence[str],
    found: Iterable[tuple[str, dict[str, Value]]],
    row_id: str | None = None,
) -> Iterator[tuple[str, dict[str, Value]]]:
    """Records with their values, as :func:`~bevelbook.calculating.binding.bound_rows` gives them for the same kind,
    and what else is known of them: of one record (by id), or of all."""
    more = {column: those for column, those in _elsewhere(connection, kind, columns, row_id) if those}
    on_another_basis = _on_another_basis(connection, row_id) if kind.name == "build" and USUAL_DRY in columns else set()
    usual_of = _diffs_with_usual(connection, kind, row_id) if USUAL_DRY in columns else {}
    for one, known in found:
        for column, those in more.items():
            if one in those:
                known[column] = those[one]
        if one in on_another_basis:
            known.pop(USUAL_DRY, None)
        elif one in usual_of and (usual := known.get(USUAL_DRY)) and usual.origin == origin_in_words(USUAL_DRY):
            known[USUAL_DRY] = Value(usual.value, f"the usual dry mass of {usual_of[one]}", names_record=True)
        yield one, known


def _diffs_with_usual(connection: sqlite3.Connection, kind: Kind, row_id: str | None) -> dict[str, str]:
    """The label of the diff of builds, or of a diff (one by its id, or all), where the diff has a usual dry mass: that
    was weighed for no build."""
    joined = {"build": "JOIN builds r ON r.diff = d.id", "diff": "JOIN diffs r ON r.id = d.id"}.get(kind.name)
    if joined is None:
        return {}
    only, given = ("AND r.id = ?", (row_id,)) if row_id else ("", ())
    return dict(
        connection.execute(
            f"SELECT r.id, d.label FROM diffs d {joined} WHERE d.usual_dry_mass_g IS NOT NULL {only}", given
        ).fetchall()
    )


def _on_another_basis(connection: sqlite3.Connection, build: str | None) -> set[str]:
    """The builds (one by its id, or all) that were weighed with other parts on the scale than the open half, so that
    the usual dry mass of the diff says nothing about theirs."""
    only, given = ("AND id = ?", (build,)) if build else ("", ())
    rows = connection.execute(
        f"SELECT id FROM builds WHERE mass_basis IS NOT NULL AND mass_basis <> ? {only}", (OPEN_HALF, *given)
    )
    return {row[0] for row in rows}


def _elsewhere(
    connection: sqlite3.Connection, kind: Kind, columns: Sequence[str], row_id: str | None
) -> Iterator[tuple[str, dict[str, Value]]]:
    """For each column that can be known of this kind of record: its values by record id."""
    if kind.name == "build":
        for column in columns:
            if (output := output_named(column)) is not None:
                yield column, kept_outputs(connection, output, row_id)
        if HOTTEST in columns:
            yield HOTTEST, hottest_of_builds(connection, row_id)
        if (EXPECTED_OF_BUILD | set(TEMPERATURES)) & set(columns):
            yield from temperatures_of_builds(connection, columns, row_id).items()
    elif kind.name == "run_diff" and EXPECTED_OF_BUILD & set(columns):
        yield from expected_of_diffs_in_runs(connection, columns, row_id).items()
    elif kind.name == "seal_fitting" and FOUND_AT_OPENING in columns:
        seen = found_before_fitted(connection, row_id)
        yield FOUND_AT_OPENING, {one: Value(was.state, was.words, names_record=True) for one, was in seen.items()}
