"""Some cases of each trial by hand, always the same ones, and those that once showed a fault."""

from __future__ import annotations

import pytest
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
