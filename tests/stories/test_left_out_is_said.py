"""What a comparison or a suggestion leaves out is said, with the reason. All figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
FILLED = "built_on=2026-05-01 dry_mass=12.40 oil_mass=1.86 closed_mass=22.35 scale=pocket"


@pytest.fixture
def team(bevelbook: Run, begin: Begin, db: Path) -> Run:
    """Two diffs with two oils in one car, weighed closed when they were built."""

    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, *words)

    records = (
        ("person", "name=ana"),
        ("car", "name=blue"),
        ("venue", "name=Mill Hall"),
        ("scale", "name=pocket", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        *(("fluid", f"label=oak {k}k", f"viscosity={k}000", "viscosity_source=bottle") for k in (7, 10)),
        *(("diff", f"label=rear-{name}", "housing_material=aluminium", "usual_position=rear") for name in "ab"),
        *(("build", f"diff=rear-{name}", *FILLED.split(), f"fluid=oak {k}k") for name, k in (("a", 7), ("b", 10))),
    )
    begin(run, db, *(("record", *words) for words in records))
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


def test_times_of_day_are_the_order_of_a_day(team: Run) -> None:
    raced(team, started_at="{order}.30")
    said = on_one_line(team("compare", "rear-a", "rear-b").out)
    assert "10 runs, best lap: 2026-05-03, Mill Hall, ana" in said
    assert "no place in the day" not in said


def test_runs_without_a_lap_time_are_named_with_what_to_write_down(team: Run) -> None:
    raced(team, day_order="{order}")
    assert team("record", "run", "2026-05-03/2", "best_lap=").code == 0
    said = on_one_line(team("compare", "rear-a", "rear-b").out)
    advice = "write down the best lap, the mean of the best five or the list of laps"
    assert f"1 run of rear-b/1 left out: no lap time; {advice}" in said
    worked_out = on_one_line(team("calc", "run-comparison", "--for", "rear-a", "--for", "rear-b").out)
    assert "Worth a look: 1 run of rear-b/1 left out: no lap time" in worked_out


NOTES = """\
date,diff,fluid,viscosity,dry_mass_g,oil_mass_g,venue,grip,track temp,runs,result_note
2025-05-03,rear-a,oak 7k,7000,12.40,1.86,Mill Hall,high,45,3,felt planted
2025-05-10,rear-a,oak 7k,7000,,,Mill Hall,high,44,2,loose at the exit
2025-06-01,rear-a,oak 10k,10000,12.41,1.86,Mill Hall,high,46,4,lazy but safe
2025-06-08,rear-a,oak 10k,10000,,,Mill Hall,high,,2,felt planted again
"""


def test_old_notes_without_calls_or_places_are_shown_with_their_remarks(
    bevelbook: Run, db: Path, tmp_path: Path
) -> None:
    def run(*words: object) -> Outcome:
        return bevelbook("--db", db, *words)

    (tmp_path / "old.csv").write_text(NOTES, encoding="utf-8")
    assert run("record", "diff", "label=rear-a", "housing_material=aluminium", "usual_position=rear").code == 0
    assert run("import", "old.csv").code == 0
    asked = ["calc", "oil-choice", "--grip", "high", "--temperature", "45", "--position", "rear"]
    done = run(*asked)
    assert done.code == 0
    said = on_one_line(done.out)
    assert "no decided run is near enough: 3 runs without keep or change, shown, not counted" in said
    assert "7,000 cSt at 45 °C: “felt planted” (no call)" in said
    assert "3 counted at the usual place of their diff, as the run does not say where it was" in said
    assert "2 runs left out: no track temperature; write down the track temperature" in said
    for place, call in enumerate(("keep", "change", "keep")):
        assert run("calls", "--set", f"{('2025-05-03/1', '2025-05-10/1', '2025-06-01/1')[place]}={call}").code == 0
    decided = on_one_line(run(*asked).out)
    assert "7,000 cSt: kept on 1 of 2 days, changed on 1, 5 runs" in decided
    assert "10,000 cSt: kept on 1 day, 4 runs" in decided


def test_a_note_of_several_runs_is_left_out_as_so_many(team: Run) -> None:
    """Five notes of each diff, of three runs each."""
    raced(team, day_order="{order}", runs="3", grip="high", track_temp="40", call="keep")
    words = "build=rear-a weighed_on=2026-05-04 mass=22.20 mass_basis=closed scale=pocket"
    assert team("record", "weighing", *words.split()).code == 0
    assert "15 runs of rear-a/1 left out: it lost 8 %" in on_one_line(team("compare", "rear-a", "rear-b").out)
    said = on_one_line(team("calc", "oil-choice", "--grip", "high", "--temperature", "40", "--position", "rear").out)
    assert "15 runs of rear-a/1 left out: it lost 8 %" in said
    team("record", "run", "2026-05-03/2", "grip=")
    said = on_one_line(team("calc", "oil-choice", "--grip", "high", "--temperature", "40", "--position", "rear").out)
    assert "3 runs left out: no grip" in said
