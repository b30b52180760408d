"""The run sheet with all fields: every field of a run, from the declaration of the record, in the order of a day."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from bevelbook.declare.fields import Field, SheetTime
from bevelbook.declare.vocabulary import POSITIONS
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.records import BY_NAME, Kind
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


class AllFieldsSheet(NamedTuple):
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
    when: SheetTime
    title: str
    each_run: bool
    cautions: tuple[str, ...]


_DAY: Final = (
    _Time("day", "The day", False, ("oil-on-floor",)),
    _Time("before", "Before the run", True, ("wheels-on-stand",)),
    _Time("coming in", "As it comes in", True, ("hot-parts", "lipo")),
    _Time("laps", "The laps", True, ()),
    _Time("driving", "How it drove", True, ()),
    _Time("after", "What now", True, ("oil-in-eye", "oil-on-skin")),
)
_LAST: Final = _DAY[-1].when


def all_fields_sheet(invented: bool = False) -> AllFieldsSheet:
    """The sheet; ``invented`` says whether the database that it is printed for is invented.

    A field of a run that is declared for no time of the day goes into the last group; none is lost.

    >>> all_fields_sheet().groups[0].entries[0].about
    'Day'
    """
    groups = []
    for time in _DAY:
        entries = [entry for kind, field in _fields_at(time.when) for entry in _entries(kind, field)]
        cautions = tuple(caution_in_words(one) for one in time.cautions)
        groups.append(Group(time.title, time.each_run, tuple(entries), cautions))
    return AllFieldsSheet("Run sheet, all fields", tuple(groups), invented=invented)


def _fields_at(when: SheetTime) -> list[tuple[Kind, Field]]:
    """The fields that are written down at one time, in order. What has no time comes last, but for the label, which the
    tool makes itself, and for what says which diff of the run is meant."""
    run, run_diff = BY_NAME["run"], BY_NAME["run_diff"]
    timed = [(kind, field) for kind in (run, run_diff) for field in kind.fields if field.on_run_sheet == when]
    if when == _LAST:
        timed += [(run, field) for field in run.fields if field.on_run_sheet is None and field.name != run.label]
    placed = [one for one in timed if one[1].sheet_after is None]
    for kind, field in timed:
        if field.sheet_after is not None:
            names = [f"{other.table}.{before.name}" for other, before in placed]
            placed.insert(names.index(field.sheet_after) + 1, (kind, field))
    return placed


def _entries(kind: Kind, field: Field) -> list[SheetEntry]:
    if kind.name == "run":
        return [_entry(field.name, field, "")]
    return [_entry(f"{position}.{field.name}", field, f", {position}") for position in POSITIONS]


def _entry(name: str, field: Field, where: str) -> SheetEntry:
    unit = SHOWN_UNIT.get(field.unit or "", field.unit or "") if field.is_number else ""
    choices = field.choices
    if field.kind == "whole" and field.minimum == -2 and field.maximum == 2:
        choices = ("-2", "-1", "0", "+1", "+2")
    return SheetEntry(name, f"{field.about}{where}", unit, choices)
