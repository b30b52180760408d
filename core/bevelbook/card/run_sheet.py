"""A blank sheet for the pits: the fields of a run, from the declaration of the record, in the order of a day."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST, caution_in_words

RUNS_ON_A_SHEET: Final = 4


class SheetEntry(NamedTuple):
    """One thing to write down."""

    name: str
    about: str
    unit: str
    choices: tuple[str, ...]


class Group(NamedTuple):
    """What is written at one time of the day, with the cautions of that time."""

    title: str
    each_run: bool
    entries: tuple[SheetEntry, ...]
    cautions: tuple[str, ...]


class RunSheet(NamedTuple):
    """The sheet, in the order of a day."""

    title: str
    groups: tuple[Group, ...]
    runs: int = RUNS_ON_A_SHEET
    rule: str = RULES_FIRST
    invented: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The sheet for programs."""
        groups = [{**group._asdict(), "entries": [entry._asdict() for entry in group.entries]} for group in self.groups]
        return {**self._asdict(), "groups": groups}


class _Time(NamedTuple):
    title: str
    each_run: bool
    fields: tuple[str, ...]
    cautions: tuple[str, ...]


_DAY: Final = (
    _Time("The day", False, ("run_on", "event", "venue", "car", "driver", "noted_by"), ("oil-on-floor",)),
    _Time(
        "Before the run",
        True,
        (
            "day_order",
            "started_at",
            "surface_state",
            "grip",
            "grip_trend",
            "air_temp_c",
            "track_temp_c",
            "run_diffs.build",
            "tyres",
            "tyre_runs",
            "changed",
        ),
        ("wheels-on-stand",),
    ),
    _Time("As it comes in", True, ("run_diffs.diff_temp_c", "run_diffs.temp_taken"), ("hot-parts", "lipo")),
    _Time("The laps", True, ("runs", "laps", "lap_times", "best_lap_s", "best_five_s"), ()),
    _Time(
        "How it drove",
        True,
        ("balance_entry", "balance_middle", "balance_exit", "forward_drive", "side_bite", "happened"),
        (),
    ),
    _Time("What now", True, ("call", "note"), ("oil-in-eye", "oil-on-skin")),
)
_MADE_BY_THE_TOOL: Final = "label"


def run_sheet(invented: bool = False) -> RunSheet:
    """The sheet; ``invented`` is what the database says of itself that it is printed for.

    A field of a run that no time of the day names stands in the last group, so that none is lost.

    >>> run_sheet().groups[0].entries[0].about
    'Day'
    """
    run = BY_NAME["run"]
    placed = {_MADE_BY_THE_TOOL, *(name for time in _DAY for name in time.fields)}
    others = tuple(field.name for field in run.fields if field.name not in placed)
    groups = []
    for place, time in enumerate(_DAY):
        names = (*time.fields, *(others if place == len(_DAY) - 1 else ()))
        entries = [entry for name in names for entry in _entries(name)]
        cautions = tuple(caution_in_words(one) for one in time.cautions)
        groups.append(Group(time.title, time.each_run, tuple(entries), cautions))
    return RunSheet("Run sheet", tuple(groups), invented=invented)


def _entries(name: str) -> list[SheetEntry]:
    _, dot, column = name.partition(".")
    if not dot:
        return [_entry(name, BY_NAME["run"].field(name), "")]
    field = BY_NAME["run_diff"].field(column)
    return [_entry(f"{position}.{column}", field, f", {position}") for position in POSITIONS]


def _entry(name: str, field: Field, where: str) -> SheetEntry:
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "") if field.is_number else ""
    choices = field.choices
    if field.kind == "whole" and field.minimum == -2 and field.maximum == 2:
        choices = ("-2", "-1", "0", "+1", "+2")
    return SheetEntry(name, f"{field.about}{where}", unit, choices)
