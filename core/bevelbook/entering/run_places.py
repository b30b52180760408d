"""What was where in a run, written with the run: ``rear=rear-a rear_temp=38 rear_after="2 min"``. A place of a run has
one diff."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.fields import Field
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.diff_names import with_mark
from bevelbook.display.format import figure_again
from bevelbook.display.spans import span_in_words
from bevelbook.entering.closed_again import ClosedAgain
from bevelbook.entering.dated_build import build_for
from bevelbook.entering.earlier_that_day import RunTime
from bevelbook.entering.question import Answers
from bevelbook.records import BY_NAME
from bevelbook.store.ids import id_within, new_id
from bevelbook.store.writing import Writer

_RUN_DIFF: Final = BY_NAME["run_diff"]
_MEASURED: Final = {
    "diff_temp_c": "temp_c",
    "temp_taken": "temp_taken",
    "after_run_s": "after_s",
    "second_diff_temp_c": "second_temp_c",
    "second_after_run_s": "second_after_s",
}
"""What is measured on the diff in a run: the column, and how its name ends beside the place."""


def _fields() -> Iterable[Field]:
    for position in POSITIONS:
        at = f"at the {position}" if position != "centre" else "in the centre"
        build = _RUN_DIFF.field("build")
        yield build._replace(name=position, about=f"The diff {at}, or one of its builds; empty for none", default=None)
        for column, ending in _MEASURED.items():
            field = _RUN_DIFF.field(column)
            yield field._replace(name=f"{position}_{ending}", about=f"{field.about}, {at}")


FIELDS: Final = tuple(_fields())
"""What ``record run`` takes besides the fields of the run: ``rear``, ``rear_temp_c``, ``rear_temp_taken``, ..."""
NAMES: Final = frozenset(field.name for field in FIELDS)
_NO_PLACE: Final = "place not said"
_COLUMNS: Final = ", ".join(f"x.{column}" for column in _MEASURED)
_SHOWN: Final = f"""
SELECT x.id, x.position, b.label AS build, d.label AS diff, d.mark, {_COLUMNS}
FROM run_diffs x JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff
WHERE x.run = ? ORDER BY x.position IS NULL, x.position = 'rear', x.position = 'centre', x.id
"""


class InPlace(NamedTuple):
    """What is written at one place of a run: the build by id, and what was measured; ``is_empty`` if nothing was there.

    ``taken`` says where the build comes from if it was not typed, ``entered`` what was typed, by column.
    """

    position: str
    values: dict[str, Any]
    is_empty: bool = False
    taken: str | None = None
    entered: Mapping[str, str] = MappingProxyType({})

    def taken_over(self, why: str) -> InPlace:
        """The same place with a build that nobody typed."""
        taken = "; ".join(part for part in (why, self.taken) if part)
        return self._replace(taken=taken, entered={**self.entered, "build": why}) if "build" in self.values else self


class Places(NamedTuple):
    """All places that a run says something about, and the builds that have to be written first."""

    at: tuple[InPlace, ...] = ()
    made: tuple[ClosedAgain, ...] = ()


class Sat(NamedTuple):
    """A diff in a run as it is written down, by labels."""

    run_diff: str
    position: str | None
    build: str
    diff: str
    mark: str | None
    diff_temp_c: float | None
    temp_taken: str | None
    after_run_s: float | None
    second_diff_temp_c: float | None
    second_after_run_s: float | None

    @property
    def line(self) -> str:
        """``rear: rear-a/3, 38 °C after 2 min, 35 °C after 5 min``."""
        measured = reading_words(self.diff_temp_c, self.after_run_s)
        measured += [self.temp_taken] if self.temp_taken else []
        measured += reading_words(self.second_diff_temp_c, self.second_after_run_s)
        return f"{self.position or _NO_PLACE}: {', '.join([with_mark(self.build, self.mark), *measured])}"


def reading_words(temperature_c: float | None, after_s: float | None) -> list[str]:
    """A reading of a diff in words, or none.

    >>> reading_words(38.0, 120.0), reading_words(38.0, None), reading_words(None, 120.0)
    (['38 °C after 2 min'], ['38 °C'], ['no temperature after 2 min'])
    """
    after = [] if after_s is None else [f"after {span_in_words(after_s)}"]
    value = [] if temperature_c is None else [f"{figure_again(temperature_c, '°C')} °C"]
    if after and not value:
        value = ["no temperature"]
    return [" ".join([*value, *after])] if value else []


def read_places(
    connection: sqlite3.Connection,
    texts: Mapping[str, str],
    day: str | None,
    answered: Answers,
    read_value: Callable[[str, Field, str], Any],
    taken: Mapping[str, str] = MappingProxyType({}),
    *,
    written: Mapping[str, str] = MappingProxyType({}),
    at: RunTime | None = None,
) -> Places:
    """Read the words for the places of a run on ``day``; ``taken`` says of a place where its diff is known from,
    ``written`` which build of a diff the run has already, and ``at`` when in the day it was.

    Raises Question, InputError and UnknownNameError.
    """
    found: list[InPlace] = []
    made: list[ClosedAgain] = []
    for position in POSITIONS:
        values: dict[str, Any] = {}
        known = [taken[position]] if position in taken else []
        entered: dict[str, str] = {}
        for column, ending in _MEASURED.items():
            name = f"{position}_{ending}"
            if name in texts:
                entered[column] = texts[name]
                values[column] = read_value(name, next(field for field in FIELDS if field.name == name), texts[name])
        name = texts.get(position, "").strip()
        if name:
            dated = build_for(
                connection, name, field=position, day=day, noun="run", answered=answered, written=written, at=at
            )
            known += [dated.why] if dated.why else []
            values["build"] = dated.build
            entered |= {"position": position, "build": taken.get(position, name)}
            made += [dated.made] if dated.made else []
        is_empty = position in texts and not name
        if values or is_empty:
            found.append(InPlace(position, values, is_empty, "; ".join(known) or None, entered))
    return Places(tuple(found), tuple(made))


def place_in_run(
    connection: sqlite3.Connection, run: str, position: str | None, build: str | None
) -> tuple[str, str] | None:
    """Id and build of what is written at a place of a run, or of the diff of ``build`` if it has no place yet there.

    Without a position: that of the diff of ``build``, wherever it is. Of several rows that an older database may have
    there, the one of the same diff, else the first.
    """
    return connection.execute(  # type: ignore[no-any-return]
        "SELECT x.id, x.build FROM run_diffs x JOIN builds b ON b.id = x.build "
        "LEFT JOIN builds n ON n.id = :build WHERE x.run = :run AND "
        "(x.position = :position OR (n.diff = b.diff AND (x.position IS NULL OR :position IS NULL))) "
        "ORDER BY x.position IS NULL, n.diff IS NOT b.diff, x.id LIMIT 1",
        {"run": run, "position": position, "build": build},
    ).fetchone()


def id_in_run(connection: sqlite3.Connection, run: str, position: str | None, build: str) -> str:
    """The id of a new diff in a run: from run and position, so that everybody who writes it down makes the same one."""
    (diff,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
    made = id_within(run, f"run_diff\0{position or diff}", 1)
    is_taken = connection.execute("SELECT 1 FROM run_diffs WHERE id = ?", (made,)).fetchone()
    return new_id() if is_taken else made


def write_places(connection: sqlite3.Connection, writer: Writer, run: str, places: Iterable[InPlace]) -> bool:
    """Write what was where in a run; each place keeps its one row. Whether anything changed.

    What was typed is kept under ``entered``, so that no note changes it; the build only if it is another one, since a
    diff named on the build that it is on goes on following its builds.

    A diff named at one place while another place is emptied moves there with its temperature. Raises InputError if a
    temperature has no diff to belong to.
    """
    changed = False
    moved: dict[str, dict[str, Any]] = {}
    for place in places:
        while place.is_empty and (row := place_in_run(connection, run, place.position, None)) is not None:
            old = connection.execute(
                f"SELECT b.diff, {_COLUMNS} FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.id = ?", (row[0],)
            ).fetchone()
            moved[old[0]] = dict(zip(_MEASURED, tuple(old)[1:], strict=True))
            writer.remove(_RUN_DIFF, row[0])
            changed = True
    for place in places:
        if not place.is_empty:
            changed = _write(connection, writer, run, place, moved) or changed
    return changed


def _write(
    connection: sqlite3.Connection, writer: Writer, run: str, place: InPlace, moved: Mapping[str, dict[str, Any]]
) -> bool:
    build = place.values.get("build")
    row = place_in_run(connection, run, place.position, build)
    if row is not None:
        stays = build in (None, row[1])
        entered = {column: text for column, text in place.entered.items() if column != "build" or not stays}
        return writer.update(_RUN_DIFF, row[0], {"position": place.position, **place.values}, entered=entered)
    if build is None:
        raise InputError(
            f"nothing is written at the {place.position} of this run, so nothing there had a temperature",
            code="nothing_in_that_place",
            place=Place(field=f"{place.position}_{_MEASURED['diff_temp_c']}"),
            remedy=Sentence("Say which diff was there: ", Named(place.position), ". Nothing was changed."),
        )
    (diff,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (build,)).fetchone()
    values = {"run": run, "position": place.position, **moved.get(diff, {}), **place.values}
    writer.insert(_RUN_DIFF, values, row_id=id_in_run(connection, run, place.position, build), entered=place.entered)
    return True


def refuse_twice(connection: sqlite3.Connection, run: str) -> None:
    """Raise InputError if one diff would be in a run twice: it has one position in a car, and its runs count once."""
    twice = connection.execute(
        "SELECT d.label, group_concat(coalesce(x.position, 'no place'), ', ') FROM run_diffs x "
        "JOIN builds b ON b.id = x.build JOIN diffs d ON d.id = b.diff WHERE x.run = ? "
        "GROUP BY b.diff HAVING count(*) > 1 ORDER BY d.label, d.id",
        (run,),
    ).fetchone()
    if twice is not None:
        raise InputError(
            f"{twice[0]} would be in this run twice, and one diff cannot be in two places of a car",
            code="diff_twice_in_a_run",
            found=twice[1],
            remedy="Name it at the place where it was, and the diff that was at the other, or leave that empty. "
            "Nothing was changed.",
        )


def in_run(connection: sqlite3.Connection, run: str) -> list[Sat]:
    """The diffs in a run, from front to rear."""
    return [Sat(*tuple(row)) for row in connection.execute(_SHOWN, (run,))]


def values_in_places(sat: Iterable[Sat]) -> dict[str, Any]:
    """What is in a run by the names of :data:`FIELDS`; empty ones, and diffs without a place, are left out."""
    found: dict[str, Any] = {}
    for one in sat:
        if one.position is not None:
            found[one.position] = one.build
            measured = {f"{one.position}_{ending}": getattr(one, column) for column, ending in _MEASURED.items()}
            found |= {name: value for name, value in measured.items() if value is not None}
    return found


def column_of(name: str) -> tuple[str, str]:
    """The place and the column of ``run_diffs`` that a name of :data:`FIELDS` means.

    >>> column_of("rear_temp_c"), column_of("front")
    (('rear', 'diff_temp_c'), ('front', 'build'))
    """
    position, _, ending = name.partition("_")
    return position, next((column for column, named in _MEASURED.items() if named == ending), "build")


def as_written(connection: sqlite3.Connection, run: str, places: Iterable[InPlace]) -> bool:
    """Whether a run has these diffs with these temperatures, and no others."""
    wanted = {
        place.position: tuple(place.values.get(name) for name in ("build", *_MEASURED))
        for place in places
        if not place.is_empty
    }
    rows = connection.execute(
        f"SELECT position, build, {', '.join(_MEASURED)} FROM run_diffs WHERE run = ?", (run,)
    ).fetchall()
    return {row[0]: tuple(row)[1:] for row in rows} == wanted


def for_programs(sat: Iterable[Sat], places: Iterable[InPlace]) -> list[dict[str, Any]]:
    """What was where in a run, with where that is known from."""
    taken = {place.position: place.taken for place in places}
    return [{**one._asdict(), "taken": taken.get(one.position or "")} for one in sat]


def lines(
    sat: Sequence[Sat], places: Iterable[InPlace], beside: Iterable[str], before: Sequence[Sat] = ()
) -> list[str]:
    """The same in words, and what else sits in the car; ``before`` is what was where before a change."""
    settled = {one.run_diff: one.position for one in sat}
    was = {one.position or settled.get(one.run_diff) or one.run_diff: one for one in before}
    now = {one.position or one.run_diff for one in sat}
    taken = {place.position: place.taken for place in places if place.taken}
    known = [f"{one.line}, {taken[one.position]}" if one.position in taken else one.line for one in sat]
    changed = []
    for one, line in zip(sat, known, strict=True):
        old = was.get(one.position or one.run_diff, one)
        before_it = old.line.partition(": ")[2] if old.position else old.line
        changed.append(f"{line}, was {before_it}" if old.line != one.line else line)
    emptied = [
        f"{one.position or _NO_PLACE}: empty, was {one.line.partition(': ')[2]}"
        for key, one in was.items()
        if key not in now
    ]
    return [*changed, *emptied, *beside]
