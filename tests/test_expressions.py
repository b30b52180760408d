"""No regular expression of the program goes back and forth for long, also over texts that are made for it."""

from __future__ import annotations

from trials.expressions import Expression, attacks_on, expressions, too_long

LETTERS = 600
"""What goes by the square of its length takes some milliseconds for so many; by the third power, over three seconds."""
SECONDS = 0.5


def test_no_expression_takes_more_than_the_square_of_the_length_of_a_text() -> None:
    found = list(dict.fromkeys(expressions()))
    assert len(found) > 200
    slow = [(one.place, attack) for one in found if (attack := too_long(one, LETTERS, SECONDS)) is not None]
    assert slow == []


def test_what_goes_back_and_forth_is_found() -> None:
    for pattern in (r"(a+)+b", r"(?:a|ab?)*c", r"\s*\s*\s*x", r"(\w+\s?)*$"):
        one = Expression("", pattern, 0, frozenset({"search"}))
        assert too_long(one, LETTERS if "+" in pattern or "|" in pattern else 3 * LETTERS, 0.1) is not None, pattern
    one = Expression("", r"\d+[.,]\d+", 0, frozenset({"search"}))
    assert attacks_on(one)
    assert too_long(one, LETTERS, SECONDS) is None
