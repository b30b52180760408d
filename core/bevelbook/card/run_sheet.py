"""The run sheet: six runs on a sheet of paper, one line each, with the diffs of the car printed in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.card.steps import shortened
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.diff_names import with_mark
from bevelbook.facts.car_diffs import InCar, in_cars
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST, caution_in_words
from bevelbook.reports.shelf import shelf_rows

APART: Final = "apart"
WORDS_SHOWN: Final = ("open it", APART)
RUNS_ON_A_SHEET: Final = 6
LONGEST_LIST: Final = 130
"""Diffs of the shelf that take more letters are not listed for a place: there is a line to write on instead."""
LONGEST_NAME: Final = 28
TITLE: Final = "Run sheet"
CAUTIONS: Final = ("lipo", "hot-parts", "wheels-on-stand", "oil-on-floor")
BALANCE: Final = ("-2", "-1", "0", "+1", "+2")


class SheetLine(NamedTuple):
    """One thing to write of a run, or words to circle; ``field`` is the column of the database that takes it."""

    field: str
    name: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    instead: str = ""
    """What is printed in place of a space to write on: a spool has no oil to measure."""


class SheetColumn(NamedTuple):
    """What is written side by side for every run, its lines one under the other."""

    key: str
    title: str
    lines: tuple[SheetLine, ...]


class DiffOnSheet(NamedTuple):
    """A diff with its build and oil; ``word`` is its shelf word where it is not to be run."""

    diff: str
    build: str
    oil: str
    word: str = ""

    @property
    def words(self) -> str:
        """``rear-a/12, 7k``."""
        return ", ".join(part for part in (self.build or self.diff, self.oil, self.word) if part)


class PlaceOnSheet(NamedTuple):
    """A place in the car: what sits there, where ``is_known``; else diffs of the shelf to circle one of, or a blank."""

    position: str
    diffs: tuple[DiffOnSheet, ...] = ()
    instead: str = ""
    is_known: bool = False


class SheetOfCar(NamedTuple):
    """One sheet of paper: the car, if known, with its places, and the columns of its runs."""

    car: str
    places: tuple[PlaceOnSheet, ...]
    columns: tuple[SheetColumn, ...]


class RunSheet(NamedTuple):
    """The sheets, one for each car."""

    sheets: tuple[SheetOfCar, ...]
    title: str = TITLE
    runs: int = RUNS_ON_A_SHEET
    cautions: tuple[str, ...] = ()
    rule: str = RULES_FIRST
    invented: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The sheets for programs."""

        def plain(one: Any) -> Any:
            if hasattr(one, "_asdict"):
                return {key: plain(value) for key, value in one._asdict().items()}
            return [plain(item) for item in one] if isinstance(one, tuple) else one

        found: dict[str, Any] = plain(self)
        return found


def blank_run_sheet(*, invented: bool = False) -> RunSheet:
    """One sheet without a car.

    >>> [column.key for column in blank_run_sheet().sheets[0].columns]
    ['temperature', 'minutes', 'lap', 'balance', 'grip', 'changed', 'happened', 'call', 'note']
    """
    return _run_sheet([_sheet("", {})], invented=invented)


def run_sheet_of(connection: sqlite3.Connection, car: str | None = None, *, invented: bool = False) -> RunSheet:
    """The sheet of one car (by id), or of every car whose diffs are written down; else one with the shelf's diffs.

    What sits in a car is its set after all changes that were written down.
    """
    shelf = {row["diff"]: row for row in shelf_rows(connection)}
    sets: dict[str, dict[str, InCar]] = {}
    names: dict[str, str] = dict(connection.execute("SELECT id, name FROM cars").fetchall())
    for (of_car, position), there in in_cars(connection).items():
        sets.setdefault(of_car, {})[position] = there
    if car is not None:
        return _run_sheet([_sheet(names[car], _set_places(sets.get(car, {}), shelf))], invented=invented)
    if sets:
        ordered = sorted(sets, key=lambda one: names[one])
        return _run_sheet([_sheet(names[one], _set_places(sets[one], shelf)) for one in ordered], invented=invented)
    return _run_sheet([_sheet("", _shelf_places(shelf))], invented=invented)


def _run_sheet(sheets: list[SheetOfCar], *, invented: bool) -> RunSheet:
    return RunSheet(tuple(sheets), cautions=tuple(caution_in_words(one) for one in CAUTIONS), invented=invented)


def _sheet(car: str, known: dict[str, PlaceOnSheet]) -> SheetOfCar:
    places = tuple(known.get(position, PlaceOnSheet(position)) for position in POSITIONS)
    return SheetOfCar(shortened(car, LONGEST_NAME), places, tuple(_columns(places)))


def _set_places(found: dict[str, InCar], shelf: dict[str, dict[str, Any]]) -> dict[str, PlaceOnSheet]:
    found_places = {}
    for position, there in found.items():
        diffs: tuple[DiffOnSheet, ...] = ()
        if there.diff is not None:
            row = shelf.get(there.diff)
            diffs = (DiffOnSheet(shortened(there.what, LONGEST_NAME), "", "") if row is None else _on_sheet(row),)
        found_places[position] = PlaceOnSheet(position, diffs, there.instead or "", is_known=True)
    return found_places


def _shelf_places(shelf: dict[str, dict[str, Any]]) -> dict[str, PlaceOnSheet]:
    """The diffs that are together, at the place where each usually runs."""
    found: dict[str, list[DiffOnSheet]] = {}
    for row in shelf.values():
        if row["position"] and row["word"] != APART:
            found.setdefault(row["position"], []).append(_on_sheet(row))
    return {
        position: PlaceOnSheet(position, tuple(diffs))
        for position, diffs in found.items()
        if sum(len(diff.words) for diff in diffs) <= LONGEST_LIST
    }


def _on_sheet(row: dict[str, Any]) -> DiffOnSheet:
    word = row["word"] if row["word"] in WORDS_SHOWN else ""
    diff, build = (
        shortened(with_mark(name, row["mark"]), LONGEST_NAME) if name else ""
        for name in (row["label"], row["build_label"])
    )
    if row["word"] == APART:
        return DiffOnSheet(diff, "", "", word)
    viscosity = "" if row["viscosity_cst"] is None else f"{row['viscosity_cst']:,.0f} cSt"
    return DiffOnSheet(diff, build, shortened(row["fluid"] or viscosity, LONGEST_NAME), word)


def _columns(places: tuple[PlaceOnSheet, ...]) -> Iterator[SheetColumn]:
    """The eight things to write of a run, in the order in which they are known."""
    run = BY_NAME["run"]
    temperatures = tuple(
        SheetLine(f"{place.position}.diff_temp_c", place.position, "°C", instead=place.instead) for place in places
    )
    yield SheetColumn("temperature", "Diff [°C]", temperatures)
    minutes = (SheetLine(f"{place.position}.after_run_s", unit="min", instead=place.instead) for place in places)
    yield SheetColumn("minutes", "min after", tuple(minutes))
    yield SheetColumn("lap", "Best lap [s]", (SheetLine("best_lap_s", unit="s"),))
    corner = (("balance_entry", "entry"), ("balance_middle", "middle"), ("balance_exit", "exit"))
    yield SheetColumn(
        "balance",
        "Balance -2 understeer +2 oversteer",
        tuple(SheetLine(field, name, choices=BALANCE) for field, name in corner),
    )
    grip = [SheetLine(one, choices=run.field(one).choices) for one in ("grip", "grip_trend")]
    yield SheetColumn("grip", "Grip, and where it goes", tuple(grip))
    yield SheetColumn("changed", "Changed since the run before", (SheetLine("changed"),))
    yield SheetColumn("happened", "What happened", (SheetLine("happened"),))
    yield SheetColumn("call", "Call", (SheetLine("call", choices=run.field("call").choices),))
    yield SheetColumn("note", "Remark", (SheetLine("note"),))
