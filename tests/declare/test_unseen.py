"""Characters that nobody sees, held against the character database that comes with Python."""

from __future__ import annotations

import sys
import unicodedata

import pytest

from bevelbook.declare.unseen import DEFAULT_IGNORABLE, is_unseen, without_unseen

SEEN_FORMAT_CHARACTERS = {
    *(chr(code) for code in range(0x600, 0x606)),
    *"\u06dd\u070f\u0890\u0891\u08e2\ufff9\ufffa\ufffb\U000110bd\U000110cd",
    *(chr(code) for code in range(0x13430, 0x13440)),
}
"""Signs of numbers, of the end of a verse and of annotations: they are drawn, or shown by a program that knows none."""


def test_every_format_character_that_is_not_drawn_is_unseen() -> None:
    """Unicode Character Database of this Python (``unicodedata``): general category Cf. Those that are drawn are listed
    above from DerivedCoreProperties.txt, where Default_Ignorable_Code_Point leaves them out."""
    formats = {c for c in map(chr, range(sys.maxunicode + 1)) if unicodedata.category(c) == "Cf"}
    assert {c for c in formats if not is_unseen(c)} <= SEEN_FORMAT_CHARACTERS
    assert not {c for c in SEEN_FORMAT_CHARACTERS if is_unseen(c)}


def test_the_ranges_are_in_order_and_hold_no_letter_that_is_drawn() -> None:
    """Letters among them are the fillers of Hangul and two vowels of Khmer that have no sign of their own."""
    flat = [code for pair in DEFAULT_IGNORABLE for code in pair]
    assert flat == sorted(flat)
    letters = {chr(c) for a, b in DEFAULT_IGNORABLE for c in range(a, b + 1) if unicodedata.category(chr(c))[0] == "L"}
    assert letters == set("\u115f\u1160\u3164\uffa0")


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("K-01", "K-01"),
        ("K-01\u200f", "K-01"),
        ("\u202aK-01\u202c", "K-01"),
        ("re\u00adar", "rear"),
        ("re\u2060ar\ufe0f", "rear"),
        ("a\u200db", "ab"),
        ("a\u200cb", "ab"),
        ("1\ufe00", "1"),
        ("\u200d\U0001f525", "\U0001f525"),
        ("x\U000e0041\U000e007f", "x"),
    ],
)
def test_marks_go_from_anywhere_in_a_text(text: str, kept: str) -> None:
    assert without_unseen(text) == kept


@pytest.mark.parametrize(
    "text",
    [
        "\u2764\ufe0f\u200d\U0001f525",
        "\U0001f468\U0001f3fd\u200d\U0001f680",
        "\U0001f3f3\ufe0f\u200d\u26a7\ufe0f",
        "1\ufe0f\u20e3",
        "\U0001f3f4\U000e0067\U000e0062\U000e0073\U000e0063\U000e0074\U000e007f",
        "\u0645\u06cc\u200c\u062e\u0648\u0627\u0647\u0645",
        "\u0915\u094d\u200d\u0937",
        "\u845b\U000e0100",
        "\u1820\u180b",
        "\u1100\u1160",
    ],
    ids=(
        "heart",
        "astronaut",
        "flag",
        "keycap",
        "flag of tags",
        "persian",
        "devanagari",
        "ideograph",
        "mongolian",
        "jamo",
    ),
)
def test_marks_stay_where_their_characters_need_them(text: str) -> None:
    """Emoji sequences as in Unicode Technical Standard 51, words as in the Unicode Standard, chapters 9, 12, 13, 18
    and 23 (from memory)."""
    assert without_unseen(text) == text
    assert without_unseen(f"a{text}b\u200f") == f"a{text}b"
