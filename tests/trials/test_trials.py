"""Some cases of each trial by hand, always the same ones, and those that once showed a fault."""

from __future__ import annotations

import random

import pytest
from trials.of_commands import is_fault, run, team
from trials.of_workbooks import turned
from trials.run import case_of, print_trial, try_cases

CASES = {
    "of_numbers": 300,
    "of_dates": 300,
    "of_no_value": 80,
    "of_calculators": 10,
    "of_csv": 12,
    "of_workbooks": 4,
    "of_yaml": 40,
}
"""How many of each are tried here: as many as take some tenths of a second. Command lines, which
take longer, are tried by hand alone."""


@pytest.mark.parametrize("subject", CASES)
def test_some_cases_of_each_subject_show_no_fault(subject: str, capsys: pytest.CaptureFixture[str]) -> None:
    trial = try_cases(case_of(subject), range(CASES[subject]), seed=1)
    assert trial.ran == CASES[subject]
    assert trial.faults == {}, f"{print_trial(subject, 1, trial)} {capsys.readouterr().out}"


def test_bytes_can_be_turned_over_until_none_is_left() -> None:
    made = {len(turned(random.Random(seed), b"PK")) for seed in range(200)}
    assert min(made) == 0


def test_a_traceback_that_was_asked_for_is_no_fault_and_any_other_is() -> None:
    typed = ["--db", str(team() / "team.db"), "history", "\udcff"]
    code, said = run(typed)
    assert (code, is_fault(typed, said), is_fault(typed, "Traceback (most recent call last)")) == (2, False, True)
    code, said = run([*typed, "--debug"])
    assert (code, "Traceback (most" in said, is_fault([*typed, "--debug"], said)) == (2, True, False)
    assert is_fault([*typed, "--debug"], f"{said} This is a fault of the program; tell us.")
