"""Rows that sum up other rows: judged by where the word is, and by what else the row holds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final
from unicodedata import normalize

from bevelbook.reading.faults import trimmed

_WORDS: Final = frozenset(
    (
        *("total", "totals", "sum", "sums", "subtotal", "subtotals", "sub-total", "grand-total", "tot", "σ", "∑"),
        *("average", "averages", "avg", "mean", "median", "ø", "⌀"),
        *("summe", "summen", "gesamt", "gesamtsumme", "zwischensumme", "insgesamt", "mittelwert", "durchschnitt"),
        *("mittel", "schnitt", "somme", "sous-total", "moyenne", "moy", "médiane", "suma", "promedio", "prom", "media"),
        *(
            "mediana",
            "totale",
            "totali",
            "subtotale",
            "somma",
            "合計",
            "総計",
            "小計",
            "計",
            "平均",
            "平均値",
            "中央値",
        ),
    )
)
"""In lower case: English, signs, and the languages whose profiles come with the project. Common practice, no source."""
_ALONE: Final = frozenset(("count", "min", "minimum", "max", "maximum"))
"""Words that sum up only where nothing else is in the cell; with another word they are names or labels."""
_LONGEST: Final = 3
DOUBTED: Final = "it may be a total or an average, not a diff. If it is the diff's label, name the builder in the row."
"""What is said of a row that is not certainly a sum."""


def sums_up(cell: str) -> bool:
    """Whether a cell says that its row is a sum, an average or the like: alone, or first or last of up to three words.

    >>> [sums_up(one) for one in ("Total:", "day total", "sum of May", "Max", "Max Berg", "K-01")]
    [True, True, True, True, False, False]
    """
    plain = normalize("NFKC", cell).strip(" \t:.=").casefold()
    if plain in _WORDS or plain in _ALONE:
        return True
    words = plain.split()
    return 1 < len(words) <= _LONGEST and (words[0] in _WORDS or words[-1] in _WORDS)


def may_be_label(cell: str) -> bool:
    """Whether a word that sums up may as well name a diff: where it has the place of the label, its row is in doubt.

    >>> [may_be_label(one) for one in ("max", "Total")]
    [True, False]
    """
    return cell.strip(" \t:.=").casefold() in _ALONE


def is_certain(cells: Iterable[str]) -> bool:
    """Whether a row that sums up is nothing else: its other filled cells are numbers or formulas.

    >>> is_certain(["", "42.70", "2,75 g", "=SUM(B2:B9)"]), is_certain(["spring 24", "A1", "1.36"])
    (True, False)
    """
    return all(cell[0].isdigit() or cell[0] in "+-.,=~" for one in cells if (cell := trimmed(one)))
