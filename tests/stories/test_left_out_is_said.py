"""What a comparison or a suggestion leaves out is said, with the reason. All figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]
FILLED = "built_on=2026-05-01 dry_mass=12.40 oil_mass=1.86 closed_mass=22.35 scale=pocket"


@pytest.fixture
def team(bevelbook: Run, db: Path) -> Run:
    """Two diffs with two oils in one car, weighed closed when they were built."""

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, *words)

    for words in (
        ["person", "name=ana"],
        ["car", "name=blue"],
        ["venue", "name=Mill Hall"],
        ["scale", "name=pocket", "step_g=0.01", "repeatability=0.005"],
        *(["fluid", f"label=oak {k}k", f"viscosity={k}000", "viscosity_source=bottle"] for k in (7, 10)),
        *(["diff", f"label=rear-{name}", "usual_position=rear"] for name in "ab"),
        *(["build", f"diff=rear-{name}", *FILLED.split(), f"fluid=oak {k}k"] for name, k in (("a", 7), ("b", 10))),
    ):
        done = run("record", *words)
        assert done.code == 0, done.err
    return run


def on_one_line(text: str) -> str:
    return " ".join(text.split())


def raced(team: Run, **given: str) -> None:
    for order, name in enumerate("abbaabbaab", start=1):
        words = [f"rear=rear-{name}/1", f"best_lap=14.{20 + order % 4}", "driver=ana", "car=blue", "venue=Mill Hall"]
        words += [f"{field}={value.format(order=order)}" for field, value in given.items()]
        done = team("record", "run", "run_on=2026-05-03", *words)
        assert done.code == 0, done.err


def test_a_diff_that_turned_out_to_have_lost_oil_leaves_its_runs_out_by_name(team: Run) -> None:
    raced(team, day_order="{order}")
    assert "nothing to compare" not in team("compare", "rear-a", "rear-b").out
    words = "build=rear-a weighed_on=2026-05-04 mass=22.20 mass_basis=closed scale=pocket"
    assert team("record", "weighing", *words.split()).code == 0
    said = on_one_line(team("compare", "rear-a", "rear-b").out)
    assert "there are 0 of rear-a/1 (oak 7k, 7,000 cSt) and 5 of rear-b/1 (oak 10k, 10,000 cSt)" in said
    assert "5 runs of rear-a/1 left out: it lost 8 % of its oil; run it again on a full diff" in said
    assert "5 runs of rear-b/1 left out: no run of the other is left to compare with" in said
    data = team("compare", "rear-a", "rear-b", "--json").json["on_track"]["left_out"]
    assert [(one["runs"], one["build"]) for one in data] == [(5, "rear-a/1"), (5, "rear-b/1")]
    refused = on_one_line(team("calc", "run-comparison", "--for", "rear-a", "--for", "rear-b").err)
    assert "5 runs of rear-a/1 left out: it lost 8 % of its oil" in refused


def test_runs_without_a_lap_time_are_named_with_what_to_write_down(team: Run) -> None:
    raced(team, day_order="{order}")
    assert team("record", "run", "2026-05-03/2", "best_lap=").code == 0
    said = on_one_line(team("compare", "rear-a", "rear-b").out)
    assert "1 run of rear-b/1 left out: no lap time; write down the best lap or the mean of the best five" in said
    worked_out = on_one_line(team("calc", "run-comparison", "--for", "rear-a", "--for", "rear-b").out)
    assert "Worth a look: 1 run of rear-b/1 left out: no lap time" in worked_out
