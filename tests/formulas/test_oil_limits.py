"""From which loss of oil on a diff is looked at or not run. Shares of 1.86 g of oil, by hand."""

from __future__ import annotations

import pytest

from bevelbook.formulas.oil_limits import LossLimits, loss_limits, share_in_words


@pytest.mark.parametrize(
    ("oil", "own_g", "own_share", "limits"),
    [
        (1.86, None, None, (0.093, 0.186, "proposal")),
        (1.86, 0.12, None, (0.093, 0.12, "yours")),
        (1.86, 0.30, None, (0.093, 0.30, "yours")),
        (1.86, 0.05, None, (0.05, 0.05, "yours")),
        (1.86, None, 0.08, (0.093, 0.1488, "yours")),
        (1.86, None, 0.05, (0.093, 0.093, "yours")),
        (1.86, None, 0.03, (0.0558, 0.0558, "yours")),
        (1.86, 0.12, 0.08, (0.093, 0.12, "yours")),
        (1.86, 0.15, 0.08, (0.093, 0.1488, "yours")),
        (None, 0.2, None, (0.2, 0.2, "yours")),
        (None, 0.2, 0.08, (0.2, 0.2, "yours")),
        (None, None, 0.08, (None, None, None)),
        (None, None, None, (None, None, None)),
    ],
)
def test_the_nearer_of_the_teams_limits_is_the_stop_and_without_one_the_proposal(
    oil: float | None, own_g: float | None, own_share: float | None, limits: tuple[object, ...]
) -> None:
    assert tuple(loss_limits(oil, own_g, own_share)) == (*limits, own_g if limits[2] else None)


@pytest.mark.parametrize("none", [0.0, -0.5])
def test_limits_and_fills_of_nothing_count_as_none(none: float) -> None:
    assert loss_limits(1.86, none, none) == LossLimits(0.093, 0.186, "proposal")
    assert loss_limits(1.86, none, 0.08) == LossLimits(0.093, 0.1488, "yours")
    assert loss_limits(none) == LossLimits(None, None, None)
    assert loss_limits(none, 0.2, 0.08) == LossLimits(0.2, 0.2, "yours", 0.2)


@pytest.mark.parametrize(
    ("share", "words"),
    [(0.161, "16 %"), (0.0054, "1 %"), (0.005, "0.5 %"), (0.0004, "0 %"), (-0.0004, "0 %"), (0.0, "0 %")],
)
def test_a_share_is_whole_percent_and_a_tenth_where_it_would_read_nothing(share: float, words: str) -> None:
    assert share_in_words(share) == words


def test_another_share_for_the_second_look_never_passes_the_stop() -> None:
    assert loss_limits(1.86, caution_share=0.02) == LossLimits(0.0372, 0.186, "proposal")
    assert loss_limits(1.86, caution_share=0.5) == LossLimits(0.186, 0.186, "proposal")


def test_a_difference_of_two_masses_gives_the_same_limits_as_the_oil_noted() -> None:
    """14.26 - 12.40 is not quite 1.86 in binary fractions."""
    assert 14.26 - 12.40 != 1.86
    assert loss_limits(14.26 - 12.40) == loss_limits(1.86)
