"""The dry mass as an input: of a build it is the one that holds for it, not whatever its record has."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.calculating.binding import USUAL_DRY, Value
from bevelbook.declare.in_command import command_of
from bevelbook.facts.dry_mass import WITHOUT_OPENING_UP, DryMass, dry_mass_of
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.lookup import label_of

LAST: Final = USUAL_DRY
"""What a dry mass that is weighed now is compared with: the usual one of the diff, else that before it was opened."""
COLUMN: Final = "builds.dry_mass_g"


def with_dry_masses_that_hold(
    connection: sqlite3.Connection,
    kind: Kind,
    columns: Sequence[str],
    found: Iterable[tuple[str, dict[str, Value]]],
    row_id: str | None = None,
) -> Iterator[tuple[str, dict[str, Value]]]:
    """Records with their values, as :func:`~bevelbook.calculating.binding.bound_rows` gives them for the same kind.

    Of a build the dry mass is replaced by the one that holds for it, and left out where none does. Of a diff that is
    open the one from before is what a new one is compared with, if the diff has no usual one.
    """
    others = _with_another(connection, row_id) if kind.name == "build" and COLUMN in columns else set()
    for one, values in found:
        if one in others:
            holding, before = dry_mass_of(connection, one), values.get(COLUMN)
            values = {column: value for column, value in values.items() if column != COLUMN}
            if holding.mass_g is not None:
                values[COLUMN] = _value(connection, holding, one)
            elif before is not None and LAST in columns:
                values.setdefault(LAST, Value(before.value, "weighed before it was opened"))
        yield one, values


def _value(connection: sqlite3.Connection, holding: DryMass, build: str) -> Value:
    """A dry mass that holds for a build (by id); of another build it names that one."""
    if holding.of_build in (None, build):
        return Value(holding.mass_g, holding.words)
    label = label_of(connection, BY_NAME["build"], str(holding.of_build))
    return Value(holding.mass_g, f"{holding.words}, build {label}", names_record=True)


def _with_another(connection: sqlite3.Connection, build: str | None) -> set[str]:
    """The builds (one by its id, or all) for which another dry mass may hold than their record has."""
    only, given = ("AND b.id = ?", (build,)) if build else ("", ())
    kinds = ", ".join("?" * len(WITHOUT_OPENING_UP))
    return {
        row[0]
        for row in connection.execute(
            f"SELECT b.id FROM builds b WHERE b.dry_mass_g IS NULL AND b.kind IN ({kinds}) {only} UNION "
            "SELECT b.id FROM diff_facts f CROSS JOIN builds b ON b.id = f.current_build CROSS JOIN build_facts k "
            f"ON k.build = b.id WHERE k.opened_on IS NOT NULL {only}",
            (*WITHOUT_OPENING_UP, *given, *given),
        )
    }


class NoDryMass(NamedTuple):
    """Why there is no dry mass, as a sentence; ``open_diff`` is the label of the diff if it is open now."""

    words: str
    open_diff: str | None

    def remedy(self) -> str:
        """The same with the command that writes one down, if the diff is open: nothing is added to its last build."""
        if self.open_diff is None:
            return self.words
        command = command_of("record", "build", f"diff={self.open_diff}", "built_on=today", "dry_mass=...")
        return f"{self.words} Weigh it dry, and write it down with the next build: '{command}'"


def why_no_dry_mass(connection: sqlite3.Connection, builds: Iterable[str]) -> NoDryMass | None:
    """Why none of these builds (by id) has a dry mass; None if one has, and without any build."""
    builds = list(builds)
    found = [dry_mass_of(connection, build) for build in builds]
    if not found or any(one.mass_g is not None for one in found):
        return None
    words = f"There is {found[0].words}." if found[0].words.startswith("no ") else f"{found[0].words}."
    return NoDryMass(words, _open_diff(connection, builds[0]))


def _open_diff(connection: sqlite3.Connection, build: str) -> str | None:
    """The label of the diff of a build (by id), if that is its last one and was opened."""
    row = connection.execute(
        "SELECT d.label FROM build_facts k JOIN diff_facts f ON f.current_build = k.build "
        "JOIN diffs d ON d.id = k.diff WHERE k.build = ? AND k.opened_on IS NOT NULL",
        (build,),
    ).fetchone()
    return None if row is None else str(row[0])
