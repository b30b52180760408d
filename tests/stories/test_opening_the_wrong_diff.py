"""The mass before opening shows that another diff is on the scale. Figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """A diff that weighed 20.80 g closed, with 1.90 g of oil in it."""
    records: tuple[tuple[str, ...], ...] = (
        ("diff", "label=q2"),
        ("scale", "name=pocket", "step_g=0.01"),
        (
            "build",
            "diff=q2",
            "built_on=2026-11-01",
            "dry_mass=12.43",
            "filled_mass=14.33",
            "closed_mass=20.80",
            "scale=pocket",
        ),
    )
    begin(bevelbook, Path("bevelbook.db"), ("new",), *(("record", *words) for words in records))
    return bevelbook


def test_a_mass_over_the_closed_mass_is_asked_about(team: Run) -> None:
    refused = team("record", "opening", "build=q2", "closed_mass=21.95", "opened_on=2026-11-10")
    assert refused.code == 2
    assert "1.15 g over closed (20.80 g at the build), more than the scale explains" in refused.err
    assert "another diff may be on the scale" in refused.err
    assert "--yes" in refused.err
    assert team("record", "opening", "q2", "reason=leak").code == 2, "nothing was written"
    kept = team("record", "opening", "build=q2", "closed_mass=21.95", "opened_on=2026-11-10", "--yes")
    assert kept.out.startswith("Added opening of q2/1\n")


def test_a_mass_lighter_than_all_the_oil_lost_is_asked_about(team: Run) -> None:
    refused = team("record", "opening", "build=q2", "closed_mass=18.60", "opened_on=2026-11-10")
    assert refused.code == 2
    assert "2.20 g under closed (20.80 g at the build), more than all of its oil" in refused.err


@pytest.mark.parametrize("mass", [20.80, 20.81, 20.30, 18.95])
def test_a_mass_that_lost_oil_explains_is_written(team: Run, mass: float) -> None:
    assert team("record", "opening", "build=q2", f"closed_mass={mass}", "opened_on=2026-11-10").code == 0


def test_a_correction_of_the_mass_is_asked_about_too(team: Run) -> None:
    assert team("record", "opening", "build=q2", "closed_mass=20.70", "opened_on=2026-11-10").code == 0
    refused = team("record", "opening", "opening of q2/1", "closed_mass=21.70")
    assert "0.90 g over closed" in refused.err
    assert "closed_mass_g: 20.6, was 20.7\n" in team("record", "opening", "q2", "closed_mass=20.60").out
    assert team("record", "opening", "q2", "closed_mass=").code == 0


def test_without_a_closed_mass_nothing_is_asked(team: Run) -> None:
    assert team("record", "build", "q2/1", "closed_mass=").code == 0
    assert team("record", "opening", "build=q2", "closed_mass=21.95", "opened_on=2026-11-10").code == 0
