"""Labels on their sheets, page by page: which is where, and what each sheet says beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.labels import sheet_words
from bevelbook.labels.code import LabelCode, address_code, name_code
from bevelbook.labels.contents import PaperLabel
from bevelbook.labels.layout import EDGE_MM, LabelLaidOut, TextAt, laid_out
from bevelbook.labels.letter_widths import width_mm
from bevelbook.labels.sheets import SHEETS, LabelPlace, LabelSheet
from bevelbook.store.invented_mark import INVENTED_WORDS

LARGE_WIDE_MM: Final = 80.0
LARGE_HIGH_MM: Final = 36.0
"""Labels of this size and above carry an address, smaller ones the name alone."""
WORDS_MM: Final = 2.4
_UNPRINTED_MM: Final = 4.2
"""What many printers leave blank along the edges of the paper."""
_LINE: Final = 1.22


class LabelHere(NamedTuple):
    """A label and where it is on its sheet."""

    place: LabelPlace
    laid_out: LabelLaidOut


class LabelsOnSheet(NamedTuple):
    """One sheet: its labels, the words around them, and the outlines that are drawn."""

    sheet: LabelSheet
    labels: tuple[LabelHere, ...]
    words: tuple[TextAt, ...]
    outlines: tuple[LabelPlace, ...] = ()


class LabelPages(NamedTuple):
    """All sheets, and the labels whose name has no room on them."""

    sheet: LabelSheet
    pages: tuple[LabelsOnSheet, ...]
    left_out: tuple[PaperLabel, ...]
    roomy: tuple[LabelSheet | None, ...] = ()
    """For each of these a sheet that has room for it, if there is one."""

    @property
    def labels(self) -> Iterator[LabelLaidOut]:
        """The labels that are on a sheet."""
        for page in self.pages:
            for one in page.labels:
                yield one.laid_out

    def said(self) -> Iterator[str]:
        """What a person has to know before printing: lines that found no room, labels left out, codes that differ."""
        for one in self.labels:
            if one.no_room:
                yield f"{one.label.name}: no room on labels of {self.sheet.size} mm for {', '.join(one.no_room)}."
        for one in self.labels:
            if one.code.kind == "name" and not one.code.is_compact:
                yield (
                    f"{one.label.name}: its code holds the name as it is written, since not all of its letters can "
                    "be in a code in capitals."
                )
        for label, roomy in zip(self.left_out, self.roomy, strict=True):
            way = (
                f"Take a sheet with larger labels: {roomy.size} mm on {roomy.paper.shown} has room."
                if roomy
                else "No sheet here has room for it: give it a shorter name, or give the measures of larger labels."
            )
            yield (
                f"{label.name}: left out, its name has no room in letters of 5 mm on labels of {self.sheet.size} mm. "
                f"{way}"
            )

    def as_dict(self) -> dict[str, Any]:
        """All of it for programs."""
        return {
            "sheet": self.sheet.words,
            "sheets": len(self.pages),
            "labels": [
                {
                    **one.laid_out.label.as_dict(),
                    "code": one.laid_out.code.text,
                    "no_room": list(one.laid_out.no_room),
                    "on_sheet": number,
                    "x_mm": round(one.place.x_mm, 2),
                    "y_mm": round(one.place.y_mm, 2),
                }
                for number, page in enumerate(self.pages, 1)
                for one in page.labels
            ],
            "left_out": [one.name for one in self.left_out],
        }


def label_pages(
    labels: Sequence[PaperLabel], sheet: LabelSheet, address: str, *, skip: int = 0, is_invented: bool = False
) -> LabelPages:
    """The labels on as many sheets as they need; the first ``skip`` places of the first one stay free."""
    found: list[LabelLaidOut] = []
    left_out: list[PaperLabel] = []
    for label in labels:
        one = laid_out(label, sheet.width_mm, sheet.height_mm, _codes(label, sheet, address))
        if one is None:
            left_out.append(label)
        else:
            found.append(one)
    taken = 0 if _fit_the_margins(sheet) else 1
    pages: list[list[LabelLaidOut]] = [[]]
    for one in found:
        if len(pages[-1]) + taken + (skip if len(pages) == 1 else 0) >= sheet.labels:
            pages.append([])
        pages[-1].append(one)
    made = [
        _page(sheet, some, skip if at == 0 else 0, f"sheet {at + 1} of {len(pages)}", is_invented)
        for at, some in enumerate(pages)
        if some
    ]
    return LabelPages(sheet, tuple(made), tuple(left_out), tuple(_roomy(one, sheet, address) for one in left_out))


def _roomy(label: PaperLabel, sheet: LabelSheet, address: str) -> LabelSheet | None:
    """The sheet with the smallest labels that have room for it, of the same paper if there is one."""
    by_size = sorted(SHEETS, key=lambda one: (one.paper != sheet.paper, one.width_mm * one.height_mm))
    return next(
        (one for one in by_size if laid_out(label, one.width_mm, one.height_mm, _codes(label, one, address))), None
    )


def free_places(sheet: LabelSheet) -> int:
    """How many labels a sheet takes: all of its places, or one less where the words need one."""
    return sheet.labels - (0 if _fit_the_margins(sheet) else 1)


def outline_page(sheet: LabelSheet) -> LabelsOnSheet:
    """A sheet with outlines alone, to print on plain paper and to hold against the light with a sheet of labels."""
    places = tuple(sheet.places)
    texts = [
        TextAt(place.x_mm + EDGE_MM, place.y_mm + EDGE_MM + 3.0, 3.0, str(number))
        for number, place in enumerate(places, 1)
    ]
    lines = (
        sheet.words,
        f"{sheet_words.AT_FULL_SIZE}, on plain paper, and hold it against the light with a sheet of labels.",
        "Where outlines and labels do not lie on one another, measure the sheet and give its own measures.",
    )
    wide, y = sheet.width_mm - 2 * EDGE_MM, places[0].y_mm + EDGE_MM + 7.0
    for text in lines:
        for line in _wrapped(text, WORDS_MM, wide):
            texts.append(TextAt(places[0].x_mm + EDGE_MM, y, WORDS_MM, line))
            y += _LINE * WORDS_MM
    return LabelsOnSheet(sheet, (), tuple(texts), places)


def _codes(label: PaperLabel, sheet: LabelSheet, address: str) -> list[LabelCode]:
    """The codes that a label may have: on a large one the address before the name."""
    name = name_code(label.asked_as)
    if sheet.width_mm < LARGE_WIDE_MM or sheet.height_mm < LARGE_HIGH_MM:
        return [name]
    return [address_code(address, label.asked_as), name]


def _page(sheet: LabelSheet, labels: Sequence[LabelLaidOut], skip: int, which: str, is_invented: bool) -> LabelsOnSheet:
    places = list(sheet.places)[skip:]
    head = f"{counted(len(labels), 'label')}, {which}. {sheet_words.AT_FULL_SIZE}."
    if is_invented:
        head = f"{head} {INVENTED_WORDS}"
    if _fit_the_margins(sheet):
        words = _in_the_margins(sheet, head)
    else:
        words, places = _in_a_place(sheet, places[0], head), places[1:]
    here = tuple(LabelHere(place, one) for place, one in zip(places, labels, strict=False))
    return LabelsOnSheet(sheet, here, tuple(words), tuple(one.place for one in here) if sheet.is_cut else ())


def _fit_the_margins(sheet: LabelSheet) -> bool:
    """Whether the words fit above and below the labels, two lines each."""
    return sheet.top_mm >= _UNPRINTED_MM + 2 * _LINE * WORDS_MM + 0.5


def _in_the_margins(sheet: LabelSheet, head: str) -> list[TextAt]:
    wide = sheet.paper.width_mm - 2 * 8.0
    above = [*_wrapped(head, WORDS_MM, wide)[:1], *_wrapped(sheet_words.WHERE, WORDS_MM, wide)]
    below = [*_wrapped(sheet_words.PAPER, WORDS_MM, wide), *_wrapped(sheet_words.ALCOHOL, WORDS_MM, wide)]
    high = _LINE * WORDS_MM
    first, last = _UNPRINTED_MM + WORDS_MM * 0.95, sheet.paper.height_mm - _UNPRINTED_MM - 0.3 * WORDS_MM
    texts = [TextAt(8.0, first + at * high, WORDS_MM, line) for at, line in enumerate(above)]
    start = last - (len(below) - 1) * high
    return texts + [TextAt(8.0, start + at * high, WORDS_MM, line) for at, line in enumerate(below)]


def _in_a_place(sheet: LabelSheet, place: LabelPlace, head: str) -> list[TextAt]:
    """The words in the place of a label: in letters that fit, else the shortest of them."""
    wide, high = sheet.width_mm - 2 * EDGE_MM, sheet.height_mm - 2 * EDGE_MM
    for texts in ((head, *sheet_words.ALL), (*sheet_words.ALL,), (sheet_words.SHORT,)):
        for size in (WORDS_MM, 2.2, 2.0):
            lines = [line for text in texts for line in _wrapped(text, size, wide)]
            if len(lines) * _LINE * size <= high:
                x, y = place.x_mm + EDGE_MM, place.y_mm + EDGE_MM + 0.95 * size
                return [TextAt(x, y + at * _LINE * size, size, line) for at, line in enumerate(lines)]
    return []


def _wrapped(text: str, size: float, wide: float) -> list[str]:
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if width_mm(longer, size) <= wide:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
