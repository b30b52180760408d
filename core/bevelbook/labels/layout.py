"""A label laid out in mm: its name in letters of 5 mm or more, its code, and as many of its lines as there is room for.

What finds no room is named, never cut. Tried are letters of several sizes, the largest first, and two arrangements: the
name beside the code, or above it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.printable import printable
from bevelbook.labels.code import LEAST_MODULE_MM, LabelCode
from bevelbook.labels.contents import Boxes, LabelRow, PaperLabel, ToWrite, Words
from bevelbook.labels.letter_widths import CAPITALS, width_mm

LEAST_CAPITAL_MM: Final = 5.0
NAME_SIZES_MM: Final = (11.0, 10.0, 9.0, 8.0, 7.3)
"""Sizes of the name's letters; capitals of the smallest are 5 mm high in the lowest of the faces."""
BODY_SIZES_MM: Final = (3.2, 2.9, 2.6, 2.4, 2.2)
"""Sizes of all other letters; 2.2 mm are 6 points."""
MODULES_MM: Final = (0.7, 0.6, LEAST_MODULE_MM)
MOST_LINES_OF_NAME: Final = 8
EDGE_MM: Final = 2.0
"""What stays blank along the edges: no printer puts every sheet in the same place."""
CODE_EDGE_MM: Final = 1.0
"""The same around the code, whose quiet zone is blank already."""
LEAST_BLANK_MM: Final = 9.0
"""The shortest blank that takes a number by hand."""
MOST_BLANK_MM: Final = 26.0
_LINE: Final = 1.22
_WRITTEN_MM: Final = 4.6
"""Height of a line that is written on by hand."""
_BESIDE_CODE_MM: Final = 0.5
_ROUNDING_MM: Final = 1e-6
_BREAKS: Final = late_pattern(r"(?<=[ /,;+-])")


class TextAt(NamedTuple):
    """A line of text; ``y_mm`` is where its letters stand."""

    x_mm: float
    y_mm: float
    size_mm: float
    text: str
    is_bold: bool = False


class RuleAt(NamedTuple):
    """A line to write on."""

    x_mm: float
    y_mm: float
    wide_mm: float


class BoxAt(NamedTuple):
    """A box to cross out; its upper left corner."""

    x_mm: float
    y_mm: float
    side_mm: float


class CodeAt(NamedTuple):
    """A code; its upper left corner with the quiet zone."""

    x_mm: float
    y_mm: float
    module_mm: float
    code: LabelCode

    @property
    def side_mm(self) -> float:
        return self.code.wide * self.module_mm


Placed = TextAt | RuleAt | BoxAt | CodeAt


class LabelLaidOut(NamedTuple):
    """What is drawn on a label, from its upper left corner, and the parts of it that found no room."""

    label: PaperLabel
    placed: tuple[Placed, ...]
    no_room: tuple[str, ...]

    @property
    def code(self) -> LabelCode:
        """The code that is on it."""
        return next(one.code for one in self.placed if isinstance(one, CodeAt))


class _Room(NamedTuple):
    """The size of the label, and the code that is on it already."""

    width_mm: float
    height_mm: float
    code: CodeAt

    def wide_at(self, y_mm: float, high_mm: float) -> float:
        """How wide a line may be there: up to the code, or to the edge."""
        under = self.code.y_mm + self.code.side_mm
        is_beside = y_mm < under - _ROUNDING_MM and y_mm + high_mm > self.code.y_mm
        right = self.code.x_mm - _BESIDE_CODE_MM if is_beside else self.width_mm - EDGE_MM
        return right - EDGE_MM

    @property
    def bottom_mm(self) -> float:
        return self.height_mm - EDGE_MM

    @property
    def under_code_mm(self) -> float:
        return self.code.y_mm + self.code.side_mm


def laid_out(label: PaperLabel, width: float, height: float, codes: Sequence[LabelCode]) -> LabelLaidOut | None:
    """A label on ``width`` x ``height`` mm; of the codes the first with which all lines have room, else the last.

    None where its name has no room in letters of 5 mm, beside or above a code.
    """
    best: LabelLaidOut | None = None
    for code in codes:
        for body in BODY_SIZES_MM:
            for room, name, y in _heads(label, width, height, code):
                placed = _all_placed(label.rows, room, y, body)
                if placed is not None:
                    return LabelLaidOut(label, (room.code, *name, *placed), ())
        found = _with_most(label, width, height, code)
        if found is not None and (best is None or len(found.no_room) <= len(best.no_room)):
            best = found
    return best


def _with_most(label: PaperLabel, width: float, height: float, code: LabelCode) -> LabelLaidOut | None:
    """With as many lines as have room, in the smallest letters: the least important ones are left out first, and of
    several ways the one that leaves out what matters least."""
    best: LabelLaidOut | None = None
    gravest = (len(label.rows), len(label.rows))
    order = [*label.least, *(row.part for row in label.rows if row.part not in label.least)]
    for room, name, y in _heads(label, width, height, code):
        for count in range(1, len(label.rows) + 1):
            without = order[:count]
            left = [row for row in label.rows if row.part not in without]
            placed = _all_placed(left, room, y, BODY_SIZES_MM[-1])
            if placed is None:
                continue
            for part in reversed(without):
                again = [row for row in label.rows if row in left or row.part == part]
                more = _all_placed(again, room, y, BODY_SIZES_MM[-1])
                if more is not None:
                    left, placed = again, more
            parts = tuple(row.part for row in label.rows if row not in left)
            missed = (max((order.index(part) for part in parts), default=-1), len(parts))
            if best is None or missed < gravest:
                best, gravest = LabelLaidOut(label, (room.code, *name, *placed), parts), missed
            break
    return best


def _heads(
    label: PaperLabel, width: float, height: float, code: LabelCode
) -> Iterator[tuple[_Room, tuple[TextAt, ...], float]]:
    """Ways to put the name and the code, the better ones first, each with where the next line may begin. A name that
    has no room in two lines is put in as few as it takes."""
    some = list(_heads_in(label, width, height, code, (1, 2)))
    if not some:
        packed = list(_heads_in(label, width, height, code, (MOST_LINES_OF_NAME,), is_packed=True))
        fewest = min((len(name) for _, name, _ in packed), default=0)
        some = [head for head in packed if len(head[1]) == fewest]
    yield from some


def _heads_in(
    label: PaperLabel, width: float, height: float, code: LabelCode, counts: Sequence[int], *, is_packed: bool = False
) -> Iterator[tuple[_Room, tuple[TextAt, ...], float]]:
    for module in MODULES_MM:
        side = code.wide * module
        if module > LEAST_MODULE_MM and (side > 0.3 * width or side > 0.6 * height):
            continue
        x = width - CODE_EDGE_MM - side
        if x < EDGE_MM or CODE_EDGE_MM + side > height - CODE_EDGE_MM:
            continue
        for lines in counts:
            for is_beside in (True, False):
                wide = (x - _BESIDE_CODE_MM if is_beside else width - EDGE_MM) - EDGE_MM
                for size in NAME_SIZES_MM:
                    name = _name(printable(label.name), size, wide, lines, is_packed=is_packed)
                    if name is None:
                        continue
                    bottom = name[-1].y_mm + 0.22 * size
                    y = CODE_EDGE_MM if is_beside else bottom
                    if y + side > height - CODE_EDGE_MM or bottom > height - EDGE_MM:
                        continue
                    yield _Room(width, height, CodeAt(x, y, module, code)), name, bottom + 0.4


def _name(name: str, size: float, wide: float, lines: int, *, is_packed: bool) -> tuple[TextAt, ...] | None:
    """The name in one line or two, or packed into as many as it takes up to ``lines``; None where it is wider."""
    parts = _packed(name, size, wide) if is_packed else [name] if lines == 1 else _halves(name, size)
    if (
        len(parts) > lines
        or (not is_packed and len(parts) != lines)
        or any(width_mm(part, size, is_bold=True) > wide for part in parts)
    ):
        return None
    first = EDGE_MM + CAPITALS * size
    return tuple(TextAt(EDGE_MM, first + at * 1.05 * size, size, part, True) for at, part in enumerate(parts))


def _halves(name: str, size: float) -> list[str]:
    """A name in two lines of about one width, broken at a blank, a stroke or a comma."""
    pieces = _BREAKS.split(name)
    ways = [("".join(pieces[:at]).strip(), "".join(pieces[at:]).strip()) for at in range(1, len(pieces))]
    ways = [way for way in ways if all(way)]
    return list(min(ways, key=lambda way: max(width_mm(one, size, is_bold=True) for one in way))) if ways else [name]


@lru_cache(maxsize=256)
def _packed(name: str, size: float, wide: float) -> list[str]:
    """A name in lines as full as they go; a word that is wider than a line goes on in the next."""
    lines: list[str] = []
    line = ""
    pieces = _BREAKS.split(name)
    while pieces:
        piece = pieces.pop(0)
        if width_mm((line + piece).rstrip(), size, is_bold=True) <= wide:
            line += piece
        elif line:
            lines, line = [*lines, line.strip()], ""
            pieces.insert(0, piece)
        else:
            cut = _longest(piece, size, wide, is_bold=True) or len(piece)
            lines.append(piece[:cut])
            if piece[cut:]:
                pieces.insert(0, piece[cut:])
    return [*lines, line.strip()] if line.strip() else lines


def _all_placed(rows: Sequence[LabelRow], room: _Room, y: float, body: float) -> list[Placed] | None:
    """All lines below one another from ``y``; None where one finds no room."""
    placed: list[Placed] = []
    for row in rows:
        found = _placed(row, room, y, body)
        if found is None:
            return None
        items, y = found
        placed += items
        if y > room.bottom_mm + _ROUNDING_MM:
            return None
    return placed


def _placed(row: LabelRow, room: _Room, y: float, body: float) -> tuple[list[Placed], float] | None:
    match row:
        case Words():
            return _words(row.text, room, y, body)
        case ToWrite():
            return _to_write(row, room, y, body)
        case Boxes():
            return _boxes(row, room, y, body)


def _words(text: str, room: _Room, y: float, body: float) -> tuple[list[Placed], float] | None:
    high = _LINE * body
    placed: list[Placed] = []
    line = ""
    pieces = _BREAKS.split(printable(text))
    while pieces:
        piece = pieces.pop(0)
        wide = room.wide_at(y, high)
        if width_mm((line + piece).rstrip(), body) <= wide:
            line += piece
            continue
        if not line:
            cut = _longest(piece, body, wide)
            if not cut:
                return None
            line, piece = piece[:cut], piece[cut:]
        placed.append(TextAt(EDGE_MM, y + body * 0.95, body, line.rstrip()))
        y, line = y + high, ""
        pieces.insert(0, piece)
    if line.strip():
        placed.append(TextAt(EDGE_MM, y + body * 0.95, body, line.rstrip()))
        y += high
    return placed, y


def _longest(word: str, body: float, wide: float, *, is_bold: bool = False) -> int:
    """How many letters of a word that is wider than its line are in the line; the rest goes into the next."""
    for count in range(1, len(word)):
        if width_mm(word[:count], body, is_bold=is_bold) > wide:
            return count - 1
    return max(0, len(word) - 1)


def _to_write(row: ToWrite, room: _Room, y: float, body: float) -> tuple[list[Placed], float] | None:
    high = max(_WRITTEN_MM, 1.5 * body)
    space = 0.3 * body
    words = [*row.words, *([row.last] if row.last else [])]
    taken = sum(width_mm(one, body) + space for one in words) + space * len(row.shares)
    least = taken + LEAST_BLANK_MM * len(row.shares)
    if least > room.wide_at(y, high) and y < room.under_code_mm:
        y = room.under_code_mm
    wide = room.wide_at(y, high)
    if least > wide:
        return None
    one = min((wide - taken) / sum(row.shares), MOST_BLANK_MM)
    if any(one * share < LEAST_BLANK_MM for share in row.shares):
        blanks = [(wide - taken) / len(row.shares)] * len(row.shares)
    else:
        blanks = [one * share for share in row.shares]
    placed: list[Placed] = []
    x, base = EDGE_MM, y + high - 0.3 * body
    for at, text in enumerate(words):
        placed.append(TextAt(x, base, body, text))
        x += width_mm(text, body) + space
        if at < len(blanks):
            placed.append(RuleAt(x, base + 0.3, blanks[at]))
            x += blanks[at] + space
    return placed, y + high


def _boxes(row: Boxes, room: _Room, y: float, body: float) -> tuple[list[Placed], float] | None:
    high, side, gap = 1.35 * body, 1.05 * body, 0.4 * body
    found = _words(row.text, room, y, body)
    if found is None:
        return None
    placed, below = found
    last = placed[-1]
    assert isinstance(last, TextAt)
    y = below - _LINE * body
    x = EDGE_MM + width_mm(last.text, body) + 2 * gap
    for at in range(row.boxes):
        name = row.names[at] if row.names else ""
        needs = side + (gap + width_mm(name, body) if name else 0.0)
        if x + needs > EDGE_MM + room.wide_at(y, high):
            x, y = EDGE_MM, y + high
            if needs > room.wide_at(y, high):
                return None
        placed.append(BoxAt(x, y + 0.08 * body, side))
        if name:
            placed.append(TextAt(x + side + gap, y + body * 0.95, body, name))
        x += needs + (3 * gap if name else gap)
    return placed, y + high
