"""A reading of the oil alone, with the scale zeroed on the dry diff; and what a weighing lacks. Figures constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def team(bevelbook: Run, begin: Begin) -> Run:
    """A diff with 1.40 g of oil on 12.43 g dry."""
    records: tuple[tuple[str, ...], ...] = (
        ("diff", "label=q1", "housing_material=aluminium"),
        (
            "build",
            "diff=q1",
            "built_on=2026-11-01",
            "dry_mass=12.43",
            "filled_mass=13.83",
            "mass_basis=open half",
            "closed_mass=21.90",
        ),
    )
    begin(bevelbook, Path("bevelbook.db"), ("new",), *(("record", *words) for words in records))
    return bevelbook


def test_a_reading_near_the_oil_is_taken_as_zeroed_on_the_dry_diff(team: Run) -> None:
    done = team("record", "weighing", "build=q1", "mass=1.39", "weighed_on=2026-11-10", "--json")
    assert done.code == 0, done.err
    assert done.json["values"]["mass_g"] == pytest.approx(13.82)
    assert done.json["taken"]["mass_g"] == "scale zeroed on the dry diff: 1.39 of 1.40 g"
    assert done.json["values"]["mass_basis"] == "open half"
    connection = sqlite3.connect("bevelbook.db")
    (entered,) = connection.execute("SELECT json_extract(entered, '$.mass_g') FROM weighings").fetchone()
    connection.close()
    assert entered == "1.39 (scale zeroed on the dry diff: 1.39 of 1.40 g)"
    changed = team("record", "weighing", "q1/1#1", "mass=1.38")
    assert "mass_g: 13.81, was 13.82  (scale zeroed on the dry diff: 1.38 of 1.40 g)" in changed.out


def test_over_a_mass_of_the_whole_diff_it_is_asked_about(team: Run) -> None:
    """12.43 + 1.30 = 13.73 by hand."""
    assert team("record", "weighing", "build=q1", "mass=13.80", "weighed_on=2026-11-10").code == 0
    slip = ("record", "weighing", "q1/1#1", "mass=1.30")
    said = team(*slip)
    assert said.code == 2
    assert "that makes 13.73 g, where 13.80 g stood" in said.err
    assert team(*slip, "--yes", "--json").json["values"]["mass_g"] == pytest.approx(13.73)


@pytest.mark.parametrize("words", [("mass=0.30",), ("mass=1.90",), ("mass=1.39", "mass_basis=closed")])
def test_another_small_reading_is_refused_with_what_a_reading_is(team: Run, words: tuple[str, ...]) -> None:
    refused = team("record", "weighing", "build=q1", "weighed_on=2026-11-10", *words)
    assert refused.code == 2
    assert "a reading is of the whole diff with its oil" in refused.err


def test_without_a_dry_mass_it_is_refused(team: Run) -> None:
    assert team("record", "diff", "label=q2", "housing_material=aluminium").code == 0
    assert team("record", "build", "diff=q2", "built_on=2026-11-01", "oil_mass=1.40").code == 0
    refused = team("record", "weighing", "build=q2", "mass=1.39", "weighed_on=2026-11-10")
    assert "a reading is of the whole diff with its oil" in refused.err


def test_the_check_names_what_a_weighing_lacks_and_nothing_else(team: Run) -> None:
    assert team("record", "diff", "label=q2", "housing_material=aluminium").code == 0
    assert team("record", "build", "diff=q2", "built_on=2026-11-01", "fluid=").code == 0
    assert team("record", "run", "run_on=2026-11-02", "rear=q2", "grip=high").code == 0
    said = " ".join(team("check", "q2").out.split())
    assert "Weigh it with the same parts on the scale: 'bevelbook record weighing'." in said
    assert "mass_basis" not in said
    assert team("record", "weighing", "build=q2", "mass=21.90", "weighed_on=2026-11-03").code == 0
    said = " ".join(team("check", "q2").out.split())
    assert "Of q2/1#1 it is not said what was on the scale" in said
    assert 'bevelbook record weighing "q2/1#1" mass_basis=...' in said
    assert "weighed_on" not in said
