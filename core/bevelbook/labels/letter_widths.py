"""How wide a text is on paper: by the widths of the sans face of the standard fonts of PDF (ISO 32000).

Liberation Sans, with which PDFs are drawn, has the same widths, and so have other common sans faces; where a browser
has a wider one, its letters are drawn narrower. A letter that is not listed counts as its base, such as Ö as O, else as
a whole em and a little more.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Final
from unicodedata import combining, normalize

FACES: Final = "Liberation Sans, sans-serif"
CAPITALS: Final = 0.687
"""Height of capitals over the size of the letters: 1409 of 2048 in Liberation Sans; other sans faces are higher."""
_EM: Final = 1000
_UNLISTED: Final = 1050
_PLAIN: Final[dict[int, str]] = {
    191: "'",
    222: "ijl‘’",
    260: "|",
    278: " !,./:;I[\\]ft\N{NO-BREAK SPACE}·",
    333: "()-`r“”",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    469: "^",
    500: "Jcksvxyz",
    556: "#$0123456789?L_abdeghnopqu–",
    584: "+<=>~±×",
    611: "FTZß",
    667: "&ABEKPSVXY",
    722: "CDHNRUw",
    778: "GOQØ",
    833: "Mm",
    889: "%æ",
    944: "W",
    1000: "—Æ…",
    1015: "@",
}
_BOLD: Final[dict[int, str]] = {
    238: "'",
    278: " ,./I\\ijl‘’\N{NO-BREAK SPACE}·",
    280: "|",
    333: "!():;-[]`ft",
    389: "*r{}",
    400: "°",
    474: '"',
    500: "z“”",
    556: "#$0123456789J_aceksvxy–",
    584: "+<=>^~±×",
    611: "?FLTZbdghnopquß",
    667: "EPSVXY",
    722: "&ABCDHKNRU",
    778: "GOQwØ",
    833: "M",
    889: "%mæ",
    944: "W",
    975: "@",
    1000: "—Æ…",
}
_PLAIN_OF: Final = {letter: width for width, letters in _PLAIN.items() for letter in letters}
_BOLD_OF: Final = {letter: width for width, letters in _BOLD.items() for letter in letters}


def width_mm(text: str, size_mm: float, *, is_bold: bool = False) -> float:
    """How wide a text is in letters of a size; no wider than that where a letter is not known.

    >>> width_mm("rear-a/11", 10.0, is_bold=True), width_mm("Öl", 10.0), width_mm("Ж", 10.0)
    (41.69, 10.0, 10.5)
    """
    return round(_units(text, is_bold) * size_mm / _EM, 6)


def is_exact(text: str) -> bool:
    """Whether the widths of all letters of a text are listed, or those of their base."""
    return all(_listed(letter, is_bold=False) is not None for letter in text)


@lru_cache(20_000)
def _units(text: str, is_bold: bool) -> int:
    return sum(_letter_width(letter, is_bold) for letter in text)


def _letter_width(letter: str, is_bold: bool) -> int:
    if combining(letter):
        return 0
    listed = _listed(letter, is_bold)
    return _UNLISTED if listed is None else listed


@cache
def _listed(letter: str, is_bold: bool) -> int | None:
    widths = _BOLD_OF if is_bold else _PLAIN_OF
    base = normalize("NFD", letter)
    whole = len(base) > 1 and all(map(combining, base[1:]))
    return widths.get(letter, widths.get(base[0]) if whole else None)
