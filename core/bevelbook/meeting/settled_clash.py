"""A clash settled with all that follows: note rows placed, facts, the shelf and kept results worked out again."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.calculating.recalculate import Upkeep, depending_on, recalculate_depending
from bevelbook.declare.errors import InputError
from bevelbook.entering.scale_figures import scales_before, set_again
from bevelbook.facts.renew import renew_touched
from bevelbook.meeting.parts_kept import bring_parts_back
from bevelbook.meeting.settle import settle
from bevelbook.notes.late_builds import place_rows_of_touched_builds
from bevelbook.notes.placed_again import PlacedAgain
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.clashes import BOTH, ClashSaid, refuse_other_versions, said_clashes
from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
from bevelbook.store.clashes import ClashFound, Which, WithOthers, clashes_of
from bevelbook.store.ids import now_utc
from bevelbook.taking_back.removal import parts_in_words


class SettledClash(NamedTuple):
    """What was settled, what holds now in words, and what came of it: note rows that moved, scales with figures worked
    out again and changes on the shelf as lines, and kept results."""

    clash: ClashSaid
    holds: str
    placed: PlacedAgain
    scales: tuple[str, ...]
    shelf: tuple[str, ...]
    upkeep: Upkeep


def clash_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> ClashSaid:
    """The clash of a record, by its id. Raises InputError where it is in none."""
    return _found(connection, kind, row_id)[1]


def settle_clash(
    connection: sqlite3.Connection,
    registry: Registry,
    kind: Kind,
    row_id: str,
    which: Which,
    *,
    by: str | None,
    seen: str | None = None,
) -> SettledClash:
    """Have one version of a clashing record hold, or both changes, inside the caller's transaction.

    ``seen`` is the mark of the versions that somebody looked at. Raises InputError where the clash is gone or another
    one by now, or cannot be settled so.
    """
    found, said = _found(connection, kind, row_id)
    refuse_other_versions(said, seen)
    holds = what_holds(said, which)
    of_scales = scales_before(connection, kind, row_id, {})
    touched = [(BY_NAME["scale"], one.known.row_id) for one in of_scales]
    depending = depending_on(connection, registry, [(kind, row_id), *touched])
    settle(connection, found, which, by=by)
    is_kept = found.why == "removed" and not (isinstance(which, int) and found.heads[which - 1].is_removal)
    parts = bring_parts_back(connection, found) if is_kept else []
    scales = tuple(one.words for one in set_again(connection, of_scales, by, now_utc))
    placed = place_rows_of_touched_builds(connection, by)
    before = touched_on_shelf(connection)
    renew_touched(connection)
    for name, ids in depending_on(connection, registry, [(kind, row_id), *parts]).items():
        depending.setdefault(name, set()).update(ids)
    upkeep = recalculate_depending(connection, registry, depending, by)
    shelf = tuple(one.line() for one in shelf_changes(connection, before))
    back = parts_in_words(parts)
    return SettledClash(said, f"{holds}; with it came back {back}" if back else holds, placed, scales, shelf, upkeep)


def what_holds(clash: ClashSaid, which: Which) -> str:
    """What will hold, in words: ``dry mass 46.13 g (anna, 3 May 12:14)``.

    Raises InputError where that cannot be.
    """
    if which == BOTH:
        if not clash.both:
            raise InputError(
                "both cannot hold: they changed the same field, or what was before is not known",
                code="clash_not_both",
                remedy=f"Choose one: {'; '.join(one.line for one in clash.versions)}. Nothing was settled.",
            )
        return clash.both
    if isinstance(which, WithOthers):
        joined = next((one for one in clash.with_others if one.number == which.number), None)
        if joined is not None:
            return joined.words
        if any(one.number == which.number for one in clash.versions):
            raise InputError(
                f"the others changed nothing beside version {which.number} that all agree on",
                code="no_such_version",
                remedy=f"Choose one: {clash.choices}. Nothing was settled.",
            )
    number = which.number if isinstance(which, WithOthers) else which
    one = next((one for one in clash.versions if one.number == number), None)
    if one is None:
        raise no_such_number(clash, number)
    return f"{one.in_full} ({one.by})"


def no_such_number(clash: ClashSaid, number: object) -> InputError:
    """That a clash has no version of that number, and which there are."""
    return InputError(
        f"there is no version {number} of this clash",
        code="no_such_version",
        remedy=f"There are {clash.numbers('and')}: {clash.choices}. Nothing was settled.",
    )


def _found(connection: sqlite3.Connection, kind: Kind, row_id: str) -> tuple[ClashFound, ClashSaid]:
    found = clashes_of(connection, [(kind.table, row_id)])
    if not found:
        raise InputError(
            "this is not in clash any more: it was settled meanwhile",
            code="not_in_clash",
            remedy="Nothing was changed.",
        )
    return found[0], said_clashes(connection, found)[0]
