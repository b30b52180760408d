"""Which sheet of a workbook is imported: the only one with a heading of notes, else the one that a person names."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final, NamedTuple, Protocol

from bevelbook.notes.decoding import Decoding, FileRejected, rejected
from bevelbook.notes.headings import Heading
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.settings import ALL_SHEETS
from bevelbook.notes.table import NoteTable
from bevelbook.notes.wording import typed, with_option
from bevelbook.reading.options import ReadingOption

_SAMPLES: Final = 3
_NAMED: Final = 12


class SheetOfBook(NamedTuple):
    """A sheet of a workbook that holds cells: its name, and whether the workbook hides it."""

    name: str
    is_hidden: bool = False


class OpenBook(Protocol):
    """A workbook that was opened."""

    def sheets(self) -> list[SheetOfBook]:
        """Its sheets in their order."""

    def charts(self) -> list[str]:
        """The names of its sheets that are a chart, and have no cells."""

    def table(self, name: str) -> NoteTable:
        """The rows of a sheet."""


class SheetSeen(NamedTuple):
    """A sheet of the workbook as the report names it."""

    name: str
    is_hidden: bool
    has_heading: bool
    is_taken: bool = False

    @property
    def is_left(self) -> bool:
        """Whether nothing of it is read, also where all sheets are wanted."""
        return not self.is_taken and (self.is_hidden or not self.has_heading)

    def words(self) -> str:
        """The same for people."""
        found = "heading of notes" if self.has_heading else "no heading of notes"
        if self.is_taken:
            return f"{self.name} (taken{', hidden' if self.is_hidden else ''})"
        return f"{self.name} ({'hidden, ' if self.is_hidden else ''}{found})"


class ChosenSheet(NamedTuple):
    """The sheet that is imported; ``is_said`` where a person named it, so that it is a part of the file."""

    name: str
    is_said: bool
    seen: tuple[SheetSeen, ...]


HeadingOf = Callable[[NoteTable], Heading | None]
"""Finds the heading of a sheet. May raise FileRejected where it sees one that it cannot use."""


class BookInParts:
    """A workbook of which several sheets may be read: its bytes are hashed once, and each sheet is searched once for a
    heading, whatever sheet is read then."""

    def __init__(self, book: OpenBook, decoding: Decoding) -> None:
        self._book = book
        self._sheets = book.sheets()
        self.decoding = decoding
        self.found: dict[str, Heading | bool | None] = {}
        """The heading of each sheet that was searched; True where there is one that cannot be used as it is."""

    def sheets(self) -> list[SheetOfBook]:
        """Its sheets in their order."""
        return self._sheets

    def charts(self) -> list[str]:
        """The names of its sheets that are a chart, and have no cells."""
        return self._book.charts()

    def table(self, name: str) -> NoteTable:
        """The rows of a sheet."""
        return self._book.table(name)

    def headings(self, heading_of: HeadingOf) -> Mapping[str, Heading | bool | None]:
        """The headings of all sheets; the parts of a file are all searched alike."""
        if not self.found:
            self.found = {one.name: _heading(heading_of, self.table(one.name)) for one in self._sheets}
        return self.found


def choose_sheet(
    book: BookInParts, wanted: str | None, headings: Mapping[str, Heading | bool | None], required: Iterable[str]
) -> ChosenSheet:
    """The sheet to import. A hidden sheet is taken only by its name.

    Raises FileRejected: several_sheets where more than one sheet has a heading and none is named, no_sheet where there
    is none with that name, or it is a chart.
    """
    sheets = book.sheets()
    seen = [SheetSeen(one.name, one.is_hidden, _is_of_notes(headings[one.name], required)) for one in sheets]
    if not any(one.has_heading for one in seen):
        seen = [one._replace(has_heading=headings[one.name] is not None) for one in seen]
    if wanted is not None:
        name = _named(sheets, wanted, book.charts())
    else:
        candidates = [one.name for one in seen if one.has_heading and not one.is_hidden]
        if len(candidates) > 1:
            raise _several(seen, candidates, headings)
        visible = [one.name for one in sheets if not one.is_hidden] or [sheets[0].name]
        name = candidates[0] if candidates else visible[0]
    taken = tuple(one._replace(is_taken=one.name == name) for one in seen)
    return ChosenSheet(name, wanted is not None, taken)


def look_at_sheets(
    book: BookInParts, headings: Mapping[str, Heading | bool | None], required: Iterable[str]
) -> tuple[SheetSeen, ...]:
    """All sheets of a workbook, with whether each has a heading of notes; none is taken."""
    seen = choose_sheet(book, book.sheets()[0].name, headings, required).seen
    return tuple(one._replace(is_taken=False) for one in seen)


def all_of_notes(seen: Sequence[SheetSeen]) -> list[str]:
    """The sheets that are imported where all are wanted: those with a heading of notes that are not hidden."""
    return [one.name for one in seen if one.has_heading and not one.is_hidden]


def sheet_as_diff(seen: Sequence[SheetSeen]) -> FileQuestion:
    """Asks whether the name of the sheet is the diff, where no column names one."""
    taken = next(one.name for one in seen if one.is_taken)
    return FileQuestion(
        ReadingOption.SHEET_AS_DIFF,
        f"No column names the diff. Is the sheet's name, {taken}, the diff of all its rows?",
        (PossibleAnswer("true", f"yes, they are rows of {taken}"),),
        may_be_none=True,
    )


def sheet_words(seen: Sequence[SheetSeen]) -> str:
    """The sheets of a workbook for people."""
    more = f", and {len(seen) - _NAMED} more" if len(seen) > _NAMED else ""
    return ", ".join(one.words() for one in seen[:_NAMED]) + more


def not_read_words(seen: Sequence[SheetSeen], *, by_command: bool = True) -> str:
    """Which sheets nothing was read of, and what to do with what they hold; empty where there are none. A page has no
    command line: there ``by_command`` is false."""
    left = [f"{one.name} (hidden)" if one.is_hidden else one.name for one in seen if one.is_left]
    if not left:
        return ""
    more = f" and {len(left) - _NAMED} more" if len(left) > _NAMED else ""
    how = "with 'bevelbook record'" if by_command else "by its own form"
    return (
        f"Not read: {', '.join(left[:_NAMED])}{more}. A sheet is read where it is not hidden and its headings are of "
        f"notes; what else it holds, such as oils or parts, is written down {how}."
    )


def refuse_sheet_of_text(wanted: str | None) -> FileRejected:
    """A text file has no sheets."""
    return rejected(
        "no_sheet",
        "the file is text, and has no sheets",
        found=wanted,
        remedy=f"Leave {typed(ReadingOption.SHEET if wanted else ReadingOption.SHEET_AS_DIFF)} out.",
    )


def _heading(heading_of: HeadingOf, table: NoteTable) -> Heading | bool | None:
    """The heading of a sheet; True where there is one that cannot be used as it is."""
    try:
        return heading_of(table)
    except FileRejected as fault:
        if fault.code == "workbook_damaged":
            raise
        return True


def _is_of_notes(heading: Heading | bool | None, required: Iterable[str]) -> bool:
    """Whether a heading names what every row of notes needs."""
    return heading is True or (isinstance(heading, Heading) and set(required) <= heading.known.keys())


def _named(sheets: Sequence[SheetOfBook], wanted: str, charts: Sequence[str]) -> str:
    what = f"there is no sheet named {wanted}"
    for same in (str, str.casefold):
        found = next((one.name for one in sheets if same(one.name).strip() == same(wanted).strip()), None)
        if found is not None:
            return found
        chart = next((one for one in charts if same(one).strip() == same(wanted).strip()), None)
        if chart is not None:
            what = f"the sheet {chart} is a chart, which holds no rows"
            break
    raise rejected(
        "no_sheet",
        what,
        found=", ".join(one.name for one in sheets[:_NAMED]),
        remedy=with_option(None, ReadingOption.SHEET, _quoted(sheets[0].name)),
    )


def _several(
    seen: Sequence[SheetSeen], candidates: Sequence[str], headings: Mapping[str, Heading | bool | None]
) -> FileRejected:
    answers = [PossibleAnswer(name, f"the sheet {name}: {_cells(headings[name])}") for name in candidates]
    answers.append(PossibleAnswer(ALL_SHEETS, "all of these, each as a part of its own"))
    question = FileQuestion(
        ReadingOption.SHEET,
        "Which sheet is to be imported?",
        tuple(answers),
        samples=tuple(candidates[:_SAMPLES]),
    )
    return rejected(
        "several_sheets",
        f"{len(candidates)} sheets have a heading of notes. Sheets: {sheet_words(seen)}",
        remedy=with_option(None, ReadingOption.SHEET, f"{_quoted(candidates[0])} or {ALL_SHEETS}"),
        questions=(question,),
    )


def _cells(heading: Heading | bool | None) -> str:
    if not isinstance(heading, Heading):
        return "a heading in two lines"
    return ", ".join(column.heading for column in heading.columns if column.heading)[:80]


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name
