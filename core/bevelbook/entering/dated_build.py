"""The build that a run, a weighing or an opening is about: the one in use on its day, and what to ask if that is
unclear."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.entering.closed_again import ClosedAgain, closed_again
from bevelbook.entering.earlier_that_day import RunTime, earlier_build
from bevelbook.entering.half_built import build_off_bench
from bevelbook.entering.question import Answers, Question, Way
from bevelbook.facts.build_in_use import BuildInUse, build_with_days, builds_in_use
from bevelbook.facts.builds import oldest_first
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.lookup import find_id, label_of

CLOSED_AGAIN: Final = "closed-again"
BEFORE_OPENING: Final = "before-opening"
AS_DRY_MASS: Final = "as-dry-mass"
ANOTHER_DIFF: Final = "another-diff"
_DAY_OF: Final = {"weighing": "weighed_on", "opening": "opened_on", "run": "run_on"}
"""The day of each kind of record; a diff in a run has the day of its run."""
_TIMED: Final = frozenset({"run_on", "weighed_on", "build", "run"})
_ANOTHER: Final = "It was not this diff: name another"
_NO_DAY: Final = "9999-12-31"


class DatedBuild(NamedTuple):
    """The build (by id), and whether it has to be written first. ``dry_mass_of`` is the diff (by id) of the next build
    if the mass is the dry mass of that. ``why`` is said with a build that was taken by the times of the day."""

    build: str
    made: ClosedAgain | None = None
    dry_mass_of: str | None = None
    why: str | None = None


def is_dated(kind: Kind) -> bool:
    """Whether the build of such a record is the one in use on its day."""
    return kind.name in ("weighing", "opening", "run_diff")


def day_of(connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]) -> str | None:
    """The day of a record with ``values`` typed for it; the rest as it is written down."""
    if kind.name == "run_diff":
        run = values.get("run") or _written(connection, kind, row_id, "run")
        day = _written(connection, BY_NAME["run"], run, "run_on")
    else:
        column = _DAY_OF[kind.name]
        day = values[column] if column in values else _written(connection, kind, row_id, column)
    return None if day is None else str(day)


def builds_written(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> dict[str, str]:
    """The builds that a record (of a diff in a run: its run) has already, each by its diff; all by id."""
    if kind.name in ("run", "run_diff"):
        run = row_id if kind.name == "run" else values.get("run") or _written(connection, kind, row_id, "run")
        source, key = "run_diffs x JOIN builds b ON b.id = x.build WHERE x.run = ?", run
    else:
        source, key = f"{kind.table} x JOIN builds b ON b.id = x.build WHERE x.id = ?", row_id
    return dict(
        tuple(row) for row in connection.execute(f"SELECT b.diff, b.id FROM {source} ORDER BY x.id DESC", (key,))
    )


def time_of(
    connection: sqlite3.Connection, kind: Kind, row_id: str | None, values: Mapping[str, Any]
) -> RunTime | None:
    """When in its day a run was, with ``values`` typed for it; None for a record that is not of a run."""
    if kind.name not in ("run", "run_diff"):
        return None
    run = row_id if kind.name == "run" else values.get("run") or _written(connection, kind, row_id, "run")
    typed = values if kind.name == "run" else {}
    return RunTime(
        run,
        *(
            typed[column] if column in typed else _written(connection, BY_NAME["run"], run, column)
            for column in ("started_at", "day_order")
        ),
    )


def _written(connection: sqlite3.Connection, kind: Kind, row_id: str | None, column: str) -> Any:
    row = connection.execute(f"SELECT {column} FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()
    return row[0] if row else None


def moves_in_time(kind: Kind, values: Mapping[str, Any]) -> bool:
    """Whether these values may put a run or a weighing before its build."""
    return kind.name in ("run", "run_diff", "weighing") and not _TIMED.isdisjoint(values)


def build_for(
    connection: sqlite3.Connection,
    name: str,
    *,
    field: str,
    day: str | None,
    noun: str,
    answered: Answers,
    written: Mapping[str, str] = MappingProxyType({}),
    at: RunTime | None = None,
) -> DatedBuild:
    """The build that ``name`` means for a ``noun`` (run, weighing, opening) on ``day``; a diff's name means the build
    in use then. A diff of which the record has a build already, in ``written``, keeps that one, if it was built by
    then. ``at`` is when in the day a run was.

    Raises Question if two builds were made on that day, or the diff was apart or half built on the bench, InputError if
    the build was built later, and UnknownNameError.
    """
    diff = _diff_named(connection, name)
    if diff is None:
        build = find_id(connection, BY_NAME["build"], name)
        found = build_with_days(connection, build)
        if day is not None and day < found.built_on:
            raise before_it_was_built(connection, found, day, noun, field)
        in_use = [found] if found in builds_in_use(connection, found.diff, day) else []
        if not in_use or noun == "opening" or found.opened_on is None or found.opened_on >= (day or _NO_DAY):
            return DatedBuild(build)
        diff = found.diff
    else:
        kept = build_with_days(connection, written[diff]) if diff in written else None
        if kept and kept.built_on <= (day or _NO_DAY) and answered.of(field, CLOSED_AGAIN) is None:
            return DatedBuild(kept.id)
        in_use = builds_in_use(connection, diff, day)
        if at is not None and day is not None and (earlier := earlier_build(connection, in_use, day, at, field)):
            return DatedBuild(earlier.build.id, why=earlier.why)
    label = label_of(connection, BY_NAME["diff"], diff)
    before_bench = build_off_bench(
        connection, in_use, label, field=field, day=day, noun=noun, at=at, another=Way(ANOTHER_DIFF, _ANOTHER)
    )
    if before_bench is not None:
        return DatedBuild(find_id(connection, BY_NAME["build"], before_bench), why="before it came on the bench")
    if not in_use:
        first = connection.execute(
            f"SELECT id FROM builds WHERE diff = ? ORDER BY {oldest_first()} LIMIT 1", (diff,)
        ).fetchone()
        if first is not None and day is not None:
            raise before_it_was_built(connection, build_with_days(connection, first[0]), day, noun, field)
        if noun == "opening":
            find_id(connection, BY_NAME["build"], name)
        return _apart(connection, diff, label, None, field, day, noun, answered)
    if len(in_use) > 1:
        labels = [build.label for build in in_use]
        raise Question(
            f"{label} was built {len(in_use)} times on {day}, as {', '.join(labels[:-1])} and {labels[-1]}",
            code="which_build_of_the_day",
            field=field,
            found=label,
            answers=[
                Way(str(place), f"The {noun} is of {one}", instead=one) for place, one in enumerate(labels, start=1)
            ],
        )
    (build_in_use,) = in_use
    if noun != "opening" and build_in_use.opened_on is not None and build_in_use.opened_on <= (day or _NO_DAY):
        return _apart(connection, diff, label, build_in_use, field, day, noun, answered)
    return DatedBuild(build_in_use.id)


def before_it_was_built(
    connection: sqlite3.Connection, build: BuildInUse, day: str, noun: str, field: str
) -> InputError:
    """The error for a run or weighing dated before its build: it says when that was built and which was in use."""
    then = builds_in_use(connection, build.diff, day)
    diff = label_of(connection, BY_NAME["diff"], build.diff)
    if then:
        remedy = f"{' and '.join(one.label for one in then)} was in use then: name it, or correct the day."
    else:
        remedy = f"No build of {diff} was in use then: correct the day, or write the build of that time first."
    return InputError(
        f"this {noun} is dated {day}, and {build.label} was built later, on {build.built_on}",
        code="before_its_build",
        place=Place(field=field),
        found=build.label,
        remedy=f"{remedy} Nothing was changed.",
    )


def refuse_before_its_build(connection: sqlite3.Connection, kind: Kind, row_id: str) -> None:
    """Raise InputError if a run (with all diffs in it), a diff in a run or a weighing is dated before its build."""
    if kind.name == "weighing":
        source, field = "SELECT build, weighed_on, NULL AS position FROM weighings WHERE id = ?", "build"
    else:
        column = "run" if kind.name == "run" else "id"
        field = "build"
        source = (
            "SELECT x.build, r.run_on, x.position FROM run_diffs x JOIN runs r ON r.id = x.run "
            f"WHERE x.{column} = ? ORDER BY x.id"
        )
    for build, day, position in connection.execute(source, (row_id,)).fetchall():
        found = build_with_days(connection, build)
        if day is not None and day < found.built_on:
            noun = "weighing" if kind.name == "weighing" else "run"
            raise before_it_was_built(
                connection, found, day, noun, position if kind.name == "run" and position else field
            )


def _diff_named(connection: sqlite3.Connection, name: str) -> str | None:
    """The id of the diff of that name; None if it is also the name of a build, or of neither."""
    if connection.execute("SELECT 1 FROM builds WHERE id = ?1 OR label = ?1 COLLATE NOCASE", (name,)).fetchone():
        return None
    known = connection.execute("SELECT 1 FROM diffs WHERE id = ?1 OR label = ?1 COLLATE NOCASE", (name,)).fetchone()
    return find_id(connection, BY_NAME["diff"], name) if known else None


def _apart(
    connection: sqlite3.Connection,
    diff: str,
    label: str,
    last: BuildInUse | None,
    field: str,
    day: str | None,
    noun: str,
    answered: Answers,
) -> DatedBuild:
    """What the answer says about a diff that was apart on that day; raises Question where none was given."""
    same_day = last is not None and day == last.opened_on
    keys = [CLOSED_AGAIN, *([BEFORE_OPENING] if same_day else []), *([AS_DRY_MASS] if noun == "weighing" else [])]
    given = answered.of(field, *keys)
    on = day or date.today().isoformat()
    if given == CLOSED_AGAIN:
        made = closed_again(connection, diff, on, noun, last, answered.fluid)
        return DatedBuild(made.id, made)
    if given == BEFORE_OPENING and last is not None:
        return DatedBuild(last.id)
    if given == AS_DRY_MASS:
        return DatedBuild(last.id if last else "", dry_mass_of=diff)
    words = {
        CLOSED_AGAIN: "It was closed again (this writes a build, "
        + (f"its oil as in {last.label}, its masses unknown)" if last else "all of it unknown)"),
        BEFORE_OPENING: f"The {noun} was before it was opened, on {last.label if last else ''}",
        AS_DRY_MASS: "It is the dry mass of the next build (this writes that build)",
    }
    state = f"was opened on {last.opened_on} and not built since" if last else "has no build"
    raise Question(
        f"{label} {state}, so it was apart when this {noun} was",
        code="diff_is_apart",
        field=field,
        found=label,
        answers=[
            *(Way(key, words[key]) for key in keys),
            Way(ANOTHER_DIFF, _ANOTHER),
        ],
    )
