"""What the quotes of one line may mean, where they are not those of RFC 4180: escapes, blanks before a quote, curly
quotes, a whole line in quotes.

A line is read in another way only where its plain reading fails or does not fit the table, and one other reading does.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Sequence
from typing import Final

_PAIRS: Final = {"“": "”", "„": "“”", "«": "»", "”": "”"}
"""Quotation marks that open, with those that close them."""
_BLANKS: Final = " \u00a0"


def has_odd_quotes(text: str, delimiter: str) -> bool:
    """Whether a quote comes behind a delimiter and a blank, or a curly quote is in the text: cells may be torn."""
    return any(mark in text for mark in (f'{delimiter} "', '  "', '\u00a0"', *_PAIRS))


def blanks_go_before(cells: Sequence[str]) -> bool:
    """Whether every cell of a heading but the first has a blank before it, which then belongs to the delimiter.

    >>> blanks_go_before(["date", " diff", " runs"]), blanks_go_before(["date", " diff", "runs"])
    (True, False)
    """
    return len(cells) > 1 and all(cell[:1] == " " for cell in cells[1:])


def without_quotes_behind_blanks(cell: str) -> str:
    """A cell with the quotes taken off that a blank goes before.

    >>> without_quotes_behind_blanks(' "diff"'), without_quotes_behind_blanks('"diff"')
    (' diff', '"diff"')
    """
    plain = cell.strip()
    is_quoted = len(plain) > 1 and cell[0] in _BLANKS and plain[0] == plain[-1] == '"'
    return f" {plain[1:-1]}" if is_quoted else cell


def split_line(line: str, delimiter: str) -> list[str]:
    """The cells of one line alone; a quote that is not closed in it ends with it. A text that is not one line, such as
    a cell with a line break, is cut at every delimiter.

    >>> split_line('a,"b, c', ","), split_line("a,\\nb, c", ",")
    (['a', 'b, c'], ['a', '\\nb', ' c'])
    """
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        return cells_as_written(line, delimiter)


def cells_as_written(line: str, delimiter: str) -> list[str]:
    """A line that could not be read, cut at every delimiter: joined by it, it is the line again.

    >>> cells_as_written('a,"b"x\\n', ",")
    ['a', '"b"x']
    """
    return line.rstrip("\r\n").split(delimiter)


def looks_torn(row: list[str]) -> bool:
    """Whether a quote opens a cell behind blanks, or a curly one does, and closes a later cell: one cell in pieces.

    >>> looks_torn(["K-01", ' "leaked', ' left"']), looks_torn(["K-01", '"leaked, left"']), looks_torn(["“a”", "b"])
    (True, False, False)
    """
    closing = ""
    for cell in row:
        plain = cell.strip()
        if closing and plain and plain[-1] in closing:
            return True
        if plain[:1] in _PAIRS or (plain[:1] == '"' and cell[0] in _BLANKS):
            marks = _PAIRS.get(plain[0], '"')
            closing = "" if len(plain) > 1 and plain[-1] in marks else marks
    return False


def left_open(row: list[str]) -> str:
    """The marks of which one should close a quote that opens a cell behind blanks, or a curly one, and that no cell of
    the row closes; empty where there is none.

    >>> [left_open(row) for row in (["K-01", ' "lid'], ["K-01", "„lid, “"], ["K-01", ' "lid" off'], ["K-01", "“lid"])]
    ['"', '', '', '”']
    """
    for place, cell in enumerate(row):
        plain = cell.strip()
        following = "".join((plain[1:], *row[place + 1 :]))
        if plain[:1] == '"' and cell[0] in _BLANKS and following.count('"') % 2 == 0:
            return '"'
        if plain[:1] in _PAIRS and not any(mark in following for mark in _PAIRS[plain[0]]):
            return _PAIRS[plain[0]]
    return ""


def only_reading(line: str, delimiter: str, fits: Callable[[list[str]], bool]) -> list[str] | None:
    """The cells of a line in the one other reading of its quotes that fits the table; None if none or several do.

    >>> only_reading('a,"said \\\\"no\\\\", twice"', ",", lambda row: len(row) == 2)
    ['a', 'said "no", twice']
    >>> only_reading('a, "b, c"', ",", lambda row: len(row) == 2)
    ['a', 'b, c']
    >>> only_reading('a,“b, c”', ",", lambda row: len(row) == 2)
    ['a', 'b, c']
    >>> only_reading('"a,b"', ",", lambda row: len(row) == 2)
    ['a', 'b']
    """
    found: list[list[str]] = []
    plain = line.rstrip("\r\n")
    rows = [_strictly(text, delimiter) for text in _other_texts(plain, delimiter)]
    for row in (*rows, _of_a_whole_line(plain, delimiter, fits)):
        if row is not None and fits(row) and not looks_torn(row) and row not in found:
            found.append(row)
    return found[0] if len(found) == 1 else None


def _other_texts(line: str, delimiter: str) -> Iterator[str]:
    """The line with its quotes as RFC 4180 has them, in each way that they may be meant."""
    if '\\"' in line and '\\\\"' not in line:
        yield line.replace('\\"', '""')
    if ' "' in line or '\u00a0"' in line:
        yield re.sub(rf'(^|{re.escape(delimiter)})[{_BLANKS}]+"', r'\1"', line)
    for opening, closing in _PAIRS.items():
        if opening in line:
            begin = rf"(^|{re.escape(delimiter)})[{_BLANKS}]*{opening}"
            end = rf"[{closing}][{_BLANKS}]*(?={re.escape(delimiter)}|$)"
            yield re.sub(rf"{begin}([^{closing}]*){end}", _straight, line)


def _of_a_whole_line(line: str, delimiter: str, fits: Callable[[list[str]], bool]) -> list[str] | None:
    """The cells of a line in quotes as a whole: the quotes inside are doubled; or they are those of its cells; or they
    are signs of the text, if each cell has both quotes of a pair. The first of these that fits.

    >>> _of_a_whole_line('"a;said ""no""."', ";", lambda row: len(row) == 2)
    ['a', 'said "no".']
    >>> _of_a_whole_line('"a;""lid"" loose"', ";", lambda row: len(row) == 2)
    ['a', '"lid" loose']
    """
    whole = line.strip()
    if len(whole) < 3 or not whole[0] == whole[-1] == '"':
        return None
    inside = whole[1:-1]
    for text in (inside.replace('""', '"'), inside):
        row = _strictly(text, delimiter)
        if row is not None and fits(row):
            return row
    cells = cells_as_written(inside.replace('""', '"'), delimiter)
    return cells if fits(cells) and not any(cell.count('"') % 2 for cell in cells) else None


def _straight(found: re.Match[str]) -> str:
    inner = found[2].replace('"', '""')
    return f'{found[1]}"{inner}"'


def _strictly(line: str, delimiter: str) -> list[str] | None:
    try:
        return next(csv.reader([line], delimiter=delimiter, strict=True), [])
    except csv.Error:
        return None
