"""Each subject of the coverage table still runs: its quickest case, with a few simulations."""

from __future__ import annotations

import pytest
from benchmarks.coverages import cases_of, seen, subjects

FEW = 10


@pytest.mark.parametrize("subject", subjects())
def test_the_quickest_case_of_a_subject_runs_and_gives_the_same_twice(subject: str) -> None:
    case = next(cases_of(subject))
    found = seen(subject, case, FEW)
    assert 0.0 <= found.share <= 1.0
    assert 0 < found.counted <= FEW
    assert found == seen(subject, case, FEW)


@pytest.mark.parametrize("subject", subjects())
def test_cases_have_names_of_their_own_and_a_range(subject: str) -> None:
    cases = list(cases_of(subject))
    assert len({case.name for case in cases}) == len(cases)
    for case in cases:
        assert 0.0 <= case.allowed[0] <= case.allowed[1] <= 1.0
