"""A scale whose readings of one day are known to scatter, and of which nothing is known from day to day.

All data are constructed: 22.35 g closed, 1.86 g of oil, 0.01 g steps and a repeatability of 0.005 g. A loss between
days is seen from 1.96 sqrt(2 (0.01^2 / 12 + 0.005^2 + 0.01^2)) = 0.032 g on, with one step from day to day (this
project's proposal), and from 0.016 g on where 0 was typed.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]
SAID = "scale never checked on a second day: one step, 0.01 g, is assumed from day to day"


def weighed(bevelbook: Run, *scale: str, mass_g: float) -> tuple[str, str]:
    """What ``record`` says of a weighing ten days later, and ``check`` after it."""
    bevelbook("new")
    bevelbook("record", "scale", "name=pocket", "step_g=0.01", "repeatability=0.005", *scale)
    bevelbook("record", "diff", "label=rear-a", "housing_material=aluminium")
    masses = ("oil_mass=1.86g", "closed_mass=22.35g", "scale=pocket")
    bevelbook("record", "build", "label=rear-a/1", "diff=rear-a", "built_on=2026-05-03", *masses)
    of_weighing = ("build=rear-a/1", "weighed_on=2026-05-13", "runs=6", f"mass={mass_g}g", "mass_basis=closed")
    done = bevelbook("record", "weighing", *of_weighing, "scale=pocket")
    assert done.code == 0, done.err
    return " ".join(done.out.split()), " ".join(bevelbook("check", "--past").out.split())


def test_a_small_loss_between_days_is_not_seen_and_why_is_said(bevelbook: Run) -> None:
    for said in weighed(bevelbook, mass_g=22.32):
        assert "the scale can see 0.04 g and more" in said
        assert SAID in said
        assert "lost 0.03 g" not in said


def test_runs_left_say_what_they_rest_on(bevelbook: Run) -> None:
    recorded, checked = weighed(bevelbook, mass_g=22.31)
    assert SAID in recorded
    assert "± 0.033 g (k = 2)" in recorded
    assert "one step assumed from day to day" in checked
    assert "runs left" in checked or "left if it goes on" in checked


@pytest.mark.parametrize("typed", ["day_to_day=0", "day_to_day_g=0.002"])
def test_nothing_is_assumed_where_it_is_typed(bevelbook: Run, typed: str) -> None:
    for said in weighed(bevelbook, typed, mass_g=22.32):
        assert "lost 0.03 g" in said
        assert "from day to day" not in said
