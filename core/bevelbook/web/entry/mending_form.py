"""Rejected rows of a kept file as a form: each a card with why, what its wrong cell may have meant, and all its cells;
and what was typed in it."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Final, NamedTuple

from bevelbook.declare.errors import shown
from bevelbook.display.begun import begun
from bevelbook.notes.changed_rows import LOOKS_CHANGED
from bevelbook.notes.headings import Heading, beside
from bevelbook.notes.mending import Mend, MendedBefore, StillWrong
from bevelbook.notes.mending_answers import answers_of
from bevelbook.notes.note_columns import BY_NAME, MASSES, REFERRED, REJECT_FILE_COLUMNS
from bevelbook.notes.rejected_rows import RejectedRow
from bevelbook.notes.report import REASONS
from bevelbook.notes.wording import IMPORT_OPTIONS, without_options
from bevelbook.reading.heading_words import folded
from bevelbook.reading.laps import takes_minutes
from bevelbook.reading.options import ReadingOption
from bevelbook.records import BY_NAME as KINDS_BY_NAME
from bevelbook.store.lookup import labels_of
from bevelbook.web.shared.form_inputs import keypad_of, may_be_negative, unit_of
from bevelbook.web.shared.short_text import short
from bevelbook.web.shared.typed_form import TypedForm

ROW: Final = "row"
"""The hidden field with the id of each row of the form; ``line.ID`` beside it has its line."""
LINE: Final = "line."
HEADING: Final = "shown.heading."
CELL: Final = "cell."
SHOWN: Final = "shown."
TAKE: Final = "take."
AS_TYPED, TEXT, AS_IT_IS, CHANGE = "", "=", "!", "~"
"""What is chosen for a cell: what is typed below, a text that follows, the row as it is, or that it changes the earlier
row that it looks like."""
OUT_OF_RANGE: Final = "out_of_range"
_AS_IT_IS_WORDS: Final = {
    OUT_OF_RANGE: "It is right: take it as it is",
    LOOKS_CHANGED: "It is another row: take it too",
    "preamble": "It is a row of the table: take it",
}
"""Reasons for which the row may be right as it is, with the words of the button."""
_MASSES: Final = frozenset(("mass_mismatch", "total_below_dry"))
_OF_TOTAL: Final = "summary_row"
_SUMMED: Final = 60
_NAMES_LISTED: Final = 40
_ROWS: Final = 20
_MOST_FIELDS: Final = 1_800
"""Fewer than a form may have, which has more besides."""


class CellField(NamedTuple):
    """A cell as an input of the form, under its heading."""

    name: str
    words: str
    unit: str
    typed: str
    keypad: str
    signed: bool
    choices: tuple[str, ...]
    fault: str = ""
    kind: str = "text"
    about: str = ""
    greyed: str = ""
    origin: str = ""
    retyped: bool = False
    """Whether what is in it is wrong."""
    shown: tuple[str, str] = ("", "")
    """What it was drawn with: the hidden field with it."""
    in_minutes: bool = False


class ChoiceField(NamedTuple):
    """What a cell may have meant, as buttons."""

    name: str
    words: str
    choices: tuple[tuple[str, str], ...]
    typed: str
    fault: str = ""
    unit: str = ""
    about: str = ""
    origin: str = ""
    is_needed: bool = False


class RowCard(NamedTuple):
    """A rejected row as it is shown: why, the buttons and the cells that are wrong, and the other cells behind a
    line; ``is_still_wrong`` where it was mended and is not in."""

    id: str
    line: int
    why: str
    ways: tuple[ChoiceField, ...]
    first: tuple[CellField, ...]
    others: tuple[CellField, ...]
    summary: str
    is_still_wrong: bool = False
    is_open: bool = False


class RowSent(NamedTuple):
    """A row as it was sent: its line, its cells by place, and what was chosen for a cell by place."""

    id: str
    line: int
    cells: Mapping[int, str]
    drawn: Mapping[int, str]
    taken: Mapping[int, str]

    @property
    def is_to_change(self) -> bool:
        """Whether it is to change the earlier row that it looks like."""
        return CHANGE in self.taken.values()

    def mend(self, row: RejectedRow) -> Mend | None:
        """The row with what was typed and chosen; None where it is as it was. Raises TwoAnswersError."""
        cells = [*row.cells, *("" for _ in range(max(self.cells, default=-1) + 1 - len(row.cells)))]
        for place, text in self.cells.items():
            if not is_same_text(text, cells[place]):
                cells[place] = text
        is_as_it_is = False
        for place, taken in self.taken.items():
            is_typed = not is_same_text(self.cells.get(place, ""), self.drawn.get(place, ""))
            if taken.startswith(TEXT) and place < len(cells):
                text = taken.removeprefix(TEXT)
                if is_typed and self.cells[place].strip() != text:
                    raise TwoAnswersError(text, self.cells[place])
                cells[place] = text
            is_as_it_is |= taken == AS_IT_IS
        kept = [*row.cells, *("" for _ in cells[len(row.cells) :])]
        if cells == kept and not is_as_it_is:
            return None
        width = len(row.cells)
        while len(cells) > width and not cells[-1]:
            cells.pop()
        return Mend(row, cells, is_as_it_is and row.reason == OUT_OF_RANGE)

    @property
    def as_it_is(self) -> dict[int, str]:
        """What was chosen of the row itself, not for a cell, by place."""
        return {place: one for place, one in self.taken.items() if not one.startswith(TEXT)}

    def texts(self) -> dict[int, str]:
        """The cells with what was chosen for them, by place."""
        return {**self.cells, **{place: one[1:] for place, one in self.taken.items() if one.startswith(TEXT)}}

    def is_touched(self, was: Sequence[str]) -> bool:
        """Whether it is not as it ``was`` when it was rejected."""
        there = {place: text for place, text in self.texts().items() if place < len(was) or text}
        return any(place >= len(was) or not is_same_text(text, was[place]) for place, text in there.items())

    def said(self, headings: Sequence[str]) -> str:
        """What was sent of it, in a line to copy."""
        texts = sorted(self.texts().items())
        texts_named = (f"{named(headings, place)}: {text}" for place, text in texts if text.strip())
        return "; ".join(texts_named)


class TwoAnswersError(Exception):
    """A cell was both chosen and typed, and they differ."""

    def __init__(self, chosen: str, typed: str) -> None:
        self.words = (
            f"You chose {short(chosen, _SUMMED)} and typed {short(typed, _SUMMED)}: choose “As written below”, or take "
            "out what you typed."
        )


def rows_a_page(heading: Heading) -> int:
    """How many rows a page shows: fewer of a sheet with very many columns."""
    return max(1, min(_ROWS, _MOST_FIELDS // (2 * (len(heading.cells) + 4))))


def rows_sent(form: TypedForm) -> list[RowSent]:
    """The rows of a form that was sent, in its order."""
    return [
        RowSent(
            one,
            int(line) if (line := form.text(f"{LINE}{one}")).isdecimal() and len(line) <= len(str(2**31)) else 0,
            _by_place(form, f"{CELL}{one}."),
            _by_place(form, f"{SHOWN}{one}."),
            _by_place(form, f"{TAKE}{one}."),
        )
        for one in dict.fromkeys(form.all(ROW))
    ]


def headings_sent(form: TypedForm) -> list[str]:
    """The headings that the form was drawn with."""
    found = _by_place(form, HEADING)
    return [found.get(place, "") for place in range(max(found, default=-1) + 1)]


def _by_place(form: TypedForm, prefix: str) -> dict[int, str]:
    return {int(place): text for place, text in form.after(prefix).items() if place.isdecimal() and len(place) <= 4}


def is_same_text(text: str, other: str) -> bool:
    """Whether two texts are the same once a browser has sent them: it writes line breaks in its own way, and has no
    sign for a zero character.

    >>> is_same_text("a\\r\\nb", "a\\nb"), is_same_text("1.2", "1.20")
    (True, False)
    """
    return _as_sent(text) == _as_sent(other)


def _as_sent(text: str) -> str:
    return re.sub("\r\n?", "\n", text).replace("\0", "\ufffd").encode("utf-8", "replace").decode()


def card_of(
    connection: sqlite3.Connection,
    heading: Heading,
    row: RejectedRow,
    today: date,
    *,
    sent: RowSent | None = None,
    still: StillWrong | None = None,
    fault: str = "",
) -> RowCard:
    """A row as it is shown; with what was ``sent``, and why it is ``still`` not in, or what else is wrong with what was
    typed and chosen. What was chosen for a cell is in it then: the next reason may be about another one."""
    reason, column, value = (still or row).reason, (still or row).column, (still or row).value
    width = max(len(heading.cells), len(row.cells))
    headings = [heading.cells[place] if place < len(heading.cells) else "" for place in range(width)]
    own = [place for place in range(width) if folded(headings[place]) not in REJECT_FILE_COLUMNS or not headings[place]]
    faulty = [place for place in _faulty(heading, reason, column) if place in own]
    words = without_options((still or row).words) or REASONS.get(reason, reason)
    why = f"{fault} {_why(headings, faulty, value, words, reason)}".strip()
    cells: dict[int, CellField] = {}
    texts = {} if sent is None else sent.cells if fault else sent.texts()
    for place in own:
        typed = texts.get(place, row.cells[place] if place < len(row.cells) else "")
        cells[place] = _cell(connection, heading, row, place, headings, typed)
    chosen = {} if sent is None else sent.taken if fault else sent.as_it_is
    ways = _ways(connection, row, reason, column, value, faulty, (still or row).words, chosen, headings, today)
    others = tuple(field for place, field in cells.items() if place not in faulty)
    filled = [one.typed for one in others if one.typed.strip()]
    return RowCard(
        row.id,
        row.line,
        why,
        ways,
        tuple(cells[place]._replace(retyped=True) for place in faulty),
        others,
        short(", ".join(filled), _SUMMED),
        still is not None or bool(fault),
        not faulty,
    )


def _faulty(heading: Heading, reason: str, column: str | None) -> list[int]:
    """The places of the cells that are seen at once."""
    names = [column] if column else []
    if reason in _MASSES:
        names = [*MASSES]
    elif reason == _OF_TOTAL:
        names = ["diff", "builder"]
    return [heading.known[name].place for name in names if name in heading.known]


def _why(headings: Sequence[str], faulty: Sequence[int], value: str | None, words: str, reason: str) -> str:
    """Why a row was rejected, as a sentence with the cell it is about."""
    if len(faulty) == 1 and value and reason != LOOKS_CHANGED:
        words = f"{named(headings, faulty[0])} is {shown(short(value, _SUMMED))}: {words}"
    words = begun(words).strip()
    return words if words.endswith((".", "?", "!")) else f"{words}."


def named(headings: Sequence[str], place: int) -> str:
    """The heading of a cell as it is written; the name of a note column in words."""
    heading = headings[place].strip() if place < len(headings) else ""
    field = BY_NAME.get(heading)
    words = field.words if field is not None else heading
    return short(begun(words), _SUMMED) or f"Column {place + 1}"


def _cell(
    connection: sqlite3.Connection,
    heading: Heading,
    row: RejectedRow,
    place: int,
    headings: Sequence[str],
    typed: str,
) -> CellField:
    column = heading.columns[place] if place < len(heading.columns) else None
    field = column.field if column and not beside(column) else None
    unit = (column.unit or unit_of(field)) if column and field and field.is_number and column.unit is not None else ""
    names: tuple[str, ...] = ()
    if field is not None and field.name in REFERRED:
        names = tuple(reversed(labels_of(connection, KINDS_BY_NAME[REFERRED[field.name]])))[:_NAMES_LISTED]
    elif field is not None:
        names = field.choices
    return CellField(
        f"{CELL}{row.id}.{place}",
        named(headings, place),
        unit,
        typed,
        keypad_of(field) if field is not None else "",
        field is not None and field.is_number and may_be_negative(field),
        names,
        shown=(f"{SHOWN}{row.id}.{place}", typed),
        in_minutes=field is not None and takes_minutes(field),
    )


def _ways(
    connection: sqlite3.Connection,
    row: RejectedRow,
    reason: str,
    column: str | None,
    value: str | None,
    faulty: Sequence[int],
    words: str,
    chosen_before: Mapping[int, str],
    headings: Sequence[str],
    today: date,
) -> tuple[ChoiceField, ...]:
    """What the reason of a row allows as an answer, as buttons."""
    place = faulty[0] if len(faulty) == 1 else None
    choices = [(f"{TEXT}{one.text}", one.words) for one in answers_of(connection, reason, column, value, today)]
    if place is None:
        choices = []
    if reason == LOOKS_CHANGED:
        choices.append((CHANGE, "Change the earlier row by it"))
    if reason in _AS_IT_IS_WORDS and (reason != OUT_OF_RANGE or _may_be_right(words)):
        choices.append((AS_IT_IS, _AS_IT_IS_WORDS[reason]))
    if not choices:
        return ()
    at = place or 0
    chosen = chosen_before.get(at, AS_TYPED)
    if chosen not in {value for value, _ in choices}:
        chosen = AS_TYPED
    title = named(headings, at) if place is not None else "This row"
    return (ChoiceField(f"{TAKE}{row.id}.{at}", title, (*choices, (AS_TYPED, "As written below")), chosen),)


def _may_be_right(words: str) -> bool:
    """Whether a value is only outside the range of sane ones, not of what is possible."""
    return IMPORT_OPTIONS[ReadingOption.OUT_OF_RANGE].name in words


def differs_from(before: MendedBefore, heading: Heading, cells: Mapping[int, str]) -> list[tuple[str, str, str]]:
    """Where a row came in with other cells: heading, what is in, and what was typed."""
    own = [place for place, cell in enumerate(heading.cells) if folded(cell) not in REJECT_FILE_COLUMNS]
    return [
        (named(heading.cells, place), there, here)
        for place, there in zip(own, before.cells, strict=False)
        for here in [cells.get(place, "").strip()]
        if not is_same_text(there, here)
    ]
