"""What may reach a terminal."""

from __future__ import annotations

from unicodedata import category

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.declare.printable import printable


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("plain", "plain"),
        ("two\nlines\tand\r\n", "two lines and  "),
        ("\x1b]0;title\x07", "\\x1b]0;title\\x07"),
        ("\x9b2J", "\\x9b2J"),
        ("left \u202eright", "left \\u202eright"),
        ("half \ud800", "half \\ud800"),
        ("12\u00a0cSt", "12\u00a0cSt"),
    ],
)
def test_control_characters_are_written_out(text: str, printed: str) -> None:
    assert printable(text) == printed


@given(st.text(max_size=40))
def test_what_is_printed_holds_no_control_character_and_can_be_encoded(text: str) -> None:
    printed = printable(text)
    assert not {category(c) for c in printed} & {"Cc", "Cs", "Zl", "Zp"}
    assert printable(printed) == printed
    printed.encode("utf-8")
