"""What the page of what worked asks of the database."""

from __future__ import annotations

import re
import sqlite3

from constructed import Add, Team

from bevelbook.reports import questions
from bevelbook.web.pages.worked import (
    Wanted,
    by_oil,
    count_words,
    far_words,
    nearest,
    oil_block,
    summary_left_out,
    worked_page_of,
)
from bevelbook.web.shared.links import NamesOnly

ANYWHERE = Wanted(None, "", None, None, None, None, None)


def test_runs_are_asked_for_by_grip_alone_but_near_a_temperature_of_any_grip(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    field = add("venue", name="Brickfield")
    build = team.build()
    for day, grip, track_c in (("2026-03-01", "low", 36.0), ("2026-03-02", "high", 37.0), ("2026-03-03", "low", 20.0)):
        run = add("run", label=day, run_on=day, venue=field, grip=grip, track_temp_c=track_c)
        add("run_diff", run=run, build=build, position="rear")

    def days(**wanted: object) -> list[str]:
        return [row["run_on"] for row in worked_page_of(connection, ANYWHERE._replace(**wanted)).runs]

    assert worked_page_of(connection, ANYWHERE) == (["Brickfield"], ["Brickfield"], [], 0, ())
    assert days(grip="low") == ["2026-03-03", "2026-03-01"]
    assert days(grip="low", track_c=36.0) == ["2026-03-03", "2026-03-02", "2026-03-01"]
    assert days(track_from=30.0, grip="low") == ["2026-03-01"]
    assert days(position="front") == []


def test_where_nothing_near_is_known_that_is_said(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """The limit is 10 °C or two steps of grip (our own figure)."""
    run = add("run", label="heat", run_on="2026-03-01", grip="low", track_temp_c=12.0)
    add("run_diff", run=run, build=team.build(), position="rear")

    def said(**wanted: object) -> str:
        asked = ANYWHERE._replace(**wanted)
        return far_words(nearest(asked, worked_page_of(connection, asked).runs))

    far = "Nothing near that is known: the nearest run was {} away. Below are the nearest there are."
    assert said(track_c=-48.0) == far.format("60 °C")
    assert said(track_c=15.0, grip="high") == far.format("two steps of grip and 3 °C")
    assert (said(track_c=22.0), said(track_c=12.0, grip="high"), said(grip="low")) == ("", "", "")
    assert said(track_c=-48.0, position="front") == ""


def test_runs_of_which_something_asked_for_is_not_known_are_counted_with_the_reason(
    connection: sqlite3.Connection, add: Add
) -> None:
    team, no_place = Team(add, usual_position="rear"), Team(add, "rear-b")
    build, other = team.build(), no_place.build()
    for number, (grip, track_c, of) in enumerate(
        (("low", 36.0, build), ("low", None, build), (None, 36.0, build), ("low", 37.0, other), ("high", None, build))
    ):
        run = add("run", label=f"run {number}", run_on="2026-03-01", grip=grip, track_temp_c=track_c)
        add("run_diff", run=run, build=of)
    near = worked_page_of(connection, ANYWHERE._replace(grip="low", track_c=36.0, position="rear"))
    assert [(row["run_label"], row["place"], row["place_from"]) for row in near.runs] == [("run 0", "rear", "usual")]
    assert {one.words for one in near.left_out} == {
        "2 runs left out: no track temperature",
        "1 run left out: no grip",
        "1 run left out: no place in the car",
    }


def test_the_table_by_oil_leaves_out_what_lost_oil_and_says_so_and_what_has_no_call_or_only_a_usual_place(
    connection: sqlite3.Connection, add: Add
) -> None:
    team = Team(add, usual_position="rear")
    fluid = add("fluid", label="oak 7k", viscosity_cst=7000.0, viscosity_source="label")
    build = team.build(oil_mass_g=1.86, fluid=fluid)
    team.weigh(build, (0.0, 22.35), (2.0, 22.20))
    later = team.build(fluid=fluid)
    for number, (of, call) in enumerate(((build, "keep"), (later, None), (later, "keep"))):
        run = add("run", label=f"run {number}", run_on="2026-03-01", grip="low", call=call, note="felt planted")
        add("run_diff", run=run, build=of)
    found = worked_page_of(connection, ANYWHERE._replace(grip="low"))
    near = nearest(ANYWHERE, found.runs)
    assert summary_left_out(near) == [
        "1 run of rear-a/1 left out: it lost 8 % of its oil",
        "1 run left out: no call, shown with the remark and not counted as kept or changed",
        "3 runs counted at the usual place of the diff, as the run does not say where it was",
    ]
    assert count_words(near) == "3 runs: kept on 1 day."
    (of_oil,) = by_oil(near)
    assert (of_oil.place, of_oil.runs, of_oil.by_day.days, of_oil.by_day.all_kept) == ("rear", 2.0, 1, 1)


def test_a_note_of_several_runs_counts_as_so_many(connection: sqlite3.Connection, add: Add) -> None:
    """Two runs on a diff that lost oil, and 3 + 4 on a full one."""
    team = Team(add, usual_position="rear")
    fluid = add("fluid", label="oak 7k", viscosity_cst=7000.0, viscosity_source="label")
    lost = team.build(oil_mass_g=1.86, fluid=fluid)
    team.weigh(lost, (0.0, 22.35), (2.0, 22.20))
    full = team.build(fluid=fluid)
    hall = add("venue", name="Mill Hall")
    for number, (build, runs, grip) in enumerate(((lost, 2.0, "low"), (full, 3.0, "low"), (full, 4.0, "low"))):
        label = f"run {number}"
        run = add("run", label=label, run_on="2026-03-01", grip=grip, call="keep", runs=runs, venue=hall)
        add("run_diff", run=run, build=build, position="rear")
    unmeasured = add("run", label="run 3", run_on="2026-03-02", call="keep", runs=5.0, venue=hall)
    add("run_diff", run=unmeasured, build=full, position="rear")
    found = worked_page_of(connection, ANYWHERE._replace(grip="low"))
    near = nearest(ANYWHERE, found.runs)
    assert count_words(near) == "3 notes, 9 runs: kept on 1 day."
    assert [one.words for one in found.left_out] == ["5 runs left out: no grip"]
    assert summary_left_out(near) == ["2 runs of rear-a/1 left out: it lost 8 % of its oil"]
    (of_oil,) = by_oil(near)
    assert (of_oil.runs, of_oil.by_day.days, of_oil.by_day.all_kept) == (7.0, 1, 1)
    low = next(one for one in questions.conditions_at(connection, hall) if one["grip"] == "low")
    assert (low["notes"], low["runs"], low["by_day"].all_kept, low["on_lost_oil"]) == (3, 9.0, 1, 1)


def test_the_runs_and_diffs_of_a_day_are_one_day_of_an_oil(connection: sqlite3.Connection, add: Add) -> None:
    """Nine runs of 7,000 kept on three days, as three of the same on one day of 10,000, half of them changed."""
    thin = add("fluid", label="oak 7k", viscosity_cst=7000.0, viscosity_source="label")
    thick = add("fluid", label="oak 10k", viscosity_cst=10_000.0, viscosity_source="label")
    first, second = Team(add), Team(add, "rear-b")
    days = [(day, call) for day in ("2026-03-01", "2026-03-02", "2026-03-03") for call in ("keep",) * 3]
    of_thin, of_thick = first.build(fluid=thin), second.build(fluid=thick)
    runs = [(of_thin, *one) for one in days]
    runs += [(of_thick, "2026-03-08", call) for call in ("keep", "change", "undecided", "keep", "change")]
    for number, (build, day, call) in enumerate(runs):
        run = add("run", label=f"run {number}", run_on=day, grip="low", call=call)
        add("run_diff", run=run, build=build, position="rear")
    near = nearest(ANYWHERE, worked_page_of(connection, ANYWHERE._replace(grip="low")).runs)
    assert count_words(near) == "14 runs: kept on 3 of 4 days, both on 1, 1 run undecided."
    assert [(one.runs, one.by_day.words) for one in by_oil(near)] == [
        (9.0, "kept on 3 of 3 days"),
        (5.0, "kept and changed on 1 day (2 keeps, 2 changes)"),
    ]


def test_an_oil_says_how_it_did_on_full_diffs_and_apart_from_that_on_those_not_known_to_be_full(
    connection: sqlite3.Connection, add: Add
) -> None:
    team = Team(add, usual_position="rear")
    fluid = add("fluid", label="oak 7k", viscosity_cst=7000.0, viscosity_source="label")
    full, unsure = team.build(oil_mass_g=1.86, fluid=fluid), team.build(fluid=fluid)
    team.weigh(full, (0.0, 22.35), (9.0, 22.35))
    for number, (build, track_c, call) in enumerate(
        ((full, 46.0, "keep"), (full, 44.0, "keep"), (unsure, 61.0, "change"), (unsure, 61.0, None))
    ):
        day = f"2026-03-0{number + 1}"
        run = add("run", label=day, run_on=day, track_temp_c=track_c, call=call, note=f"felt {number}")
        add("run_diff", run=run, build=build)
    wanted = ANYWHERE._replace(track_c=48.0)
    near = nearest(wanted, worked_page_of(connection, wanted).runs)
    (of_oil,) = by_oil(near)
    shown = oil_block(NamesOnly("team"), of_oil, near)
    assert (shown.head, shown.word) == ("oak 7k (7,000 cSt), rear", "kept on 2 of 2 days")
    (line,) = shown.lines
    assert re.sub(r"<[^>]*>", "", str(line)) == "2 °C away, 1 Mar 2026, keep, “felt 0”"
    assert str(shown.quiet) == "2 runs on a full diff (too few days); 2 runs not known to be full: changed on 1 day"


def test_of_many_runs_the_nearest_are_shown_and_the_others_counted(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Sixty runs from 0 to 59 °C, of which forty are shown."""
    build = team.build()
    for number in range(60):
        run = add("run", label=f"run {number}", run_on="2026-03-01", day_order=number + 1, track_temp_c=float(number))
        add("run_diff", run=run, build=build, position="rear")
    for wanted, warmest, coldest in (
        (ANYWHERE._replace(track_c=50.0), 59.0, 20.0),
        (ANYWHERE._replace(track_from=9.0), 59.0, 20.0),
        (ANYWHERE._replace(track_c=50.0, position="rear"), 59.0, 20.0),
    ):
        found = worked_page_of(connection, wanted)
        temperatures = [row["track_temp_c"] for row in found.runs]
        assert (len(temperatures), max(temperatures), min(temperatures)) == (40, warmest, coldest)
        assert found.more == (20 if wanted.track_c is not None else 10)
    assert worked_page_of(connection, ANYWHERE._replace(position="front")).runs == []
