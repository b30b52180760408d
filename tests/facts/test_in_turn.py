"""Two builds run in turn: which runs are set against each other, and what comes of it. All data are constructed.

The times are the constructed sets of run-comparison; their expected intervals are scipy's (``scipy.stats.ttest_ind``,
unequal variances), computed here again.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import pytest
from conftest import Outcome
from constructed import Add, Team, adding
from scipy.stats import ttest_ind

from bevelbook.calculating.calculate import bind
from bevelbook.calculating.known import Subject, known_of
from bevelbook.facts.in_turn import ALSO_CHANGED, LABEL_A, LABEL_B, RUNS, in_turn, known_in_turn
from bevelbook.formulas.lap_comparison import LAP_COMPARISON
from bevelbook.formulas.left_out import LEFT_OUT
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.compare import compare
from bevelbook.reports.runs_in_turn import NEVER, OnTrack
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

FASTER = ((15.90, 15.94, 15.88, 15.95), (15.70, 15.74, 15.69, 15.76))
"""The second group of the constructed checks: the second build is faster."""
ABBA = ("a", "b", "b", "a", "a", "b", "b", "a")


class Track:
    """Two builds of one diff, and a way to run them."""

    def __init__(self, add: Add) -> None:
        self.add = add
        team = Team(add)
        fluids = [
            add("fluid", label=f"club {cst:.0f}", viscosity_cst=cst, viscosity_source="label") for cst in (7e3, 1e4)
        ]
        self.builds = dict(zip("ab", (team.build(fluid=fluid) for fluid in fluids), strict=True))
        self.venue = add("venue", name="Hall")
        self.ana, self.bo = add("person", name="ana"), add("person", name="bo")
        self.runs = 0

    def run(self, side: str, order: int | None, time_s: float | None, **values: Any) -> str:
        self.runs += 1
        position = values.pop("position", "rear")
        standard = {
            "label": f"run {self.runs}",
            "run_on": "2026-05-03",
            "day_order": order,
            "venue": self.venue,
            "driver": self.ana,
            "best_five_s": time_s,
            "changed": "nothing",
        }
        run = self.add("run", **{**standard, **values})
        self.add("run_diff", run=run, build=self.builds[side], position=position)
        return run

    def in_turn(self, times: Sequence[Sequence[float]] = FASTER, **values: Any) -> None:
        left = {"a": list(times[0]), "b": list(times[1])}
        for order, side in enumerate(ABBA, start=1):
            self.run(side, order, left[side].pop(0), **values)


@pytest.fixture
def track(writer: Writer) -> Track:
    return Track(adding(writer))


def rows_of(connection: sqlite3.Connection, track: Track) -> list[tuple[str, int, float]]:
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    return [(row.group, row.order, row.time_s) for row in found.rows]


def test_runs_in_turn_give_the_interval_of_an_independent_library(
    connection: sqlite3.Connection, registry: Registry, track: Track
) -> None:
    track.in_turn()
    result = compare(connection, "rear-a/1", "rear-a/2", registry).on_track
    assert result is not None
    assert result.result is not None
    fit = ttest_ind(FASTER[1], FASTER[0], equal_var=False)
    low, high = fit.confidence_interval(0.95)
    outputs = result.result.outputs
    assert outputs["difference_s"] == pytest.approx(-0.195, abs=5e-4)
    assert outputs["plain_low_s"] == pytest.approx(low, abs=1e-9)
    assert outputs["plain_high_s"] == pytest.approx(high, abs=1e-9)
    assert result.result.verdict == "ok"
    not_weighed = "8 counted on a diff that was not weighed after them: not known to be full"
    assert not_weighed in result.result.findings
    assert "rear-a/2 (club 10000, 10,000 cSt) is faster than rear-a/1 (club 7000, 7,000 cSt)" in outputs["answer"]
    assert next(iter(result.since_opened())) == "rear-a/1 (club 7000, 7,000 cSt): filled 0 to 3 runs before these"


def test_the_comparison_needs_no_plugin(connection: sqlite3.Connection, registry: Registry, track: Track) -> None:
    track.in_turn()
    alone, whole = (compare(connection, "rear-a/1", "rear-a/2", loaded).on_track for loaded in (Registry(), registry))
    assert alone is not None
    assert whole is not None
    assert alone.result is not None
    assert alone.result.found.difference_s == pytest.approx(-0.195, abs=5e-4)
    assert list(alone.lines()) == list(whole.lines())


def test_without_a_calculator_to_keep_it_under_nothing_is_kept_and_that_is_said(
    raced: Path, bevelbook: Callable[..., Outcome], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bevelbook.plugin.registry._installed", lambda: ())
    assert bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2").code == 0
    refused = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2", "--keep")
    assert (refused.code, "no calculator that could keep the comparison is loaded" in refused.err) == (2, True)


def test_only_one_day_venue_driver_car_and_place_are_set_against_each_other(
    connection: sqlite3.Connection, track: Track
) -> None:
    elsewhere = track.add("venue", name="Quay")
    car = track.add("car", name="second car", drive="4WD")
    for order, other in enumerate(
        ({"run_on": "2026-05-04"}, {"driver": track.bo}, {"venue": elsewhere}, {"car": car}, {"position": "front"}),
        start=20,
    ):
        track.run("a", order, 15.0, **other)
    assert rows_of(connection, track) == []
    track.in_turn()
    assert len(rows_of(connection, track)) == 8


def test_a_run_without_its_place_or_with_both_builds_in_the_car_is_left_out(
    connection: sqlite3.Connection, track: Track
) -> None:
    track.in_turn()
    track.run("a", None, 15.0)
    both = track.run("a", 9, 15.0)
    track.add("run_diff", run=both, build=track.builds["b"], position="front")
    assert [order for _, order, _ in rows_of(connection, track)] == [1, 2, 3, 4, 5, 6, 7, 8]


def test_best_laps_stand_in_where_the_best_five_are_too_few(connection: sqlite3.Connection, track: Track) -> None:
    for order, side in enumerate("abba", start=1):
        track.run(side, order, 15.9 if side == "a" else None, best_lap_s=15.0 + order)
    assert rows_of(connection, track) == [("a", 1, 16.0), ("b", 2, 17.0), ("b", 3, 18.0), ("a", 4, 19.0)]
    assert in_turn(connection, track.builds["a"], track.builds["b"]).time == "best lap"


def test_best_five_laps_are_taken_from_two_timed_runs_a_side_on(connection: sqlite3.Connection, track: Track) -> None:
    for order, (side, time_s) in enumerate((("a", 15.9), ("b", 15.7), ("b", 15.8), ("a", 15.8)), start=1):
        track.run(side, order, time_s, best_lap_s=15.0)
    assert in_turn(connection, track.builds["a"], track.builds["b"]).time == "mean of the best five laps"
    connection.execute("UPDATE runs SET best_five_s = NULL WHERE label = 'run 3'")
    assert in_turn(connection, track.builds["a"], track.builds["b"]).time == "best lap"
    connection.execute("UPDATE runs SET best_lap_s = NULL WHERE label = 'run 2'")
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert (found.rows, found.time, found.days, found.runs_before) == ((), "", (), ())
    assert known_in_turn(found).keys() == {LEFT_OUT}
    assert found.timed == (2, 1)


def test_runs_in_turn_stand_by_day_and_place_with_what_was_noted_of_each_day(
    connection: sqlite3.Connection, track: Track
) -> None:
    for day, grip in (("2026-05-04", "low"), ("2026-05-03", None)):
        for order, side in ((2, "b"), (1, "a")):
            track.run(side, order, 15.0 + order, run_on=day, grip=grip)
    track.run("a", 3, 15.5, run_on="2026-05-04", grip="high")
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert [(row.day, row.order, row.group) for row in found.rows] == [
        ("2026-05-03, Hall", 1, "a"),
        ("2026-05-03, Hall", 2, "b"),
        ("2026-05-04, Hall", 1, "a"),
        ("2026-05-04, Hall", 2, "b"),
        ("2026-05-04, Hall", 3, "a"),
    ]
    assert found.days == ("2026-05-03, Hall, ana, not noted grip", "2026-05-04, Hall, ana, low and high grip")
    assert found.runs_before == ((0.0, 2.0), (0.0, 1.0))
    known = known_in_turn(found)
    assert known[LABEL_A] == ("rear-a/1 (club 7000, 7,000 cSt)", "first build")
    assert known[LABEL_B][0] == "rear-a/2 (club 10000, 10,000 cSt)"
    assert known[ALSO_CHANGED][0] == "nothing"
    assert known[RUNS][0][0] == {
        "group": "a",
        "order": 1,
        "time_s": 16.0,
        "day": "2026-05-03, Hall",
        "driver": "ana",
        "doubtful": "not known",
    }


def test_each_driver_of_a_day_has_a_level_and_an_order_of_its_own(
    connection: sqlite3.Connection, registry: Registry, track: Track
) -> None:
    """bo is 0.8 s slower than ana, on the same day and in the same places: that does not hide the difference."""
    track.in_turn()
    for order, side in enumerate(ABBA, start=1):
        track.run(side, order, FASTER["ab".index(side)][(order - 1) // 2] + 0.8, driver=track.bo)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert {(row.day, row.driver) for row in found.rows} == {("2026-05-03, Hall", "ana"), ("2026-05-03, Hall", "bo")}
    result = on_track_of(connection, registry).result
    assert result is not None
    assert result.verdict == "ok"
    assert result.found.degrees_of_freedom == pytest.approx(11, abs=0.5), "16 runs, two levels, two drifts, the groups"
    assert result.found.plain_high_s > 0


def test_a_crash_is_asked_about_and_the_answer_is_taken(raced: Path, bevelbook: Callable[..., Outcome]) -> None:
    """The last run of the first build took 19.9 s instead of 15.95 s."""
    assert bevelbook("--db", raced, "record", "run", "run 8", "best_five=19.9").code == 0
    asked = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2")
    said = " ".join(asked.out.split())
    assert "unclear: not decided: 19.900 s of rear-a/1 (club 7000, 7,000 cSt) (run 8 of 2026-05-03, Hall, ana)" in said
    left_out = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2", "--odd-times", "leave-out", "--json")
    assert left_out.json["on_track"]["result"]["verdict"] == "ok"
    counted = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2", "--odd-times", "count", "--json")
    assert counted.json["on_track"]["result"]["verdict"] == "unclear"
    assert counted.json["on_track"]["result"]["outputs"]["plain_difference_s"] < -1


def test_one_driver_with_two_cars_on_a_day_has_two_days_by_name(connection: sqlite3.Connection, track: Track) -> None:
    for name in ("blue", "red"):
        car = track.add("car", name=name, drive="4WD")
        for order, side in enumerate("abba", start=1):
            track.run(side, order + 10 * (name == "red"), 15.0, car=car)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert {row.day for row in found.rows} == {"2026-05-03, Hall, blue, rear", "2026-05-03, Hall, red, rear"}


def test_a_build_without_an_oil_is_called_by_its_label_and_other_diffs_in_the_car_are_said(
    connection: sqlite3.Connection, track: Track
) -> None:
    connection.execute("UPDATE builds SET fluid = NULL WHERE id = ?", (track.builds["a"],))
    connection.execute("UPDATE fluids SET viscosity_cst = NULL")
    other = Team(track.add, "front-a").build()
    for order, side in enumerate("abba", start=1):
        run = track.run(side, order, 15.9)
        if side == "b":
            track.add("run_diff", run=run, build=other, position="front")
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert (found.label_a, found.label_b) == ("rear-a/1", "rear-a/2 (club 10000)")
    assert found.also_changed == "other diffs in the car (not noted against front front-a/1)"


def test_what_else_was_changed_is_taken_from_the_notes_and_asked_where_they_are_silent(
    connection: sqlite3.Connection, track: Track
) -> None:
    def changed() -> str | None:
        return in_turn(connection, track.builds["a"], track.builds["b"]).also_changed

    track.in_turn(tyres="club set")
    assert changed() == "nothing"
    connection.execute("UPDATE runs SET changed = NULL WHERE label = 'run 3'")
    assert changed() is None
    connection.execute("UPDATE runs SET tyres = 'new set' WHERE label = 'run 3'")
    assert changed() == "tyres (club set against club set, new set)"
    connection.execute("UPDATE runs SET tyres = 'club set', changed = 'softer springs' WHERE label = 'run 3'")
    assert changed() == "softer springs"


def test_runs_on_a_doubtful_diff_do_not_count_and_are_named_with_how_much_it_lost(
    connection: sqlite3.Connection, registry: Registry, track: Track
) -> None:
    """The first build was sound at run 2 and had lost 0.40 g of 1.86 g at run 4: its later runs do not count."""
    track.in_turn()
    first = track.builds["a"]
    connection.execute("UPDATE builds SET oil_mass_g = 1.86, closed_mass_g = 22.40 WHERE id = ?", (first,))
    for runs, mass_g in ((2.0, 22.39), (4.0, 22.00)):
        track.add("weighing", build=first, runs=runs, mass_g=mass_g, mass_basis="closed")
    found = in_turn(connection, first, track.builds["b"])
    assert [row.doubtful for row in found.rows if row.group == "a"] == ["no", "no"]
    assert {row.doubtful for row in found.rows if row.group == "b"} == {"not known"}
    track_result = compare(connection, "rear-a/1", "rear-a/2", registry).on_track
    assert track_result is not None
    assert track_result.result is not None
    left_out = "2 runs of rear-a/1 left out: it lost 22 % of its oil; run it again on a full diff"
    assert left_out in " ".join(" ".join(track_result.lines()).split())
    assert track_result.as_dict()["left_out"] == [
        {
            "runs": 2,
            "build": "rear-a/1",
            "why": "it lost 22 % of its oil",
            "brings_in": "run it again on a full diff",
        }
    ]
    known = known_of(connection, LAP_COMPARISON, [Subject(BY_NAME["build"], one, "") for one in track.builds.values()])
    assert bind(LAP_COMPARISON, {}, known).findings == (left_out,), "the calculator says so too"
    typed = ["a:1:15.9", "a:2:15.8", "b:3:15.7", "b:4:15.6"]
    assert bind(LAP_COMPARISON, {"runs": typed}, known).findings == (), "the typed runs are all there are"


def test_runs_after_the_first_bad_weighing_do_not_count_either(connection: sqlite3.Connection, track: Track) -> None:
    """0.40 g of 1.86 g were gone at run 1 already: its first run is doubtful, after it oil was missing."""
    track.in_turn()
    first = track.builds["a"]
    connection.execute("UPDATE builds SET oil_mass_g = 1.86, closed_mass_g = 22.40 WHERE id = ?", (first,))
    track.add("weighing", build=first, runs=1.0, mass_g=22.00, mass_basis="closed")
    found = in_turn(connection, first, track.builds["b"])
    assert (found.rows, found.timed) == ((), (0, 4))
    assert [(one.runs, one.whose, one.why.words) for one in found.left_out] == [
        (4, "rear-a/1", "it lost 22 % of its oil"),
        (4, "rear-a/2", "no run of the other is left to compare with"),
    ]


@pytest.mark.parametrize(
    ("values", "why"),
    [
        ({"order": None}, "no place in the day"),
        ({"time_s": None}, "no lap time"),
        ({"run_on": "2026-05-04"}, "another day"),
        ({"venue": None}, "no venue recorded for one of the two"),
        ({"driver": "bo"}, "another driver"),
        ({"position": "front"}, "another place in the car"),
        ({"time_s": None, "best_lap_s": 15.1}, "another kind of time than the others"),
    ],
)
def test_each_run_that_cannot_be_compared_is_counted_with_its_reason(
    connection: sqlite3.Connection, track: Track, values: dict[str, Any], why: str
) -> None:
    track.in_turn()
    if values.get("driver") == "bo":
        values = {"driver": track.bo}
    track.run("b", **{"order": 9, "time_s": 15.7, **values})
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert len(found.rows) == 8
    assert [(one.runs, one.whose, one.why.words) for one in found.left_out] == [(1, "rear-a/2", why)]


def test_times_of_day_give_the_order_where_no_place_is_written_down(
    connection: sqlite3.Connection, track: Track
) -> None:
    for side, started_at, time_s in (
        ("b", "14:30", 15.7),
        ("a", "9.05", 15.9),
        ("b", "10:10", 15.6),
        ("a", "15:00", 15.8),
    ):
        track.run(side, None, time_s, started_at=started_at)
    assert rows_of(connection, track) == [("a", 1, 15.9), ("b", 2, 15.6), ("b", 3, 15.7), ("a", 4, 15.8)]
    track.run("a", None, 15.8)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert len(found.rows) == 4
    assert [(one.runs, one.whose, one.why.words) for one in found.left_out] == [(1, "rear-a/1", "no place in the day")]
    connection.execute("UPDATE runs SET day_order = 9 WHERE started_at IS NULL")
    connection.execute("UPDATE runs SET started_at = '16:00' WHERE started_at IS NULL")
    assert [order for _, order, _ in rows_of(connection, track)] == [1, 2, 3, 4, 5], "all have a time, not all a place"


def test_a_run_that_does_not_say_where_its_diff_was_counts_at_the_usual_place(
    connection: sqlite3.Connection, track: Track
) -> None:
    connection.execute("UPDATE diffs SET usual_position = 'rear'")
    track.in_turn()
    track.run("b", 9, 15.7, position=None)
    assert len(rows_of(connection, track)) == 9


def test_builds_that_never_ran_in_turn_say_so(connection: sqlite3.Connection, registry: Registry, track: Track) -> None:
    track.run("a", 1, 15.9)
    assert on_track_of(connection, registry).why_not == (
        "a comparison needs two timed runs of each, in turn, there is 1 of rear-a/1 (club 7000, 7,000 cSt) and 0 of "
        "rear-a/2 (club 10000, 10,000 cSt)"
    )
    track.run("b", 1, 15.9, run_on="2026-05-04")
    comparison = compare(connection, "rear-a/1", "rear-a/2", registry)
    assert comparison.on_track is not None
    assert comparison.on_track.why_not == NEVER
    assert comparison.as_dict()["on_track"]["result"] is None


def on_track_of(connection: sqlite3.Connection, registry: Registry) -> OnTrack:
    found = compare(connection, "rear-a/1", "rear-a/2", registry).on_track
    assert found is not None
    return found


@pytest.fixture
def raced(db: Path) -> Path:
    connection = open_for_writing(db)
    with transaction(connection, db):
        Track(adding(Writer(connection, "ana"))).in_turn()
    connection.close()
    return db


def test_the_command_prints_it_and_keeps_it_once(raced: Path, bevelbook: Callable[..., Outcome]) -> None:
    outcome = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2", "--keep")
    assert outcome.code == 0
    assert "Run in turn" in outcome.out
    said = " ".join(outcome.out.split())
    model, plain = (
        "0.138 to 0.252 s fits (95 %), a steady drift of the day taken out",
        "0.252 s faster to 0.138 s faster fits",
    )
    assert 0 < said.index(model) < said.index(plain), "the model's line first, the times as they are second"
    again = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/2", "--keep", "--json")
    assert again.json["kept"]["new"] is False
    assert again.json["on_track"]["result"]["outputs"]["more_runs_needed"] == 0
    by_calc = bevelbook(
        "--db", raced, "calc", "run-comparison", "--for", "rear-a/1", "--for", "rear-a/2", "--keep", "--json"
    )
    assert by_calc.json["kept"] == {"id": again.json["kept"]["id"], "new": False}


def test_nothing_is_kept_where_nothing_can_be_compared(raced: Path, bevelbook: Callable[..., Outcome]) -> None:
    assert bevelbook("--db", raced, "compare", "rear-a/1", "rear-a", "--keep").code == 0
    refused = bevelbook("--db", raced, "compare", "rear-a/1", "rear-a/1", "--keep")
    assert refused.code == 2
    assert "nothing to keep" in refused.err


def test_runs_of_one_place_in_one_day_come_by_their_ids(connection: sqlite3.Connection, add: Add) -> None:
    track = Track(add)
    for name, side, time_s in (("d", "a", 15.0), ("c", "b", 15.1), ("b", "a", 15.2), ("a", "b", 15.3)):
        run = track.run(side, 1, time_s)
        connection.execute("PRAGMA defer_foreign_keys = ON")
        connection.execute("UPDATE runs SET id = ? WHERE id = ?", (name, run))
        connection.execute("UPDATE run_diffs SET run = ? WHERE run = ?", (name, run))
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert [row.time_s for row in found.rows] == [15.3, 15.2, 15.1, 15.0]


def test_runs_of_several_days_come_by_day_then_place(connection: sqlite3.Connection, add: Add) -> None:
    track = Track(add)
    for day, order, time_s in (("2026-05-04", 1, 3.0), ("2026-05-03", 2, 2.0), ("2026-05-03", 1, 1.0)):
        track.run("a", order, time_s, run_on=day)
        track.run("b", order + 10, time_s + 10, run_on=day)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert [row.time_s for row in found.rows] == [1.0, 2.0, 11.0, 12.0, 3.0, 13.0]


@pytest.mark.parametrize(("order", "spans"), [("abbb", ((0.0, 0.0), (0.0, 2.0))), ("aaab", ((0.0, 2.0), (0.0, 0.0)))])
def test_each_build_has_its_own_runs_before(
    connection: sqlite3.Connection, add: Add, order: str, spans: tuple[tuple[float, float], ...]
) -> None:
    track = Track(add)
    for number, side in enumerate(order, start=1):
        track.run(side, number, 15.0)
    other = "a" if order.count("a") == 1 else "b"
    track.run(other, 9, 15.0)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    wider = spans["ab".index(other)]
    assert found.runs_before[1 - "ab".index(other)] == spans[1 - "ab".index(other)]
    assert found.runs_before["ab".index(other)] == (wider[0], 1.0)


def test_other_diffs_in_the_car_are_named_in_one_order(connection: sqlite3.Connection, add: Add) -> None:
    track = Track(add)
    others = {where: Team(add, where) for where in ("front", "centre")}
    builds = {where: team.build() for where, team in others.items()}
    for number, side in enumerate("abab", start=1):
        run = track.run(side, number, 15.0)
        for where in ("front", "centre") if number % 2 else ("centre", "front"):
            add("run_diff", run=run, build=builds[where], position=where)
    found = in_turn(connection, track.builds["a"], track.builds["b"])
    assert len(found.rows) == 4
    assert found.also_changed == "nothing"
