"""Dark oil is not thick oil: Einstein's relation for a dilute suspension."""

from __future__ import annotations

import pytest

from bevelbook.physics.suspension import dark_oil_words, thicker_by_share


def test_a_share_of_the_volume_thickens_by_two_and_a_half_times_as_much() -> None:
    """Einstein, Annalen der Physik 19 (1906) 289, corrected 34 (1911) 591: k* = (1 + 2.5 φ) k, quoted in a page of the
    University of Wisconsin-Milwaukee. One hundredth of the volume: 2.5 %."""
    assert thicker_by_share(1.0, 99.0, 1.0, 1.0) == pytest.approx(0.025)


def test_a_twentieth_of_a_gram_of_steel() -> None:
    """By hand: 0.05 / 7.85 = 0.00637 cm³ in 1.5 / 0.97 = 1.546 cm³ is φ = 0.41 %, so 1.03 % thicker."""
    assert thicker_by_share(0.05, 1.5) == pytest.approx(0.0103, abs=0.00005)


@pytest.mark.parametrize("found", ["grey", "black"])
def test_dark_oil_is_said_not_to_be_thick(found: str) -> None:
    assert dark_oil_words(found) == (
        "dark oil is not thick oil: even 0.05 g of steel in 1.5 g of oil makes it 1 % thicker (Einstein); change it "
        "because the gears wear, not for the feel"
    )


@pytest.mark.parametrize("found", ["clear", "flakes", None])
def test_other_oil_is_not(found: str | None) -> None:
    assert dark_oil_words(found) is None
