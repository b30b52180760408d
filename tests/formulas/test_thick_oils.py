"""Thick oils under shear, against the printed curves that they are read from."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.formulas.thick_oils import THINNING, acts_as_cst, thick_oil_cautions
from bevelbook.reference import citations, rows

SHEAR = st.sampled_from([200.0, 1000.0])


@pytest.mark.parametrize(
    ("viscosity_cst", "at_200", "at_1000"),
    # Shin-Etsu Chemical Co., Ltd., Silicone Division, Silicone Fluid, Performance Test Results (Technical data), 2014,
    # Fig. 18 (p. 20): ratios to the nominal viscosity, read from the graph to two digits (about 3 %).
    [(30_000, 0.92, 0.72), (60_000, 0.91, 0.54), (100_000, 0.83, 0.42), (500_000, 0.36, 0.14)],
)
def test_an_oil_acts_as_thick_as_its_printed_curve(viscosity_cst: float, at_200: float, at_1000: float) -> None:
    for rate, ratio in ((200.0, at_200), (1000.0, at_1000)):
        found = acts_as_cst(viscosity_cst, rate)
        assert found is not None
        assert found / viscosity_cst == pytest.approx(ratio, abs=0.0055)


def test_five_times_as_thick_on_the_label_is_not_twice_as_thick_when_it_turns_fast() -> None:
    """The same graph: 500,000 over 100,000 at 1,000 per second is 1.7."""
    thick, thin = acts_as_cst(500_000.0, 1000.0), acts_as_cst(100_000.0, 1000.0)
    assert thick is not None
    assert thin is not None
    assert thick / thin == pytest.approx(1.7, abs=0.05)


@given(st.floats(30_000.0, 500_000.0), st.floats(1.001, 1.5), SHEAR)
def test_between_the_curves_a_thicker_oil_stays_thicker_but_never_thicker_than_its_label(
    viscosity_cst: float, times: float, rate: float
) -> None:
    here = acts_as_cst(viscosity_cst, rate)
    assert here is not None
    assert here < viscosity_cst
    there = acts_as_cst(min(500_000.0, viscosity_cst * times), rate)
    assert there is not None
    assert there >= here * (1.0 - 1e-12)


@pytest.mark.parametrize("outside", [29_999.0, 500_001.0, 1.0])
def test_nothing_is_read_beyond_the_printed_curves(outside: float) -> None:
    assert acts_as_cst(outside, 1000.0) is None


@pytest.mark.parametrize("rate", [0.0, 100.0, 5000.0])
def test_nothing_is_read_at_another_shear_rate(rate: float) -> None:
    assert acts_as_cst(100_000.0, rate) is None


def test_the_caution_names_what_labels_act_like() -> None:
    (said,) = thick_oil_cautions(100_000.0, 500_000.0)
    assert "200 per second (roughly a corner) 100,000 acts like 83,000 and 500,000 like 180,000" in said
    assert "at 1,000 (roughly one wheel spinning) like 42,000 and 71,000" in said
    assert "read from a printed graph" in said
    assert "N·m" not in said


@pytest.mark.parametrize(
    ("oils", "labels"),
    [
        ((30_000.0,), "30,000 acts like 28,000 and 100,000 like"),
        ((100_000.0,), "100,000 acts like 83,000 and 500,000 like"),
        ((7000.0, 500_000.0), "100,000 acts like 83,000 and 500,000 like"),
        ((2_000_000.0,), "100,000 acts like 83,000 and 500,000 like"),
        ((60_000.0, 1_000_000.0), "60,000 acts like 55,000 and 500,000 like"),
        ((100_000.0, 100_000.4), "100,000 acts like 83,000 and 500,000 like"),
    ],
)
def test_two_labels_are_compared_inside_the_printed_curves(oils: tuple[float, ...], labels: str) -> None:
    (said,) = thick_oil_cautions(*oils)
    assert labels in said


@pytest.mark.parametrize("oils", [(), (7000.0,), (29_999.9, 100.0)])
def test_thinner_oils_have_no_such_caution(oils: tuple[float, ...]) -> None:
    assert thick_oil_cautions(*oils) == ()


def test_the_source_in_code_is_that_of_the_table() -> None:
    known = citations()["silicone-thinning-2014"]
    assert (known.publisher, known.title, known.year) == (THINNING.publisher, THINNING.title, THINNING.year)
    assert {row["source"] for row in rows("silicone_thinning.csv")} == {"silicone-thinning-2014"}
    assert all(row["status"].startswith("digitised from a printed graph") for row in rows("silicone_thinning.csv"))
