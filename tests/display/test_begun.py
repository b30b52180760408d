"""Names at the head of a sentence: a team knows a thing by its name as it stands on the bag, capitals and all."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import bevelbook
from bevelbook.display.begun import begun

CORE = Path(bevelbook.__file__).parent
BY_HAND = re.compile(r"\[:1\]\s*\.upper\(\)|\[:1\]\s*\|\s*upper|\|\s*capitalize")
ROOMS = ("web", "saving", "planning", "reports", "cli", "entering", "meeting", "scale_port")


@pytest.mark.parametrize("name", ["rear-a", "rear-a/2", "k1", "oil_7k", "2.4-rear", "café-b", "iDiff"])
@pytest.mark.parametrize("rest", [" is open already", ": 14.2 g", ", by hand", "'s oil", ""])
def test_a_name_keeps_its_letters(name: str, rest: str) -> None:
    assert begun(f"{name}{rest}") == f"{name}{rest}"


def test_a_name_without_a_mark_is_kept_where_it_is_said_to_be_one() -> None:
    assert begun("rear was opened", ("rear",)) == "rear was opened"
    assert begun("rearmost part", ("rear",)) == "Rearmost part"


@pytest.mark.parametrize("words", ["dry all round: which is it?", "lid-side shaft: wet", "the laptop's clock", "élan"])
def test_any_other_word_begins_with_a_capital(words: str) -> None:
    assert begun(words) == words[0].upper() + words[1:]


def test_no_sentence_is_begun_by_hand() -> None:
    """One place knows what keeps its letters."""
    files = [one for room in ROOMS for ending in ("py", "html") for one in sorted((CORE / room).rglob(f"*.{ending}"))]
    assert len(files) > 300
    assert [str(one.relative_to(CORE)) for one in files if BY_HAND.search(one.read_text(encoding="utf-8"))] == []
