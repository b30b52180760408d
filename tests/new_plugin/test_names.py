"""Names for a new calculator: what can be none is refused with a name to type."""

from __future__ import annotations

import pytest

from bevelbook.new_plugin.names import BadName, PluginNames, names_of

TAKEN = ("fill-target", "shims")


@pytest.mark.parametrize("typed", ["tyre-age", "tyre_age"])
def test_one_name_serves_command_file_and_title(typed: str) -> None:
    names = names_of(typed, TAKEN)
    assert names == PluginNames("tyre-age")
    assert (names.module, names.title, names.constant) == ("tyre_age", "Tyre age", "TYRE_AGE")


@pytest.mark.parametrize(
    ("typed", "said", "instead"),
    [
        ("tyre age", "small letters", "tyre-age"),
        ("Ölstand", "small letters", "oelstand"),
        ("TyreAge", "small letters", "tyre-age"),
        ("3rd", "small letters", "my-3rd"),
        ("-", "small letters", "tyre-age"),
        ("../out", "small letters", "out"),
        ("class", "a word of Python", "my-class"),
        ("shims", "a calculator of that name", "my-shims"),
        ("fill_target", "a calculator of that name", "my-fill-target"),
        ("json", "a Python module of that name", "my-json"),
        ("numpy", "a Python module of that name", "my-numpy"),
        ("test-oil", "taken for a test", "oil"),
        ("a" * 41, "longer than 40", "a" * 34),
    ],
)
def test_a_name_that_cannot_be_is_refused_with_one_that_can(typed: str, said: str, instead: str) -> None:
    with pytest.raises(BadName, match=said) as refused:
        names_of(typed, TAKEN)
    assert refused.value.instead == instead
    assert names_of(instead, TAKEN).calculator == instead
