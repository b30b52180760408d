"""``check`` on two years of a team in which nothing is wrong: a small version of the table of coverages."""

from __future__ import annotations

from benchmarks.coverages.clean_year import TEAMS, findings_of


def test_nothing_wrong_makes_no_caution_and_few_worth_a_look() -> None:
    found = findings_of(TEAMS["0.01 g scale"], 2)
    assert not [code for severity, code in found if severity != "worth a look"]
    assert sum(found.values()) <= 4
