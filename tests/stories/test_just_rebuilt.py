"""A racer rebuilds a diff in the evening and looks at the shelf. All figures are constructed."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Begin, Outcome

from bevelbook.plugin.registry import Registry

Bevelbook = Callable[..., Outcome]


def days_ago(days: int) -> str:
    return (date.today() - timedelta(days)).isoformat()


@pytest.fixture
def rebuilt(bevelbook: Bevelbook, begin: Begin) -> Bevelbook:
    """rear-a, filled without a note of its oil, and weighed closed; not run yet."""
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "diff", "label=rear-a", "housing_material=aluminium"),
        ("record", "build", "diff=rear-a", f"built_on={days_ago(12)}", "closed_mass=22.36"),
    )
    return bevelbook


def test_a_diff_just_built_and_weighed_closed_is_ready(rebuilt: Bevelbook) -> None:
    checked = rebuilt("check")
    assert checked.out.startswith("Before the next time out\n  leave as it is: rear-a\n")
    assert "rear-a: rear-a/1, not run since it was closed, built 12 days ago\n" in checked.out
    assert "Weigh it" not in checked.out
    assert "oil lost: not run yet" in checked.out
    assert checked.code == 0


def test_without_the_closed_mass_it_is_to_be_weighed(bevelbook: Bevelbook) -> None:
    for words in (("new",), ("record", "diff", "label=rear-a", "housing_material=aluminium")):
        bevelbook(*words)
    done = bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-03")
    assert "is now 'weigh it': how much oil is in it is not known" in done.out
    done = bevelbook("record", "build", "rear-a/1", "closed_mass=22.36")
    assert "Shelf: rear-a was 'weigh it', is now 'ready'" in done.out


def test_a_limit_of_runs_that_is_reached_is_look_at_it_and_never_ready(rebuilt: Bevelbook) -> None:
    rebuilt("record", "build", "rear-a/1", "oil_mass=1.86")
    rebuilt("record", "limit", "kind=runs between openings", "value=2")
    done = rebuilt("record", "run", f"run_on={days_ago(9)}", "runs=2", "rear=rear-a/1")
    rebuilt("record", "weighing", "build=rear-a", "mass=22.36", "mass_basis=closed", f"weighed_on={days_ago(8)}")
    assert "is now 'look at it': 2 runs since it was filled, your limit" in " ".join(done.out.split())
    assert re.search(r"caution: rear-a/1.*: 2 runs since it was filled, your limit\.", rebuilt("check").out)


def test_the_pages_say_how_long_ago_it_was_built(rebuilt: Bevelbook, registry: Registry, tmp_path: Path) -> None:
    with site_over(tmp_path / "bevelbook.db", registry) as site:
        shelf = site.page("/bevelbook/-/home")
        page = site.page("/bevelbook/-/diff/rear-a")
    assert ", built 12 days ago</p>" in shelf
    assert "not run yet" in shelf
    assert "</a>, built 12 days ago</p>" in page
