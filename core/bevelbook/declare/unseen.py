"""Characters that nobody sees: direction marks, soft hyphens, joiners, selectors of a glyph.

They come along when a text is copied. Where a character needs one beside it to be what it is (the joiner inside an
emoji, a non-joiner between Persian letters), it stays.

Source: Unicode Character Database, DerivedCoreProperties.txt, Default_Ignorable_Code_Point, read through a library of
regular expressions for Unicode 16.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

DEFAULT_IGNORABLE: Final = (
    *((0x00AD, 0x00AD), (0x034F, 0x034F), (0x061C, 0x061C), (0x115F, 0x1160), (0x17B4, 0x17B5), (0x180B, 0x180F)),
    *((0x200B, 0x200F), (0x202A, 0x202E), (0x2060, 0x206F), (0x3164, 0x3164), (0xFE00, 0xFE0F), (0xFEFF, 0xFEFF)),
    *((0xFFA0, 0xFFA0), (0xFFF0, 0xFFF8), (0x1BCA0, 0x1BCA3), (0x1D173, 0x1D17A), (0xE0000, 0xE0FFF)),
)
"""First and last code point of each range."""
_CLASS: Final = "".join(f"{chr(first)}-{chr(last)}" for first, last in DEFAULT_IGNORABLE)
_VARIATION_SELECTORS: Final = ((0x180B, 0x180D), (0x180F, 0x180F), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
_JAMO: Final = ((0x1100, 0x11FF), (0xA960, 0xA97F), (0xD7B0, 0xD7FF))
_JOINING: Final = (
    *((0x0600, 0x0DFF), (0x0F00, 0x109F), (0x1780, 0x18AF), (0xA800, 0xA8FF), (0xFB50, 0xFDFF), (0xFE70, 0xFEFC)),
    *((0x10A00, 0x10FFF), (0x11000, 0x11FFF), (0x1E900, 0x1E95F)),
)
"""Arabic, Syriac, Mongolian and the scripts of India and around it: there a joiner changes the word."""
_MONGOLIAN: Final = ((0x1800, 0x18AF),)
_FIRST_IDEOGRAPH: Final = 0x2E80
_EMOJI_OF_PUNCTUATION: Final = "\u203c\u2049\u2139\u3030\u303d"
_KEYCAP: Final = "\u20e3"
_FLAG: Final = "\U0001f3f4[\U000e0020-\U000e007e]+\U000e007f"


def is_unseen(character: str) -> bool:
    """Whether a character is one of those that nobody sees."""
    return not character.isascii() and _among(character, DEFAULT_IGNORABLE)


def without_unseen(text: str) -> str:
    """A text without the characters that nobody sees, but for those that its other characters need.

    >>> without_unseen("K\\u00ad-01\\u200f"), without_unseen("\\U0001f3f3\\ufe0f\\u200d\\u26a7\\ufe0f").count("\\u200d")
    ('K-01', 1)
    """
    if text.isascii() or not _unseen().search(text):
        return text
    kept: list[str] = []
    at = 0
    while at < len(text):
        flag = _flag().match(text, at)
        if flag:
            kept.append(flag[0])
            at = flag.end()
            continue
        character = text[at]
        if not is_unseen(character) or _is_needed(character, kept[-1][-1] if kept else "", text[at + 1 : at + 2]):
            kept.append(character)
        at += 1
    return "".join(kept)


def _is_needed(character: str, before: str, after: str) -> bool:
    """Whether a character that nobody sees changes what the characters beside it are."""
    if not before:
        return False
    if character in "\u200c\u200d":
        if not after:
            return False
        if _among(before, _JOINING) and _among(after, _JOINING):
            return True
        return character == "\u200d" and _is_symbol(after) and (_is_symbol(before) or before == "\ufe0f")
    if _among(character, _VARIATION_SELECTORS):
        return (
            _is_symbol(before)
            or before in _EMOJI_OF_PUNCTUATION
            or after == _KEYCAP
            or _among(before, _MONGOLIAN)
            or (ord(before) >= _FIRST_IDEOGRAPH and before.isalpha())
        )
    if character in "\u115f\u1160":
        return _among(before, _JAMO) or (bool(after) and _among(after, _JAMO))
    return False


def _is_symbol(character: str) -> bool:
    from unicodedata import category

    return not character.isascii() and category(character).startswith("S")


def _among(character: str, ranges: tuple[tuple[int, int], ...]) -> bool:
    code = ord(character)
    return any(first <= code <= last for first, last in ranges)


@cache
def _unseen() -> re.Pattern[str]:
    return re.compile(f"[{_CLASS}]")


@cache
def _flag() -> re.Pattern[str]:
    return re.compile(_FLAG)
