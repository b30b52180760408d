"""Names that look like one: they differ only in blanks, case, dashes and other marks, accents, or in letters of two
alphabets that are drawn the same."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Final
from unicodedata import category, normalize

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.unseen import is_unseen, without_unseen

_CYRILLIC: Final = "АВЕІЈКМНОРЅСТУҮХѴԜаеіјорѕсухѵһԁԛԝү"
_AS_CYRILLIC: Final = "ABEIJKMHOPSCTYYXVWaeijopscyxvhdqwy"
_GREEK: Final = "ΑΒΕΖΗΙͿΚΜΝΟΡΤΥΧαινορυ"
_AS_GREEK: Final = "ABEZHIJKMNOPTYXaivopu"
LATIN_LOOK_ALIKES: Final = dict(zip(_CYRILLIC + _GREEK, _AS_CYRILLIC + _AS_GREEK, strict=True))
"""Letters of Cyrillic and Greek, with the Latin letter that is drawn the same.

Source: Unicode Technical Standard 39, confusables.txt, single letters of these blocks; compared with a library that
holds that file (both alphabets' capital I is there with l, which is drawn like it).
"""
_LATIN: Final = str.maketrans(LATIN_LOOK_ALIKES)
_PARTED: Final = "\x1f"
"""Stands for the marks between two digits."""
_BETWEEN_DIGITS: Final = late_pattern(r"(?<=[0-9])[^a-z0-9+<=>|~$]+(?=[0-9])")
_MARKS: Final = late_pattern(rf"[^a-z0-9+<=>|~${_PARTED}]+")
_ACCENTS: Final = frozenset(map(chr, range(0x0300, 0x0370)))


def look_alikes(names: Iterable[str]) -> list[list[str]]:
    """The groups of two and more names that look like one, in the order of the first of each.

    >>> look_alikes(["R-07", "K-01", "r 07", "1.5", "15", "\\u041a-01"])
    [['R-07', 'r 07'], ['K-01', 'К-01']]
    """
    groups: list[list[str]] = []
    by_look: dict[str, list[str]] = {}
    for name in dict.fromkeys(names):
        met = [by_look[look] for look in _looks(name) if look in by_look]
        if not met:
            met = [[]]
            groups.append(met[0])
        first = met[0]
        first.append(name)
        for other in met[1:]:
            if other is not first:
                first.extend(other)
                groups.remove(other)
                by_look.update({look: first for look, group in by_look.items() if group is other})
        by_look.update(dict.fromkeys(_looks(name), first))
    return [group for group in groups if len(group) > 1]


def odd_letters(name: str) -> list[str]:
    """The letters of a name that look like Latin ones, and its marks that nobody sees, by their code points.

    >>> odd_letters("\\u0410-1\\u200f")
    ['U+0410', 'U+200F']
    """
    odd = (one for one in name if one in LATIN_LOOK_ALIKES or is_unseen(one))
    return list(dict.fromkeys(f"U+{ord(one):04X}" for one in odd))


def _looks(name: str) -> tuple[str, ...]:
    """What a name comes to: once as written, once with the look-alikes of other alphabets as Latin letters."""
    if name.isascii():
        return (_bare_ascii(name.lower()) or name.lower(),)
    wide = normalize("NFKD", without_unseen(name))
    if wide.isascii():
        return (_bare(wide),)
    return tuple(dict.fromkeys((_bare(wide), _bare(wide.translate(_LATIN)))))


def _bare_ascii(text: str) -> str:
    """The same as :func:`_bare` of a text in ASCII."""
    return _MARKS.sub("", _BETWEEN_DIGITS.sub(_PARTED, text))


def _bare(text: str) -> str:
    """Letters, digits and symbols in lower case; marks between two digits as one sign, since 1.5 is not 15."""
    kept: list[str] = []
    is_parted = False
    for character in text.casefold():
        part = _part_of_name(character)
        if part is None:
            continue
        if part:
            if is_parted and kept and kept[-1].isdigit() and character.isdigit():
                kept.append(_PARTED)
            kept.append(character)
            is_parted = False
        else:
            is_parted = True
    return "".join(kept) or text.casefold()


@cache
def _part_of_name(character: str) -> bool | None:
    """Whether a sign counts in a name or only parts it; None for an accent or a mark that nobody sees."""
    if character in _ACCENTS or is_unseen(character):
        return None
    kind = category(character)
    return kind[0] in "LNMS" and kind != "Sk"
