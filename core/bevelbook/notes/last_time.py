"""How a kept file with the same headings was read, so that the next one of its kind need not be asked about again."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import suppress
from typing import BinaryIO, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, shown
from bevelbook.notes.bundled_profiles import LANGUAGES, language_profile
from bevelbook.notes.corrected_lines import is_of_rejects
from bevelbook.notes.decoding import FileRejected, unpacked
from bevelbook.notes.headings import IGNORED
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.settings import Settings
from bevelbook.notes.source import source_of
from bevelbook.reading.heading_words import folded

_LOOKED_AT: Final = 12
"""So many of the newest kept files are looked at, since each of them is opened."""
_OF_ONE_FILE: Final = (
    *("lines", "constants", "year", "settled", "split", "split_place"),
    *("encoding", "sheet_as_diff", "allow_out_of_range"),
)
"""What was said of one file and may be wrong of the next: its rows, its diff, its year."""
_ORDERS: Final = {"dmy": "the day", "mdy": "the month", "ymd": "the year"}
_SHOWN: Final = 3
"""Words of a field, and names of months, that are named one by one."""
_MARKS: Final = {".": "the point", ",": "the comma"}


class LastTime(NamedTuple):
    """A kept file with the headings of another: what it is called, when it was read, and what was said of it that may
    hold for the other too; ``read`` are the fields that its columns are, as the other is then read."""

    called: str
    read_at: str
    settings: Settings
    headings: frozenset[str]
    read: tuple[str, ...] = ()

    def words(self) -> list[str]:
        """What was said of these headings, for people: of a language its name alone, not all of its words."""
        found, said = [], self.settings
        for language, code in LANGUAGES.items():
            profile = language_profile(code)
            if profile.columns.keys() <= said.columns.keys():
                found.append(f"the headings are {language.capitalize()}")
                said = _without(said, profile)
        columns = {heading: name for heading, name in said.columns.items() if heading in self.headings}
        found += _words(said._replace(columns=columns))
        if self.read:
            found.append(f"its columns: {', '.join(_called(name) for name in self.read)}")
        return found


def last_time(connection: sqlite3.Connection, file: BinaryIO, name: str) -> LastTime | None:
    """The newest kept file with the headings of a file, of which something was said; None where there is none."""
    if is_of_rejects(name):
        return None
    found = connection.execute(
        "SELECT f.name, f.read_at, f.options, b.packed FROM note_files f JOIN note_bytes b ON b.sha256 = f.sha256 "
        "WHERE f.options IS NOT NULL ORDER BY f.read_at DESC, f.id DESC LIMIT ?",
        (_LOOKED_AT,),
    )
    for called, read_at, options, packed in found.fetchall():
        said = Settings(**json.loads(options))
        common = said._replace(**{one: Settings._field_defaults[one] for one in _OF_ONE_FILE})
        if said.split_place or said.settled or is_of_rejects(called) or not common.said():
            continue
        theirs = _headings(io.BytesIO(unpacked(packed)), called, said)
        ours = _headings(file, name, common) if theirs else None
        if theirs and ours and theirs.cells == ours.cells:
            return LastTime(called, read_at, common, frozenset(ours.cells), ours.read)
    return None


class _Headings(NamedTuple):
    """The headings of a file, and the fields that its columns are."""

    cells: tuple[str, ...]
    read: tuple[str, ...]


def _headings(file: BinaryIO, name: str, settings: Settings) -> _Headings | None:
    """The headings of a file read with these settings; None where it cannot be read with them."""
    with suppress(FileRejected, BevelbookError):
        heading = source_of(file, name, settings, pack=False, check=False).heading
        return _Headings(tuple(folded(cell) for cell in heading.cells), tuple(heading.known))
    return None


def _without(said: Settings, profile: Settings) -> Settings:
    """What was said besides a profile."""
    return said._replace(
        columns={heading: name for heading, name in said.columns.items() if profile.columns.get(heading) != name},
        words={name: words for name, words in said.words.items() if profile.words.get(name) != words},
        months={month: number for month, number in said.months.items() if profile.months.get(month) != number},
    )


def _called(name: str) -> str:
    return BY_NAME[name].words if name in BY_NAME else name


def _some(texts: Iterable[str]) -> str:
    """The first few of many texts, and how many more there are."""
    listed = [*texts]
    more = len(listed) - _SHOWN
    return ", ".join(listed[:_SHOWN]) + (f" and {more} more" if more > 0 else "")


def _words(said: Settings) -> Iterator[str]:
    if said.decimal:
        yield f"the decimal mark is {_MARKS.get(said.decimal, said.decimal)}"
    if said.date_order:
        yield f"in a date {_ORDERS.get(said.date_order, said.date_order)} comes first"
    for heading, name in said.columns.items():
        if name == IGNORED:
            yield f'"{heading}" is left out'
        else:
            yield f'"{heading}" is the {_called(name)}'
    if said.temp_unit:
        yield f"temperatures are in {'K' if said.temp_unit == 'K' else f'°{said.temp_unit}'}"
    for name, unit in said.units.items():
        yield f"the {BY_NAME[name].words} is in {unit}"
    if said.date_base:
        yield f"day numbers count from {said.date_base}"
    if said.sheet:
        yield "all its sheets" if said.all_sheets else f"the sheet {said.sheet}"
    if said.header_line:
        yield f"the headings are in line {said.header_line}"
    if said.transpose:
        yield "each column is a row of notes"
    if said.delimiter:
        yield f"the cells are divided by {'a tab' if said.delimiter == chr(9) else said.delimiter}"
    if said.as_above:
        yield f"a blank cell means the one above, in {', '.join(BY_NAME[name].words for name in said.as_above)}"
    for name, words in said.words.items():
        yield f"in the {_called(name)} {_some(f'{shown(word)} is {meant}' for word, meant in words.items())}"
    if said.months:
        yield f"names of months: {_some(said.months)}"
