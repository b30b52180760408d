"""What an author reads where a plugin was left out as it was loaded: what to write instead."""

from __future__ import annotations

import pytest

from bevelbook.examining.left_out_flaws import remedy_of


@pytest.mark.parametrize(
    ("reason", "remedy"),
    [
        ("calculator 'a': sources has to be a tuple of Source", "a comma behind each, also behind one alone"),
        ("NameError: name 'Worked' is not defined", "Add Worked to the names that the file imports from bevelbook."),
        ("NameError: name 'TIM' is not defined", "Write TIM as it is called where it is made"),
        ("'a': charge is declared in mAs: there is no unit of that name", "bevelbook help units"),
    ],
)
def test_a_slip_is_answered_with_what_to_write(reason: str, remedy: str) -> None:
    assert remedy in remedy_of(reason)
