"""How a card is laid out on paper: in letters of 9 points or more, on one sheet of A4 or Letter, else on two.

An estimate from counts of letters, for the wider of the common sans faces; a page cannot measure itself without a
script, and pages here run none of their own.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate
from math import ceil
from typing import Final, NamedTuple

from bevelbook.card.contents import CalculatorResult, Card, CardSection, CardValue
from bevelbook.card.steps import Blank, CardStep, Caution
from bevelbook.declare.counting import counted
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.plugin.where_shown import MORE
from bevelbook.store.invented_mark import INVENTED_WORDS

SHEET_WIDTH_MM: Final = 210.0 - 14.0
SHEET_HEIGHT_MM: Final = 279.4 - 14.0
"""The narrower and the shorter of A4 and Letter, less margins of 7 mm."""
SAFETY_MM: Final = 3.0
BETWEEN_COLUMNS_MM: Final = 5.0
COLUMN_MM: Final = (SHEET_WIDTH_MM - BETWEEN_COLUMNS_MM) / 2.0
STRIP_ROW_MM: Final = 4.6
LEAST_PICTURE_MM: Final = 36.0
HEAD_AGAIN_MM: Final = 7.0
MM_PER_POINT: Final = 25.4 / 72.0
LETTER_EM: Final = 0.52
LINE_EM: Final = 1.12
SIZES: Final = (10.0, 9.5, 9.0)
"""Points, the largest first; smaller letters are not read at arm's length."""
DETAILS: Final = ((True, True), (True, False), (False, True), (False, False))
"""Whether the words of what to do are printed, and what calculators find worth a look; the first that fits is taken."""


_BOX: Final = late_pattern(r'viewBox="[\d.]+ [\d.]+ ([\d.]+) ')
_FIGURE: Final = late_pattern(r'font-size="([\d.]+)" font-weight')


def picture_mm(picture: str) -> float:
    """How wide a picture is printed: its figures, the bold ones, in the smallest letters of a card, or a column.

    >>> picture_mm('<svg viewBox="0 0 400 400"><text font-size="30" font-weight="bold">1</text></svg>')
    42.8
    """
    box, figures = _BOX.search(picture), [float(size) for size in _FIGURE.findall(picture)]
    if box is None or not figures:
        return LEAST_PICTURE_MM
    wide = 1.01 * SIZES[-1] * MM_PER_POINT * float(box[1]) / min(figures)
    return round(min(max(wide, LEAST_PICTURE_MM), COLUMN_MM), 1)


class Paper(NamedTuple):
    """Size of the letters in points, sheets of paper, how many steps are on the first, and what is printed in full;
    ``left_out`` is how many of the last parts, each a calculator's own, find no room on paper."""

    points: float
    sheets: int
    steps_first: int
    with_do: bool
    with_findings: bool
    left_out: int = 0


def paper_of(card: Card) -> Paper:
    """The layout with the most detail that fits; if none does, two sheets with the least, and the last of the parts
    that calculators have of their own left out as far as they find no room."""
    for with_do, with_findings in DETAILS:
        for sheets in (1, 2):
            for points in SIZES:
                steps_first = _Layout(card, points, with_do, with_findings).steps_first(sheets)
                if steps_first is not None:
                    return Paper(points, sheets, steps_first, with_do, with_findings)
    of_calculators = sum(part.key == MORE for part in card.parts)
    for left_out in range(1, of_calculators + 1):
        fewer = card._replace(parts=(*card.parts[:-left_out], CardSection(MORE, left_out_words(left_out))))
        steps_first = _Layout(fewer, SIZES[-1], with_do=False, with_findings=False).steps_first(2)
        if steps_first is not None:
            return Paper(SIZES[-1], 2, steps_first, with_do=False, with_findings=False, left_out=left_out)
    least = _Layout(card, SIZES[-1], with_do=False, with_findings=False)
    return Paper(SIZES[-1], 2, least.most_steps_first(), with_do=False, with_findings=False, left_out=of_calculators)


def left_out_words(count: int) -> str:
    """What stands on paper in place of parts that found no room.

    >>> left_out_words(1)
    'And 1 more result, on the page of the card'
    """
    return f"And {counted(count, 'more result')}, on the page of the card"


class _Layout:
    """Heights in mm at one size of letters and one detail."""

    def __init__(self, card: Card, points: float, with_do: bool, with_findings: bool) -> None:
        self.card = card
        self.em = points * MM_PER_POINT
        self.line = LINE_EM * self.em
        self.column = COLUMN_MM
        self.with_do = with_do
        self.with_findings = with_findings
        self.steps = [self._step(step) for step in card.steps]
        self.numbers = self._head() + _balanced([*self._strip(), *self._parts()]) + self._foot()

    def steps_first(self, sheets: int) -> int | None:
        """How many steps are on the first sheet; None where the card does not fit on so many sheets."""
        if sheets == 1:
            fits = self.numbers + self._steps(self.steps) <= SHEET_HEIGHT_MM - SAFETY_MM
            return len(self.steps) if fits else None
        first = self.most_steps_first()
        if max(self.numbers, self._rest(first)) > SHEET_HEIGHT_MM - SAFETY_MM:
            return None
        return 0 if self._rest(0) <= SHEET_HEIGHT_MM - SAFETY_MM else first

    def most_steps_first(self) -> int:
        """How many steps still fit under the numbers."""
        room = SHEET_HEIGHT_MM - SAFETY_MM - self.numbers
        counts = range(len(self.steps))
        return max(bisect_right(counts, room, key=lambda count: self._steps(self.steps[:count])) - 1, 0)

    def _steps(self, steps: Sequence[float]) -> float:
        return 2.0 * self.line + _balanced(steps) if steps else 0.0

    def _rest(self, first: int) -> float:
        return HEAD_AGAIN_MM + _balanced(self.steps[first:])

    def _head(self) -> float:
        card, width = self.card, 0.74 * SHEET_WIDTH_MM
        meta = f"diff {card.diff} " + " ".join(f"{one.name} {one.value or 9 * '_'} {one.note}" for one in card.head)
        height = 20.0 * MM_PER_POINT * 1.15 * ceil((len(card.build) + 6) / 30) + self._text(meta, width)
        height += sum(self._text(one, width) for one in (card.oil, card.note, card.clash, card.leak))
        height += sum(self._text(one, width) for one in card.different) + (self.line if card.different else 0.0)
        if card.stop.result.verdict != "ok" or card.stop.result.findings:
            height += sum(self._result(card.stop.result, width))
        return max(height, 20.0) + self.em

    def _strip(self) -> Iterator[float]:
        yield 4.2 * self.line + STRIP_ROW_MM * len(self.card.pouring.lines)

    def _parts(self) -> Iterator[float]:
        for part in self.card.parts:
            heading = 1.8 * self.line
            if not (part.lines or part.results or part.listed or part.picture):
                yield heading
            for number, block in enumerate(self._part(part)):
                yield block + (heading if number == 0 else 0.0)

    def _part(self, part: CardSection) -> Iterator[float]:
        yield from (self._row(line) for line in part.lines)
        if part.picture:
            yield (picture_mm(part.picture) + 0.4 * self.em + self._text(part.caption, self.column))
        yield from (self._text(f"___ {one}", self.column) for one in part.listed)
        for result in part.results:
            yield sum(self._result(result, self.column)) + 0.3 * self.em

    def _row(self, line: CardValue) -> float:
        value = f"{line.value or 9 * '_' + line.unit} {line.short_note}"
        high = max(self._text(line.name, 0.39 * self.column), self._text(value, 0.57 * self.column))
        return high + (0.1 if line.value is not None else 0.4) * self.em

    def _result(self, result: CalculatorResult, width: float) -> Iterator[float]:
        reasons = result.reasons if self.with_findings else result.reasons[:1]
        words = f"__ {result.verdict or ''} {result.title}: {'; '.join(reasons)}{result.refused or ''}"
        words += "".join(f" {lack} {9 * '_'}" for lack in result.lacking)
        yield self._text(words, width) + (0.5 * self.line if result.lacking else 0.0)
        yield self._text(f"With {result.given}" if result.given else "", width)
        if self.with_findings:
            yield from (self._text(f"Worth a look: {finding}.", width) for finding in result.findings)

    def _foot(self) -> float:
        texts = (*self.card.cautions, self.card.rule, INVENTED_WORDS if self.card.invented else "")
        return sum(self._text(text, SHEET_WIDTH_MM) for text in texts) + 1.2 * self.em

    def _step(self, step: CardStep) -> float:
        width = self.column - 1.6 * self.em
        words = [
            f"{step.number} {step.title}.",
            step.noted,
            step.do if self.with_do else "",
            *(f"→ {one}" for one in step.see),
        ]
        if step.check:
            words.append(f"Check: {step.check}")
        height = self._text(" ".join(filter(None, words)), width) + self._blanks(step.blanks, width)
        return height + sum(self._cautions(step.cautions, width)) + 0.23 * self.em

    def _cautions(self, cautions: Iterable[Caution], width: float) -> Iterator[float]:
        again = "; ".join(f"{one.text} (step 99)" for one in cautions if one.said_at is not None)
        texts = [*(one.text for one in cautions if one.said_at is None), again]
        return (self._text(f"! {text}", width - 0.6 * self.em) + 0.1 * self.em for text in texts if text)

    def _blanks(self, blanks: Iterable[Blank], width: float) -> float:
        used, rows = width, 0
        for blank in blanks:
            letters = len(blank.name) + len(blank.value or blank.unit)
            wide = letters * LETTER_EM * self.em + (0.0 if blank.value or blank.choices else 5.5 * self.em) + self.em
            wide += sum(len(one) * LETTER_EM * self.em + 1.5 * self.em for one in blank.choices)
            if used + wide > width:
                used, rows = 0.0, rows + ceil(wide / width)
            used += wide
        return rows * 1.2 * self.line

    def _text(self, text: str, width: float) -> float:
        per_line = width / (LETTER_EM * self.em)
        return ceil(len(text) / per_line + 0.1) * self.line if text else 0.0


def _balanced(blocks: Sequence[float]) -> float:
    """How high two columns are that hold these blocks in order, none of them broken.

    >>> _balanced([1.0, 2.0, 3.0]), _balanced([])
    (3.0, 0.0)
    """
    left = accumulate(blocks, initial=0.0)
    right = [*accumulate(reversed(blocks), initial=0.0)]
    return min(map(max, left, reversed(right)))
