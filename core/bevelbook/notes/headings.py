"""Heading texts to canonical columns: the user's map, else exact synonyms; the unit after it in (), [] or bare."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.notes.decoding import FileRejected, rejected
from bevelbook.notes.note_columns import BY_NAME, NAMES, REJECT_FILE_COLUMNS, REQUIRED_COLUMNS, SYNONYMS, WITH_UNIT
from bevelbook.notes.table import DELIMITERS, Row, hinted_delimiter, sample_rows
from bevelbook.notes.wording import typed, with_option
from bevelbook.reading.faults import trimmed
from bevelbook.reading.options import ReadingOption
from bevelbook.reading.units import looks_like_unit, names_unit

IGNORED: Final = "ignore"
SEARCHED_ROWS: Final = 40


class Column(NamedTuple):
    """One column of the file. ``field`` is None if it is unknown; ``unit`` is the one in the heading, None if it has
    none, empty if the canonical name has it."""

    place: int
    heading: str
    field: Field | None
    unit: str | None = None


class Heading(NamedTuple):
    """The heading row of a file: its line, its columns, and the least width of a row."""

    row: int
    columns: tuple[Column, ...]
    cells: tuple[str, ...]
    delimiter: str

    @property
    def width(self) -> int:
        """Fields up to the last column with a heading."""
        return max((column.place + 1 for column in self.columns if column.heading), default=0)

    @property
    def line_before(self) -> int | None:
        """The place of the column that says which line a rejected row had, in a file of rejected rows; else None."""
        places = {folded(column.heading): column.place for column in self.columns if beside(column)}
        return places["line"] if places.keys() >= set(REJECT_FILE_COLUMNS) else None

    @property
    def known(self) -> dict[str, Column]:
        return {column.field.name: column for column in self.columns if column.field}


def folded(heading: str) -> str:
    """A heading without differences of case, blanks, underscores and dots.

    >>> folded(" Dry_Mass ")
    'dry mass'
    """
    plain = unicodedata.normalize("NFC", trimmed(heading)).casefold()
    return " ".join(plain.replace("_", " ").replace(".", " ").split())


def matched(heading: str, place: int, own: Mapping[str, str]) -> Column:
    """The column that a heading names; ``own`` maps folded headings to canonical names, or to ``ignore``."""
    plain = unicodedata.normalize("NFC", trimmed(heading))
    if not plain:
        return Column(place, "", None)
    low = folded(plain)
    if low in own:
        if own[low] == IGNORED:
            return Column(place, plain, None)
        field = BY_NAME[own[low]]
        return Column(place, plain, field, _unit_behind(plain, field)[1])
    for name, field in BY_NAME.items():
        if low == folded(name):
            return Column(place, plain, field, "" if field.kind == "quantity" else None)
    if low in SYNONYMS:
        return Column(place, plain, BY_NAME[SYNONYMS[low]])
    bare, unit = _split_unit(plain)
    if unit:
        meant = own.get(folded(bare)) or SYNONYMS.get(folded(bare))
        if meant is None and folded(bare) in WITH_UNIT:
            named = WITH_UNIT[folded(bare)]
            meant = named if names_unit(BY_NAME[named].unit or "1", unit) else None
        if meant is None:
            meant = next((one for one, field in BY_NAME.items() if folded(bare) == field.words and field.unit), None)
        if meant and meant != IGNORED and BY_NAME[meant].kind == "quantity":
            bracketed = plain[-1] in ")]"
            if bracketed or names_unit(BY_NAME[meant].unit or "1", unit):
                return Column(place, plain, BY_NAME[meant], unit)
    return Column(place, plain, next((field for field in BY_NAME.values() if low == field.words), None))


def find_heading(
    sample: str, *, own: Mapping[str, str], delimiter: str | None = None, line: int | None = None
) -> Heading:
    """The heading row of a text and its delimiter: those that give the most known headings.

    Raises FileRejected (no_heading, duplicate_header, missing_required).
    """
    given = delimiter or hinted_delimiter(sample)
    best: tuple[int, int, Heading] | None = None
    for one in [given] if given else DELIMITERS.values():
        found = heading_in(sample_rows(sample, one), own=own, line=line, delimiter=one)
        if found:
            score = len(found.known)
            if best is None or score > best[0]:
                best = (score, len(found.cells), found)
    if best is None:
        raise no_heading(line)
    return best[2]


def heading_in(rows: Sequence[Row], *, own: Mapping[str, str], line: int | None, delimiter: str) -> Heading | None:
    """The first row with the most known headings; a row given by its line is used as it is."""
    from bevelbook.notes.table import height

    best: tuple[int, Heading] | None = None
    start = 1
    for number, row in enumerate(rows[: line or SEARCHED_ROWS]):
        here = start
        start += height(row)
        if line is not None and here != line:
            continue
        columns = tuple(matched(cell, place, own) for place, cell in enumerate(row))
        score = sum(1 for column in columns if column.field)
        if score >= (1 if line is not None else 2) and (best is None or score > best[0]):
            best = (score, Heading(number, columns, tuple(row), delimiter))
    return best[1] if best else None


def check_heading(heading: Heading, line: int) -> None:
    """Raise FileRejected if two columns have the same name or meaning, or if day or diff is missing."""
    seen: dict[str, int] = {}
    for column in heading.columns:
        if not column.heading:
            continue
        for key in {column.heading.casefold(), f"\0{column.field.name}" if column.field else column.heading.casefold()}:
            if key in seen:
                raise rejected(
                    "duplicate_header",
                    f"columns {seen[key] + 1} and {column.place + 1} mean the same thing",
                    line=line,
                    found=column.heading,
                    remedy="Rename or delete one of them.",
                )
            seen[key] = column.place
    missing = [name for name in REQUIRED_COLUMNS if name not in heading.known]
    if missing:
        unknown_columns = [c.heading for c in heading.columns if c.heading and c.field is None]
        raise rejected(
            "missing_required",
            f"no column for {' and '.join(missing)}",
            line=line,
            found=", ".join(unknown_columns) or None,
            remedy=with_option(
                None,
                ReadingOption.COLUMNS,
                f"{_quoted(unknown_columns[0]) if unknown_columns else 'HEADING'}={missing[0]}",
            ),
        )


def no_heading(line: int | None) -> FileRejected:
    return rejected(
        "no_heading",
        "no row has known headings" if line is None else "that line has no known headings",
        line=line,
        remedy=f"Is it a table of notes? Name the line of the headings with {typed(ReadingOption.HEADER_LINE)} and the "
        f"columns with {typed(ReadingOption.COLUMNS)}, or start from 'bevelbook import --template'.",
    )


def own_map(pairs: Iterable[tuple[str, str]]) -> dict[str, str]:
    """The user's headings, folded, with canonical names. Raises UnknownNameError with near misses."""
    found: dict[str, str] = {}
    for heading, name in pairs:
        wanted = name.strip()
        low = folded(wanted)
        canonical = next((one for one in (*NAMES, IGNORED) if low == folded(one)), None) or SYNONYMS.get(low)
        if canonical is None:
            raise UnknownNameError(
                "field",
                wanted,
                [*NAMES, IGNORED],
                by_command=f"'bevelbook help import' lists the fields; {IGNORED} leaves the column out.",
            )
        found[folded(heading)] = canonical
    return found


def units_in(row: Row, heading: Heading) -> dict[int, str] | None:
    """The units by place, if a row below the heading has nothing else."""
    cells = {place: trimmed(cell) for place, cell in enumerate(row) if trimmed(cell)}
    if not cells or not all(looks_like_unit(cell.strip("()[]")) for cell in cells.values()):
        return None
    quantities = {column.place for column in heading.columns if column.field and column.field.kind == "quantity"}
    if not quantities & set(cells):
        return None
    return {place: cell.strip("()[]") for place, cell in cells.items() if place in quantities}


def beside(column: Column) -> bool:
    """Whether a column is one that the file of rejected rows has besides the input's own."""
    return column.field is None and folded(column.heading) in REJECT_FILE_COLUMNS


def _unit_behind(heading: str, field: Field) -> tuple[str, str | None]:
    bare, unit = _split_unit(heading)
    if unit and field.kind == "quantity" and (heading[-1] in ")]" or names_unit(field.unit or "1", unit)):
        return bare, unit
    return heading, None


def _split_unit(heading: str) -> tuple[str, str]:
    """``dry mass (g)``, ``dry mass [g]``, ``dry mass g``, ``dry_mass_g`` -> the name and the unit's text."""
    for opening, closing in ("()", "[]"):
        if heading.endswith(closing) and opening in heading:
            bare, _, unit = heading[:-1].rpartition(opening)
            return bare.strip(), unit.strip()
    bare, _, unit = heading.replace("_", " ").strip().rpartition(" ")
    return bare.strip(), unit.strip()


def _quoted(text: str) -> str:
    return f'"{text}"' if " " in text else text
