"""Names that look like one. All names are invented."""

from __future__ import annotations

import unicodedata

import pytest

from bevelbook.reading.look_alikes import LATIN_LOOK_ALIKES, look_alikes, odd_letters


@pytest.mark.parametrize(
    "names",
    [
        ("R-07", "R–07", "r-07", "R 07", "R  07", "R\u00a007", "R_07", "R07", "#R-07", "R-07."),
        ("A1", "\u04101", "\u03911", "Ａ１", "A1\u200f", "a-1"),
        ("F-03", "Ｆ－０３"),
        ("house 7k", "House 7K", "house-7k", "house  7k"),
        ("zoë", "zoe", "Zoe", "zoe\u0308"),
        ("вера", "ВЕРА"),
        ("7.5k", "7,5k", "7 5k"),
        ("Straße", "STRASSE"),
    ],
)
def test_names_that_differ_in_blanks_case_marks_or_letters_drawn_the_same_look_like_one(names: tuple[str, ...]) -> None:
    assert look_alikes(("other", *names, "third")) == [list(names)]
    assert look_alikes((*names, *names)) == [list(names)]


@pytest.mark.parametrize(
    "names",
    [
        *(("7.5k", "75k"), ("1-2", "12"), ("A1", "A2"), ("A+", "A"), ("5k+10k", "5k 10k"), ("★", "♥"), ("#", "*")),
        *(("ana", "anna"), ("か", "が"), ("front", "rear"), ("вова", "boba"), ("A ★", "A ♥"), ("½", "12")),
    ],
)
def test_names_that_differ_in_a_letter_a_number_or_a_symbol_do_not(names: tuple[str, str]) -> None:
    assert look_alikes(names) == []


def test_groups_that_a_later_name_joins_become_one() -> None:
    """The Cyrillic name is like the first by its case, and like the second by its letters."""
    cyrillic, latin, capitals = "нос", "HOC", "НОС"
    assert look_alikes((cyrillic, latin)) == []
    assert look_alikes((cyrillic, latin, capitals)) == [[cyrillic, capitals, latin]]


def test_every_letter_in_the_table_is_of_another_alphabet_and_stands_for_a_latin_one() -> None:
    """Names of letters: ``unicodedata``."""
    for letter, latin in LATIN_LOOK_ALIKES.items():
        assert unicodedata.name(letter).split()[0] in ("CYRILLIC", "GREEK")
        assert latin.isascii()
        assert letter.isupper() == latin.isupper(), letter


def test_letters_of_another_alphabet_and_marks_are_named() -> None:
    assert odd_letters("K-01") == []
    assert odd_letters("\u041a-01\u200e\u041a") == ["U+041A", "U+200E"]


@pytest.mark.parametrize(
    "name", ["K-01", "1.5", "1 - 5", "a+b", "5k+10k 1:1", "#", "**", "x_y.z", "$5|6", "a`^b", "7.5k "]
)
def test_a_name_in_ascii_looks_the_same_with_and_without_a_mark_that_nobody_sees(name: str) -> None:
    """Names in ASCII are compared by another way, which has to agree."""
    assert look_alikes((name, f"{name}\u200f")) == [[name, f"{name}\u200f"]]
