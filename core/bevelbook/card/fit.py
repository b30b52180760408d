"""How large a card can be printed so that it fits on one A4 or Letter sheet.

An estimate from counts of letters, for the wider of the common sans faces; a page cannot measure itself without a
script, and pages here run none of their own.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil
from typing import Final, NamedTuple

from bevelbook.card.contents import CalculatorResult, Card, CardSection, CardValue
from bevelbook.card.steps import Blank, CardStep
from bevelbook.store.invented_mark import INVENTED_WORDS

SHEET_WIDTH_MM: Final = 210.0 - 14.0
SHEET_HEIGHT_MM: Final = 279.4 - 14.0
"""The narrower and the shorter of A4 and Letter, less margins of 7 mm."""
MM_PER_POINT: Final = 25.4 / 72.0
LETTER_EM: Final = 0.48
LINE_EM: Final = 1.15
PICTURE_MM: Final = 36.0
SIZES_IN_FULL: Final = (9.0, 8.5, 8.0, 7.5, 7.2, 7.0, 6.8, 6.6, 6.4)
SIZES_IN_SHORT: Final = (9.0, 8.5, 8.0, 7.5, 7.2, 7.0, 6.8, 6.6, 6.4, 6.2, 6.0)
"""Points: with the words of what to do, and with title, check, boxes and cautions of each step only."""


class PrintSize(NamedTuple):
    """Size of the letters in points, and whether the words of what to do fit in."""

    points: float
    in_full: bool


def print_size(card: Card) -> PrintSize:
    """The largest size at which the card fits on one sheet, in full if 6.4 points allow it; else the smallest."""
    for in_full, sizes in ((True, SIZES_IN_FULL), (False, SIZES_IN_SHORT)):
        for points in sizes:
            if _Sheet(points).height_mm(card, in_full) <= SHEET_HEIGHT_MM:
                return PrintSize(points, in_full)
    return PrintSize(SIZES_IN_SHORT[-1], False)


class _Sheet:
    """Heights at one size of letters."""

    def __init__(self, points: float) -> None:
        self.em = points * MM_PER_POINT
        self.line = LINE_EM * self.em
        self.column = (SHEET_WIDTH_MM - 3.2 * self.em) / 3.0

    def height_mm(self, card: Card, in_full: bool) -> float:
        at_top = [part for part in card.parts if part.key in ("oil", "masses")]
        beside = [part for part in card.parts if part.key not in ("oil", "masses")]
        body = sum(self._step(step, in_full) for step in card.steps) + sum(self._part(part) for part in beside)
        uneven = (3.5 if in_full else 2.0) * self.line
        invented = INVENTED_WORDS if card.invented else ""
        foot = sum(self._text(text, SHEET_WIDTH_MM) for text in (*card.cautions, card.rule, invented)) + self.em
        return self._head(card, at_top) + (body + 2.5 * self.em) / 3.0 + uneven + foot

    def _head(self, card: Card, at_top: list[CardSection]) -> float:
        meta = f"diff {card.diff} " + " ".join(f"{one.name} {one.value or 9 * '_'} {one.note}" for one in card.head)
        quarter = SHEET_WIDTH_MM / 4.3
        title = 20.0 * MM_PER_POINT * 1.2 * ceil(len(card.build) / 14) + self._text(meta, quarter)
        heights = [title + self._text(card.note, quarter), 44.0 * MM_PER_POINT]
        heights += [
            sum(self._row(line, quarter) for line in part.lines) + self._results(part.results) for part in at_top
        ]
        return max(heights) + self._results((card.stop.result,)) / 3.0 + self.em

    def _step(self, step: CardStep, in_full: bool) -> float:
        width = self.column - 1.4 * self.em
        words = [
            f"{step.number} {step.title}.",
            step.check and f"Check: {step.check}",
            *(f"→ {one}" for one in step.see),
        ]
        if in_full:
            words.append(step.do)
        height = self._text(" ".join(words), width) + self._blanks(step.blanks, width)
        for caution in step.cautions:
            height += (
                self._text(f"! {caution.text} (step 99)"[: None if caution.said_at else -10], width) + 0.1 * self.em
            )
        return height + 0.4 * self.em

    def _blanks(self, blanks: Iterable[Blank], width: float) -> float:
        used, rows = width, 0
        for blank in blanks:
            letters = len(blank.name) + len(blank.value or blank.unit) + sum(len(one) + 3 for one in blank.choices)
            wide = letters * LETTER_EM * self.em + (0.0 if blank.value or blank.choices else 5.5 * self.em) + self.em
            if used + wide > width:
                used, rows = 0.0, rows + ceil(wide / width)
            used += wide
        return rows * 1.25 * self.line

    def _part(self, part: CardSection) -> float:
        height = 1.9 * self.line + sum(self._row(line, self.column) for line in part.lines)
        if part.picture:
            height += PICTURE_MM + 2.0 * self.line
        height += sum(self._text(f"___ {one}", self.column) + 0.15 * self.em for one in part.listed)
        shortened = part.key == "screws"
        return height + self._results(part.results, shortened=shortened, findings=part.key != "seals")

    def _row(self, line: CardValue, width: float) -> float:
        value = f"{line.value or 8 * '_' + line.unit} {line.note}"
        return max(self._text(line.name, 0.38 * width), self._text(value, 0.57 * width)) + 0.45 * self.em

    def _results(self, results: Iterable[CalculatorResult], *, shortened: bool = False, findings: bool = True) -> float:
        height = 0.0
        for one in results:
            reasons = one.reasons[:1] if shortened else one.reasons
            words = f"___ {one.verdict} {one.title}: {'; '.join(reasons)}{one.refused or ''}"
            words += "".join(f" {lack} {9 * '_'}" for lack in one.lacking)
            height += self._text(words, self.column) + self._text(one.given, self.column) + 0.3 * self.em
            if findings:
                height += sum(self._text(f"Worth a look: {finding}", self.column) for finding in one.findings)
        return height

    def _text(self, text: str, width: float) -> float:
        per_line = width / (LETTER_EM * self.em)
        return ceil(len(text) / per_line + 0.15) * self.line if text else 0.0
