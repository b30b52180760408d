"""Water in a housing: the table, what a name counts as, and how far a mass moves between days."""

from __future__ import annotations

from itertools import pairwise
from math import exp, pi, sqrt

import numpy as np
import pytest
from benchmarks.coverages import cases_of, seen

from bevelbook.formulas.housing_moisture import (
    ALL_THROUGH_DAYS,
    NYLON,
    Housing,
    is_worth_saying,
    less_water_g,
    moisture_covariance_g2,
    moisture_g,
    moisture_in_words,
    water_at_50_percent,
)
from bevelbook.reference import rows

DAY_S = 86_400.0
WALL_M = 1.5e-3
DIFFUSION_M2_S = 4e-13


@pytest.mark.parametrize(
    ("noted", "grade"),
    [("nylon", NYLON), ("PA66", NYLON), (" Unfilled Nylon ", NYLON), ("PA6-GF30", "PA6 and PA66 30% glass"),
     ("PA6GF30", "PA6 and PA66 30% glass"), ("filled nylon", "PA6 and PA66 30% glass"), ("nylon 12", "PA12"),
     ("POM", "POM copolymer"), ("acetal", "POM copolymer"), ("POM homopolymer", "POM homopolymer"),
     ("PA66 unfilled", NYLON), ("nylon unfilled", NYLON), ("PA66, no glass", NYLON), ("nylon (not filled)", NYLON),
     ("nylon, not glass filled", NYLON), ("non-reinforced PA6", NYLON), ("glass-free nylon", NYLON),
     ("PA6 GF0", NYLON), ("nylon without glass fibre", NYLON), ("unreinforced polyamide", NYLON), ("polyamid", NYLON),
     ("polyamid, glass filled", "PA6 and PA66 30% glass"), ("PA66 30GF", "PA6 and PA66 30% glass"),
     ("nylon reinforced", "PA6 and PA66 30% glass"), ("nylon, aluminium lid", NYLON), ("metallic nylon", NYLON),
     ("POM, not nylon", "POM copolymer"), ("POM-H", "POM homopolymer"), ("POM-C", "POM copolymer"),
     ("acetal homopolymer", "POM homopolymer"), ("polypropylene homopolymer", "polypropylene"),
     ("PC/ABS alloy", "polycarbonate"), ("polymer alloy", None), ("metal-filled resin", None), ("not metal", None),
     ("non-metal", None), ("alum", "metal"), ("alu", "metal"), ("7075", "metal"), ("alu 7075-T6", "metal"),
     ("carbon steel", "metal"),
     ("aluminum", "metal"), ("stainless steel", "metal"),
     ("PP", "polypropylene"), ("spanner", None), ("", None)],
)  # fmt: skip
def test_a_name_of_the_trade_finds_its_row(noted: str, grade: str | None) -> None:
    assert Housing(noted).grade == grade
    if grade is not None:
        assert grade in {row["material"] for row in rows("water_uptake.csv")}


def test_an_unknown_housing_counts_as_the_wettest() -> None:
    assert moisture_g(Housing(), 7.0) == moisture_g(Housing("nylon", 5.0), 7.0)
    wettest = max(float(row["share_at_50_percent_high"] or 0.0) for row in rows("water_uptake.csv"))
    assert water_at_50_percent(NYLON) == wettest


def test_the_water_at_rest_agrees_with_a_measured_sorption_curve() -> None:
    # Broudin and others, European Polymer Journal 67 (2015) 326-334, abstract (read): PA66 absorbs up to 5 % at 90 %
    # relative humidity. The formula takes the water at 50 % times 90 / 50.
    low = min(
        float(row["share_at_50_percent_low"] or 1.0) for row in rows("water_uptake.csv") if row["material"] == NYLON
    )
    assert 1.8 * low < 0.05 < 1.8 * water_at_50_percent(NYLON)


def test_nylon_saturates_where_two_more_pages_say() -> None:
    # W. S. Hampshire, Dry versus conditioned nylon explained (read): up to 8 % for nylon, 0.8 % for acetal; Intech,
    # Effects of Moisture Absorption (read): 7 % for PA66.
    shares = {
        row["material"]: float(row["share_saturated_high"])
        for row in rows("water_uptake.csv")
        if row["share_saturated_high"]
    }
    assert (shares[NYLON], shares["PA66"], shares["POM copolymer"]) == (0.08, 0.07, 0.008)


def test_the_water_follows_the_series_of_a_plate() -> None:
    # One-sided plate of thickness L: M/M_end = 1 - 8/pi² sum exp(-(2n+1)² pi² D t / 4 L²) / (2n+1)² (J. Crank, The
    # Mathematics of Diffusion, eq. 4.18, from memory). The root of time lies never more than 0.02 under it and meets it
    # at the start; it is at most 0.16 over it, where the water is nearly all in.
    for days in (1.0, 3.0, 7.0, 14.0, 30.0, 50.0, 100.0):
        rate = pi**2 * DIFFUSION_M2_S * days * DAY_S / (4.0 * WALL_M**2)
        series = 1.0 - 8.0 / pi**2 * sum(exp(-((2 * n + 1) ** 2) * rate) / (2 * n + 1) ** 2 for n in range(200))
        moved = moisture_g(Housing("nylon"), days) / moisture_g(Housing("nylon"), 1e4)
        assert -0.02 < moved - series < 0.16
    assert pi * WALL_M**2 / (4.0 * DIFFUSION_M2_S * DAY_S) == pytest.approx(ALL_THROUGH_DAYS, rel=0.03)


def test_the_same_day_moves_nothing_and_time_only_adds() -> None:
    moved = [moisture_g(Housing("nylon", 6.0), days) for days in (0.0, 1.0, 2.0, 7.0, 30.0, 60.0)]
    assert moved[0] == 0.0
    assert all(one < other for one, other in pairwise(moved))
    assert moisture_g(Housing("nylon", 6.0), -7.0) == moisture_g(Housing("nylon", 6.0), 7.0)


def test_the_size_is_that_of_the_trade() -> None:
    # Constructed: a housing of 5 g that moves by 1 % of its mass between a dry room and a wet track moves 0.05 g.
    assert moisture_g(Housing("nylon", 5.0), 50.0) == pytest.approx(0.05, abs=0.01)
    assert moisture_g(Housing("filled nylon", 5.0), 50.0) == pytest.approx(
        0.7 * moisture_g(Housing("nylon", 5.0), 50.0)
    )
    assert moisture_g(Housing("acetal", 5.0), 7.0) < 0.002
    assert moisture_g(Housing("alloy", 5.0), 7.0) == 0.0


def test_many_readings_have_a_covariance_that_can_be() -> None:
    days = np.array([0.0, 0.0, 1.0, 7.0, 8.0, 30.0, 49.0, 70.0])
    matrix = np.array([[moisture_covariance_g2(Housing("nylon"), one - other) for other in days] for one in days])
    assert np.linalg.eigvalsh(matrix).min() > -1e-15
    for i, one in enumerate(days):
        for j, other in enumerate(days):
            apart = matrix[i, i] + matrix[j, j] - 2.0 * matrix[i, j]
            assert sqrt(max(0.0, apart)) == pytest.approx(moisture_g(Housing("nylon"), one - other), abs=1e-12)


def test_water_is_named_only_where_it_matters() -> None:
    scale_g = 0.0082
    assert is_worth_saying(Housing("nylon", 5.0), 7.0, scale_g)
    assert not is_worth_saying(Housing("nylon", 5.0), 0.0, scale_g)
    assert not is_worth_saying(Housing("acetal", 5.0), 7.0, scale_g)
    assert "note what the housing is made of" in moisture_in_words(Housing(), 7.0)
    assert "note what" not in moisture_in_words(Housing("nylon"), 7.0)


def test_a_sister_takes_off_what_it_took_up() -> None:
    assert less_water_g(22.38, 5.01, 4.98) == pytest.approx(22.35)
    assert less_water_g(22.33, 4.96, 4.98) == pytest.approx(22.35)


@pytest.mark.parametrize(
    "name", ["water of 7 days, one humidity", "loss after 7 days, nylon, a sister housing alongside"]
)
def test_95_of_100_intervals_hold_the_water_that_diffusion_moves(name: str) -> None:
    """A small version of the table of coverages, from the same fixed start."""
    case = next(one for one in cases_of("moisture") if one.name == name)
    assert seen("moisture", case, 400).is_within((0.93, 1.0))
