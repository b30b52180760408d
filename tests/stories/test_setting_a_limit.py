"""A limit typed by hand: its number goes by its kind. Figures constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
SHARE = "kind=oil lost as a share"


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    begin(bevelbook, Path("bevelbook.db"), ("new",))
    return bevelbook


def test_a_share_over_one_is_refused_with_what_was_meant(team: Run) -> None:
    done = team("record", "limit", SHARE, "value=5")
    assert done.code == 2
    said = " ".join(done.err.split())
    assert "500 % of the oil, more than all of it" in said
    assert "For 5 % type '5 %' or 0.05." in said
    with closing(sqlite3.connect("bevelbook.db")) as connection:
        assert connection.execute("SELECT count(*) FROM limits").fetchone() == (0,)


def test_a_share_over_a_half_is_asked_about(team: Run) -> None:
    done = team("record", "limit", SHARE, "value=0.6")
    assert done.code == 2
    assert "60 % of the oil, more than half of it" in done.err
    assert team("record", "limit", SHARE, "value=0.6", "--yes").code == 0


@pytest.mark.parametrize(
    ("kind", "value", "said"),
    [
        ("oil lost as a share", "5 %", "The limit of oil lost as a share is 5 % of the oil put in."),
        ("oil lost as a share", "0.05", "The limit of oil lost as a share is 5 % of the oil put in."),
        ("oil lost as a share", "0", "That removes the limit of oil lost as a share."),
        ("runs between openings", "12", "The limit of runs between openings is 12 runs."),
        ("seal uses", "3", "The limit of seal uses is 3 uses."),
        ("fill window", "0.04", "The limit of fill window is 0.04 g either way."),
    ],
)
def test_the_answer_has_the_unit_of_the_kind(team: Run, kind: str, value: str, said: str) -> None:
    assert said in " ".join(team("record", "limit", f"kind={kind}", f"value={value}").out.split())


def test_a_percentage_of_grams_is_refused(team: Run) -> None:
    done = team("record", "limit", "kind=oil lost in grams", "value=5 %")
    assert done.code == 2
    assert "a limit of oil lost in grams is not a percentage" in done.err


def test_a_limit_changed_to_a_share_is_looked_at_too(team: Run) -> None:
    made = team("record", "limit", "kind=seal uses", "value=3", "--json").json["id"]
    assert "300 % of the oil" in team("record", "limit", made, SHARE).err


def test_check_names_a_share_over_one_that_is_there_already(team: Run) -> None:
    team("record", "limit", SHARE, "value=0.5")
    with closing(sqlite3.connect("bevelbook.db")) as connection:
        connection.execute("UPDATE limits SET value = 5")
        connection.commit()
    said = " ".join(team("check").out.split())
    assert "the limit of oil lost as a share is 500 % of the oil, more than all of it: no loss ever reaches it" in said
    team("record", "limit", SHARE, "value=5 %")
    assert "500 %" not in team("check").out
