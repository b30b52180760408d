from __future__ import annotations

import pytest

from bevelbook.declare.errors import (
    BevelbookError,
    InputError,
    Place,
    PluginFault,
    UnknownNameError,
    near_misses,
    shown,
)


def test_an_error_says_where_what_was_found_what_was_wanted_and_what_to_do() -> None:
    fault = InputError(
        "not a number",
        code="number_unparseable",
        place=Place("notes.csv", 7, "oil_mass_g"),
        found="abc",
        wanted="g",
        remedy="Write 1.5.",
    )
    assert str(fault) == 'notes.csv, line 7, oil_mass_g: not a number, found "abc", wanted g. Write 1.5.'
    assert fault.exit_code == 2
    assert fault.as_dict()["line"] == 7


def test_an_error_without_a_place_is_a_plain_sentence() -> None:
    assert str(BevelbookError("nothing there", code="x")) == "nothing there."


def test_an_unknown_name_is_met_with_near_misses() -> None:
    assert "Did you mean venue?" in str(UnknownNameError("record", "venu", ["venue", "run"]))
    assert near_misses("zzz", ["venue"]) == ""
    assert near_misses("REAR-A", ["rear-a"]) == "Did you mean rear-a?"


@pytest.mark.parametrize(
    ("name", "known", "said"),
    [
        ("foo", ["footer"], ""),
        ("unit", ["units"], "Did you mean units?"),
        ("hihg", ["low", "high"], "Did you mean high?"),
        ("builds", ["build"], "Did you mean build?"),
        ("dry_weight", ["diff", "oil_mass", "dry_mass"], "Did you mean dry_mass?"),
        ("of_it", ["of_mass"], ""),
    ],
)
def test_a_name_is_near_by_its_letters_or_else_by_a_word(name: str, known: list[str], said: str) -> None:
    assert near_misses(name, known) == said


def test_a_page_says_what_an_unknown_name_is_near_to_and_no_command() -> None:
    fault = UnknownNameError("build", "rear-a/7", ["rear-a/1"], by_command="Make it first with 'bevelbook record'.")
    assert fault.on_page() == 'there is no build named "rear-a/7". Did you mean rear-a/1?'
    assert str(fault) == f"{fault.on_page()} Make it first with 'bevelbook record'."
    assert UnknownNameError("build", "x", [], by_command="Make it.").on_page() == 'there is no build named "x".'


def test_a_users_text_is_shown_with_control_characters_escaped_and_cut() -> None:
    assert shown("a\x00b") == '"a\\x00b"'
    assert len(shown("x" * 1000)) < 70


def test_no_control_or_direction_character_reaches_the_reader_of_an_error() -> None:
    """In place, words, remedy and near misses; for programs the characters stay as they are."""
    odd = "rear\x1b[2J\u202e-left"
    fault = InputError(
        f"no {odd}", code="x", place=Place(odd, 1, odd, odd), found=odd, wanted=odd, remedy=f"Use {odd}."
    )
    for text in (str(fault), fault.without_place(), str(fault.place), near_misses("rear-left", [odd])):
        assert "rear\\x1b[2J\\u202e-left" in text
        assert text.isprintable()
    assert (fault.as_dict()["file"], fault.as_dict()["found"]) == (odd, odd)
    failed = PluginFault("leak", how=f"said {odd}", plugin="ours", place=Place(odd))
    assert str(failed).isprintable()
    assert failed.in_words().isprintable()
