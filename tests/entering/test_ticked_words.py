"""A text of words that are ticked and words that are typed."""

from __future__ import annotations

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import CHANGED_SINCE, HAPPENED
from bevelbook.entering.ticked_words import TickedWords, refuse_nothing_beside_something, ticked_in, ticked_text


@pytest.mark.parametrize(
    ("ticked", "typed", "text"),
    [
        ((), "", ""),
        (("nothing",), "", "nothing"),
        (("tyres",), "", "tyres"),
        (("tyres", "springs"), "soft", "tyres, springs: soft"),
        ((), "rear wing 2 mm: up", "rear wing 2 mm: up"),
        ((), "tyres, rear wing", "tyres, rear wing"),
        (("oil",), "7k: rear", "oil: 7k: rear"),
    ],
)
def test_a_text_is_taken_apart_as_it_was_put_together(ticked: tuple[str, ...], typed: str, text: str) -> None:
    assert ticked_text(ticked, typed) == text
    refuse_nothing_beside_something("changed", text, CHANGED_SINCE)
    assert ticked_in(text, CHANGED_SINCE) == TickedWords(ticked, typed)


@pytest.mark.parametrize("text", ["tyres, tyres", "tyres:", "hit", "oil, : x", "front wing; tyres", "tyres : soft"])
def test_a_text_of_another_shape_stays_as_typed(text: str) -> None:
    found = ticked_in(text, CHANGED_SINCE)
    assert ticked_text(*found) == text


def test_nothing_and_something_cannot_both_be_right() -> None:
    with pytest.raises(InputError) as refused:
        refuse_nothing_beside_something("happened", ticked_text(["hit", "nothing"], "at the hairpin"), HAPPENED)
    assert (refused.value.code, refused.value.found) == ("nothing_and_something", "hit: at the hairpin")
    assert ticked_in(None, HAPPENED) == TickedWords((), "")
