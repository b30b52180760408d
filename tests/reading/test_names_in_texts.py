"""One rule for names in texts: an edition without people and what is erased find the same. All names are invented."""

from __future__ import annotations

from unicodedata import normalize

import pytest

from bevelbook.edition.neutral_names import NeutralNames
from bevelbook.reading.names_in_texts import keys_with_initial, parts_of_name
from bevelbook.store.blanking_rules import Blanking
from bevelbook.store.erased_marks import marks_of_name, marks_of_part, marks_of_part_keys

WRITTEN = {
    "Bo Lindqvist": ("Bo Lindqvist", "LINDQVIST", "lindqvists", "Bo's", "Bos", "Bo\u00a0Lindqvist", "Lind\u00adqvist"),
    "J\u00f6rg M\u00fc\u00dfler": ("Joerg", "JORG", "J\u00d6RG M\u00dcSSLER", "Mue\u00dflers", "Joerg Mussler"),
    "Joerg Baeuerle": ("J\u00f6rg", "Jorgs", "B\u00e4uerle", "BAUERLE"),
    "Jos\u00e9 Nu\u00f1ez": ("Jose Nunez", "JOSE", "nu\u00f1ez", "Nunez\u2019s"),
    "Jose": ("Jos\u00e9", "JOS\u00c9s"),
    "S\u00f8ren \u0141ak": ("Soeren", "Soren", "lak", "\u0141AK"),
    "Anna-Lena K\u00e5s": ("Anna\u2011Lena K\u00e5s", "anna lena", "Kaas", "kas", "Annalena Kas"),
    "\u0415\u043b\u0435\u043d\u0430": ("\u0415\u041b\u0415\u041d\u0410",),
}
"""Two letters for one by DIN 5007-2 and ICAO Doc 9303 (from memory), marks left out by Unicode's decomposition."""
LEFT = {
    "Bo Lindqvist": ("boss", "bo", "Lindqvistian", "bolt", "bos"),
    "Joe": ("Jo", "joint"),
    "Al Mas": ("mass", "all", "al dente"),
    "Max von Rau": ("von", "rough", "maximum"),
}
"""Words that name nobody; a name of two letters is one only with a capital."""

INITIALS = {
    "Bo Lindqvist": {
        "b. lindqvist rang": "X rang",
        "b lindqvist rang": "X rang",
        "ask B.Lindqvist": "ask X",
        "Bo L. agrees": "X agrees",
        "asked Bo L. Then": "asked X. Then",
        "Lindqvist, B. agrees": "X agrees",
        "Lindqvist, B. Hall": "X, B. Hall",
        "b.lindqvist@team.example": "X@team.example",
        "Bo O-ring": "X O-ring",
        "Bo, L is low": "X, L is low",
        "5 l lindqvist": "5 l X",
        "R. Lindqvist": "R. X",
        "type-B Lindqvist": "type-B X",
        "Bo. Leak": "X. Leak",
    },
    "Anna Berg": {"saw a Berg spanner": "saw a X spanner", "A. Berg": "X", "\u00c5 Berg": "X", "Anna B. Berg": "X"},
    "Anna-Lena K\u00e5s": {"A.-L. Kaas": "X"},
    "Bo van der Lind": {"B. v. d. Lind": "X"},
    "Ida May": {"I May": "I X", "I. May": "X"},
}
"""A letter that goes along with its name, and one that is a word, a unit, a label or half a word."""


def _blanking(name: str) -> Blanking:
    marks = marks_of_name(name, "erased 1", in_texts=True) | marks_of_part_keys(keys_with_initial([name]), "erased 1")
    return Blanking(marks.union(*(marks_of_part(one, "erased 1") for one in parts_of_name(name))))


@pytest.mark.parametrize(("name", "spelled"), [(name, one) for name, all_of in WRITTEN.items() for one in all_of])
def test_both_find_what_team_mates_write(name: str, spelled: str) -> None:
    for form in ("NFC", "NFD"):
        text = normalize(form, f"then {spelled} rang")
        assert _blanking(name).text(text).startswith("then erased 1"), (name, spelled, form)
        assert NeutralNames([(name,)]).in_text(text).startswith("then \ue0000\ue001"), (name, spelled, form)


@pytest.mark.parametrize(("name", "word"), [(name, one) for name, all_of in LEFT.items() for one in all_of])
def test_neither_takes_another_word(name: str, word: str) -> None:
    text = f"then {word} rang"
    assert _blanking(name).text(text) == text
    assert NeutralNames([(name,)]).in_text(text) == text


@pytest.mark.parametrize("name", INITIALS)
def test_an_initial_goes_along_with_its_name(name: str) -> None:
    for text, wanted in INITIALS[name].items():
        assert _blanking(name).text(f"{text} ").replace("erased 1", "X") == f"{wanted} ", text
        assert NeutralNames([(name,)]).in_text(f"{text} ").replace("\ue0000\ue001", "X") == f"{wanted} ", text


def test_an_initial_tells_two_of_one_family_apart() -> None:
    names = NeutralNames([("Anna Berg",), ("Olle Berg",)])
    assert names.in_text("O. Berg, Berg O. and A. Berg") == "\ue0001\ue001, \ue0001\ue001 and \ue0000\ue001"


def test_a_part_is_blank_in_texts_and_in_nobody_s_name() -> None:
    blank = Blanking(marks_of_part("lindqvist", "erased 1"))
    assert blank.text("Ann Lindqvist") == "Ann erased 1"
    assert blank.who("Lindqvist") == "Lindqvist"


def test_a_name_like_a_team_mate_s_is_found_as_it_is_written_alone() -> None:
    blank = Blanking(marks_of_name("Jorg", "erased 1", in_texts=True, others={"joerg", "jorg"}))
    assert blank.text("Jorg, J\u00f6rg, JORG") == "erased 1, J\u00f6rg, erased 1"
