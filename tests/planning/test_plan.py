"""The whole plan of each constructed team, written out by hand from what its records say.

The teams and what is due for each diff are in ``teams``; here stand the order of work, the oil, the parts and the rest.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Mapping
from datetime import date
from types import MappingProxyType
from typing import Any, Final, NamedTuple

import pytest
from constructed import Add
from planning.teams import TEAMS, TeamToGo, Yard, rebuilt_since

from bevelbook.declare.vocabulary import PLAN_ACTS
from bevelbook.planning.keep_plan import make_and_keep
from bevelbook.planning.kept_plans import latest_plan, latest_plan_of
from bevelbook.planning.made_plan import MadePlan
from bevelbook.planning.plan import make_plan
from bevelbook.planning.plan_changes import changes_since
from bevelbook.planning.plan_lines import part_in_words
from bevelbook.plugin.registry import Registry

TODAY: Final = date(2026, 5, 4)
KEPT_AT: Final = "2026-05-04T09:00:00.000Z"
"""An hour before the tests write their records."""


class RightPlan(NamedTuple):
    """What a plan has to say. ``work`` are label, act and why it stands there; ``oils`` are grams by diff; ``parts``
    what is taken by diff; ``packed`` is what the plan itself puts on the list."""

    work: tuple[tuple[str, str, str], ...] = ()
    oils: Mapping[str, float] = MappingProxyType({})
    parts: Mapping[str, list[str]] = MappingProxyType({})
    oil_short: int = 0
    without: tuple[str, ...] = ()
    packed: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


WEATHER: Final = "Not written down: the weather expected, so no oil is said"
SCALE: Final = "bench scale, on which the diffs were weighed"
MAY: Final = "early, as it may turn out to need a part"
NOT_KNOWN: Final = "early, as it is not known which parts it takes"
RIGHT: Final = {
    "nothing known": RightPlan(
        (("front-a", "rebuild", NOT_KNOWN), ("rear-a", "unclear", MAY)),
        packed=("front-a, red front", "rear-a, red rear"),
        lacks=(
            "When it is, is not written down",
            "Not written down: the venue and the weather expected, so no oil is said",
            "How many runs are planned is not written down",
        ),
    ),
    "all fresh": RightPlan(
        packed=("front-a, red front", "rear-a, red rear", "7k: for front-a, rear-a"), lacks=(WEATHER,)
    ),
    "a leak": RightPlan(
        (
            ("front-b", "unclear", MAY),
            ("rear-b", "rebuild", NOT_KNOWN),
            ("rear-a", "rebuild", NOT_KNOWN),
        ),
        packed=(
            *("front-b, blue front", "rear-b, blue rear", "front-a, red front", "rear-a, red rear"),
            *("7k: for front-b, rear-b, front-a, rear-a", SCALE),
        ),
        lacks=(WEATHER,),
    ),
    "seals at their last use": RightPlan(
        (
            ("rear-a", "rebuild", "early, as nobody counted: shaft ring, lid-side shaft"),
            ("rear-b", "change the oil", "it is in a car that goes"),
        ),
        parts={"rear-a": ["1 x shaft ring, lid-side shaft (not counted)"]},
        packed=(
            *("rear-b, blue rear", "front-a, red front", "rear-a, red rear"),
            *("7k: for rear-b, front-a, rear-a", "spare: 1 x shaft ring, lid-side shaft", SCALE),
        ),
        lacks=(WEATHER,),
    ),
    "forecast across two oils": RightPlan(
        (("rear-a", "unclear", MAY),), packed=("rear-a, red rear", "5k: for rear-a", SCALE)
    ),
    "a bottle with too little": RightPlan(
        (("rear-a", "change the oil", "first: its oil must be ordered"),),
        {"rear-a": 1.86},
        oil_short=1,
        packed=("rear-a, red rear", "7k: for rear-a", SCALE),
        lacks=(
            "No run in the rear that was kept or changed says the air.",
            "To say an oil: write down air, track, grip",
        ),
    ),
    "no stock kept": RightPlan(
        (("rear-a", "rebuild", NOT_KNOWN),),
        packed=("front-a, red front", "rear-a, red rear", "7k: for front-a, rear-a", SCALE),
        lacks=(WEATHER,),
    ),
    "two cars sharing a diff": RightPlan(
        (("rear-a", "change the oil", "it is in a car that goes"),),
        without=("rear: rear-a, shared with blue: it stands there",),
        packed=("rear-a, blue rear", "7k: for rear-a", SCALE),
        lacks=(WEATHER,),
    ),
    "an open diff": RightPlan(
        (("rear-b", "rebuild", NOT_KNOWN), ("front-a", "rebuild", NOT_KNOWN), ("rear-a", "rebuild", NOT_KNOWN)),
        packed=(
            *("rear-b, blue rear", "front-a, red front", "rear-a, red rear"),
            *("7k: for rear-b, front-a, rear-a", SCALE),
        ),
        lacks=(WEATHER,),
    ),
    "a limit per diff": RightPlan(
        (("rear-a", "change the oil", "it is in a car that goes"),),
        packed=("front-a, red front", "rear-a, red rear", "7k: for front-a, rear-a", SCALE),
        lacks=(WEATHER,),
    ),
    "a build after the plan": RightPlan(
        (("rear-a", "rebuild", NOT_KNOWN),),
        packed=("front-a, red front", "rear-a, red rear", "7k: for front-a, rear-a", SCALE),
        lacks=(WEATHER,),
    ),
    "an event of three days": RightPlan(
        (("rear-a", "change the oil", "it is in a car that goes"),),
        packed=("rear-a, red rear", "7k: for rear-a", SCALE),
        lacks=(WEATHER,),
    ),
}


def _made(connection: sqlite3.Connection, registry: Registry, team: TeamToGo, **more: Any) -> MadePlan:
    return make_plan(connection, registry, team.event, TODAY, **more)


def _said(made: MadePlan) -> RightPlan:
    lines = {one.label: one for one in made.every_line}
    grams = {label: one.oils[0].oil_mass_g for label, one in lines.items() if one.oils}
    return RightPlan(
        tuple((one.label, one.what, one.why_here) for one in made.work),
        {label: mass for label, mass in grams.items() if mass is not None},
        {label: [part_in_words(part) for part in one.parts] for label, one in lines.items() if one.parts},
        len(made.oil_short),
        tuple(place.words for car in made.cars for place in car.without),
        tuple(thing.words for one in made.to_pack for thing in one.things if thing.is_of_plan),
    )


@pytest.mark.parametrize("about", TEAMS)
def test_the_plan_is_the_one_written_out_by_hand(
    connection: sqlite3.Connection, add: Add, registry: Registry, about: str
) -> None:
    team = TEAMS[about](add)
    made = _made(connection, registry, team)
    right = RIGHT[about]
    assert _said(made) == right._replace(lacks=())
    about_event = "Tannery Hall" if about != "nothing known" else "When it is"
    assert made.remarks[0].startswith(about_event)
    lacks = made.remarks if about == "nothing known" else made.remarks[1:]
    assert len(lacks) == len(right.lacks)
    assert all(one.startswith(start) for one, start in zip(lacks, right.lacks, strict=True))
    assert {one.label: one.runs_planned for one in made.every_line} == team.runs_planned
    heavier = {"forecast across two oils": {"rear-a": "unclear"}}.get(about, {})
    assert {one.label: one.act for one in made.every_line} == {**team.due, **heavier}
    assert [one.label for one in made.in_order_of_work] == [one.label for one in made.work]
    assert all(one.reasons for one in made.every_line), "each act has its reasons"
    assert not made.points.findings, "what its line says is not said again"


def test_a_build_after_the_plan_is_done_and_leaves_the_work(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    team = TEAMS["a build after the plan"](add)
    assert latest_plan(connection) is None
    kept = make_and_keep(connection, registry, team.event, TODAY, "ana", lambda: KEPT_AT)
    before = latest_plan(connection)
    assert before is not None and before.plan == kept.plan
    assert [(one.place, one.label, one.act, one.done) for one in before.lines] == [
        (1, "rear-a", "rebuild", ""),
        (2, "front-a", "leave it", ""),
    ]
    assert before.lines[1].why and "built on 1 Jan 2026" in before.lines[1].why, "read on other days too"
    assert [one.label for one in before.to_do] == ["rear-a"]
    rebuilt_since(add, team)
    after = latest_plan_of(connection, team.event)
    assert after is not None and after.to_do == ()
    assert after.lines[0].done == "done: rear-a/2 built on 5 May 2026"
    made = _made(connection, registry, team, against=after)
    assert made.work == ()
    assert {one.label: one.done for one in made.every_line}["rear-a"] == after.lines[0].done
    assert made.since is not None
    said = [(one.label, one.words) for one in made.since.changes]
    assert said[0] == ("rear-a", "done: rear-a/2 built on 5 May 2026")
    assert said[1][1].startswith("leave it, was rebuild: ")
    assert len(said) == 2


def test_a_build_of_before_that_is_written_down_late_ticks_and_one_taken_back_does_not(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    """The plan was kept in 2099: what is written down before counts by its day, of which only later ones are new."""
    team = TEAMS["a build after the plan"](add)
    make_and_keep(connection, registry, team.event, TODAY, "ana", lambda: "2099-05-04T10:00:00.000Z")
    rebuilt_since(add, team)
    found = latest_plan(connection)
    assert found is not None and found.lines[0].done == "", "built and written down before"
    add("opening", build=connection.execute("SELECT id FROM builds WHERE label = 'rear-a/2'").fetchone()[0],
        opened_on="2099-05-06")  # fmt: skip
    add("build", label="rear-a/3", diff=team.diffs["rear-a"], built_on="2099-05-06")
    found = latest_plan(connection)
    assert found is not None and found.lines[0].done == "done: rear-a/3 built on 6 May 2099"


def test_a_weighing_and_an_opening_tick_what_asked_for_them(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    yard = Yard(add)
    weighed = yard.ran("rear-a", 4.0, 22.40)
    yard.run(weighed, "2026-03-20", 7.0)
    damp = yard.ran("front-a", 4.0, 22.28)
    event = yard.event(1.0)
    kept = make_and_keep(connection, registry, event, TODAY, None, lambda: KEPT_AT).made
    assert {one.label: one.act for one in kept.every_line} == {"rear-a": "weigh it", "front-a": "look at it"}
    yard.weigh(weighed, 11.0, 22.39, weighed_on="2026-02-01")
    found = latest_plan(connection)
    assert found is not None and len(found.to_do) == 2, "an old sheet ticks nothing"
    yard.weigh(weighed, 11.0, 22.39, weighed_on="2026-05-05")
    add("opening", build=damp, opened_on="2026-05-06")
    found = latest_plan(connection)
    assert found is not None
    assert {one.label: one.done for one in found.lines} == {
        "rear-a": "done: rear-a/1 weighed on 5 May 2026",
        "front-a": "done: front-a/1 opened on 6 May 2026",
    }


def test_an_event_and_a_usual_day_are_compared_by_their_diffs_alone(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    """The cars of an event do not stay at home because a plan is asked for without it."""
    team = TEAMS["a limit per diff"](add)
    make_and_keep(connection, registry, team.event, TODAY, None, lambda: KEPT_AT)
    since = make_plan(connection, registry, None, TODAY, against=latest_plan(connection)).since
    assert since is not None
    assert [one.words for one in since.changes if not one.diff] == []
    assert {one.label for one in since.changes} >= {"rear-a"}, "what each diff needs is compared"


def test_the_scale_to_pack_is_the_one_of_the_newest_day_whichever_was_written_first(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    team = TEAMS["a limit per diff"](add)
    (build,) = connection.execute("SELECT current_build FROM diff_facts ORDER BY diff LIMIT 1").fetchone()
    said = {"build": build, "weighed_on": "2026-04-30", "mass_g": 22.4, "mass_basis": "closed"}
    one, two = (add("scale", name=name, step_g=0.01) for name in ("b scale", "a scale"))
    packed = []
    for scales in ((one, two), (two, one)):
        connection.execute("SAVEPOINT weighed")
        for scale in scales:
            add("weighing", **said, scale=scale)
        packed.append([said for group in _made(connection, registry, team).to_pack for said in map(str, group.things)])
        connection.execute("ROLLBACK TO weighed")
    assert packed[0] == packed[1]
    assert any("a scale, on which the diffs were weighed" in said for said in packed[0])


def test_what_changed_of_the_event_is_said(connection: sqlite3.Connection, add: Add, registry: Registry) -> None:
    team = TEAMS["a limit per diff"](add)
    make_and_keep(connection, registry, team.event, TODAY, None, lambda: KEPT_AT)
    kept = latest_plan(connection)
    assert kept is not None
    assert _made(connection, registry, team, against=kept).since == (
        kept.plan,
        "spring race, kept 4 May 2026, 09:00 UTC",
        (),
    )
    connection.execute("UPDATE events SET air_low_c = 12, air_high_c = 18, grip = 'high', runs_per_car = 1")
    blue = add("car", name="blue")
    add("event_car", event=team.event, car=blue)
    since = _made(connection, registry, team, against=kept).since
    assert since is not None
    assert [one.words for one in since.changes if not one.diff] == [
        "air: 12 to 18 °C, was not said",
        "grip: high, was not said",
        "blue goes too",
        "red: 1 run planned, was 6 runs planned",
    ]
    of_rear = [one.words for one in since.changes if one.label == "rear-a"]
    assert of_rear[0].startswith("leave it, was change the oil: ")
    assert "1 run planned, was 6 runs planned" in of_rear


def test_what_changed_of_the_reasons_is_said_and_not_what_holds_as_before() -> None:
    def said(*reasons: str) -> dict[str, object]:
        line = {"diff": "1", "label": "rear-a", "act": "weigh it", "what": "weigh it", "reasons": reasons}
        return {"cars": [{"lines": [line]}]}

    ran, hot, off = "1 run since it was filled", "the forecast goes past what you ran", "15 % too thin"
    for then, now, words in (
        (said(ran, hot), said(ran), [f"still weigh it, no longer: {hot}"]),
        (said(ran, hot), said(ran, off), [f"still weigh it, now: {off}"]),
        (said(ran), said(ran), []),
    ):
        assert [one.words for one in changes_since(then, now)] == words


def test_a_part_that_is_short_comes_first_and_is_ordered_with_what_shall_stay(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    """Two diffs each take a ring; one is there, and two shall stay in the box: 2 + 2 - 1 = 3 to order."""
    team = TEAMS["seals at their last use"](add)
    part = add("stock_part", label="ring", part="seal", seal=team.more["seal"], side="lid side", least=2)
    add("stock_change", stock_part=part, what="counted", pieces=1, changed_on="2026-05-01")
    add("limit", kind="runs between openings", value=9.0, diff=team.diffs["front-a"])
    connection.execute("DELETE FROM limits WHERE value = 20")
    made = _made(connection, registry, team)
    assert [(one.label, one.why_here) for one in made.work] == [
        ("rear-a", "first: 1 x ring must be ordered"),
        ("rear-b", "it is in a car that goes"),
        ("front-a", "it is in a car that goes"),
    ]
    assert [(one.what, one.pieces, one.wanted, one.least, one.have) for one in made.to_order] == [("ring", 3, 2, 2, 1)]
    assert made.to_order[0].words == "3 x ring: the plan takes 2, you keep 2 in the box, 1 left"


def test_more_used_than_counted_is_one_line_and_orders_nothing(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    team = TEAMS["all fresh"](add)
    part = add("stock_part", label="screw", part="screw", least=4)
    add("stock_change", stock_part=part, what="counted", pieces=1, changed_on="2025-12-01")
    build = connection.execute("SELECT id FROM builds WHERE label = 'rear-a/1'").fetchone()[0]
    for _ in range(3):
        add("build_part", build=build, part="screw", condition="new")
    made = _made(connection, registry, team)
    assert len(made.to_count) == 1 and made.to_count[0].startswith("Count the screw")
    assert made.to_order == ()


def test_a_car_without_diffs_and_one_with_a_spool_say_what_is_there(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    yard = Yard(add)
    yard.fresh("rear-a")
    yard.car("blue")
    add("car_diff", car=yard.car("red"), position="front", instead="spool", from_on="2026-01-01")
    cars = {one.name: one for one in make_plan(connection, registry, yard.event(), TODAY).cars}
    assert [(one.words, one.command) for one in cars["blue"].without] == [
        ("blue: which diffs are in it is not written down", "bevelbook record car-diff car=blue rear=...")
    ]
    assert [one.words for one in cars["red"].without] == ["front: spool"]


def test_days_in_the_past_and_cars_nobody_named_are_said(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    yard = Yard(add)
    yard.ran("rear-a", 2.0)
    event = add("event", name="old race", first_on="2026-04-01", runs_per_car=4.0)
    remarks = make_plan(connection, registry, event, TODAY).remarks
    assert "That is in the past: this is what the plan would be now." in remarks
    assert any(one.startswith("Which cars go is not written down") for one in remarks)
    assert make_plan(connection, registry, event, TODAY).every_line[0].runs_planned == 4.0


def test_without_an_event_it_is_what_is_due_before_a_usual_day(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    team = TEAMS["a build after the plan"](add)
    made = make_plan(connection, registry, None, TODAY)
    assert (made.event, made.title, made.remarks) == (None, "What is due", ())
    assert {one.label: one.act for one in made.every_line} == team.due


def test_ideas_are_those_for_the_venue_and_for_any(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    team = TEAMS["all fresh"](add)
    hall = connection.execute("SELECT venue FROM events").fetchone()[0]
    add("idea", text="thinner in front", venue=hall)
    add("idea", text="weigh after each run")
    add("idea", text="dust covers", venue=add("venue", name="Brickfield"))
    said = [one.text for one in _made(connection, registry, team).points.ideas]
    assert said == ["thinner in front", "weigh after each run"]
    connection.execute("UPDATE events SET venue = NULL")
    assert [one.text for one in _made(connection, registry, team).points.ideas] == ["weigh after each run"]


def test_the_order_of_the_records_does_not_matter(connection: sqlite3.Connection, add: Add, registry: Registry) -> None:
    """The same team written the other way round: each insert is kept and written again from the last to the first."""
    noted: list[tuple[str, dict[str, Any], str]] = []

    def noting(kind: str, /, **values: Any) -> str:
        noted.append((kind, values, add(kind, **values)))
        return noted[-1][2]

    plans = []
    for turned in (False, True):
        connection.execute("SAVEPOINT team")
        if not turned:
            team = TEAMS["a leak"](noting)
            event = team.event
        else:
            event = _written_again(add, noted, team.event)
        plans.append(_without_ids(make_plan(connection, registry, event, TODAY).as_dict()))
        connection.execute("ROLLBACK TO team")
    assert plans[0] == plans[1]


def _written_again(add: Add, noted: list[tuple[str, dict[str, Any], str]], event: str) -> str:
    """Write records again, as early as what they refer to allows, the last ones first."""
    waiting, ids = list(reversed(noted)), dict[str, str]()
    known = {made for _, _, made in noted}
    while waiting:
        for one in waiting:
            kind, values, made = one
            if all(value in ids for value in values.values() if value in known):
                ids[made] = add(kind, **{name: ids.get(value, value) if isinstance(value, str) else value
                                         for name, value in values.items()})  # fmt: skip
                waiting.remove(one)
                break
    return ids[event]


def _without_ids(said: dict[str, Any]) -> str:
    return re.sub(
        r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}", "ID", json.dumps(said, sort_keys=True)
    )


@pytest.mark.parametrize("about", ["all fresh", "a leak", "forecast across two oils", "a limit per diff"])
def test_a_run_that_says_nothing_never_makes_a_plan_lighter(
    connection: sqlite3.Connection, add: Add, registry: Registry, about: str
) -> None:
    """A run without a call, laps or grip counts as a run done, and nothing else follows from it."""
    team = TEAMS[about](add)
    before = {one.diff: one.act for one in _made(connection, registry, team).every_line}
    for number, (build, car, position) in enumerate(
        connection.execute(
            "SELECT s.current_build, c.car, c.position FROM diff_facts s JOIN car_diffs c ON c.diff = s.diff "
            "ORDER BY s.diff"
        ).fetchall()
    ):
        run = add("run", label=f"2026-05-01/{number}", run_on="2026-05-01", car=car)
        add("run_diff", run=run, build=build, position=position)
    after = {one.diff: one.act for one in _made(connection, registry, team).every_line}
    assert all(PLAN_ACTS.index(after[diff]) >= PLAN_ACTS.index(act) for diff, act in before.items())


def test_a_diff_that_is_opened_for_its_oil_gets_the_seals_that_are_at_their_last_use(
    connection: sqlite3.Connection, add: Add, registry: Registry
) -> None:
    """5k was kept at 15 °C, 10k is in, and 15 °C is expected: it is opened for the oil, and 2 uses are the limit."""
    yard = Yard(add)
    thick = add("fluid", label="10k", viscosity_cst=10000.0, viscosity_source="own label")
    yard.diff("rear-a")
    thin = yard.build("rear-a", fluid=add("fluid", label="5k", viscosity_cst=5000.0, viscosity_source="own label"))
    for day in ("2026-02-07", "2026-02-14", "2026-02-21"):
        yard.run(thin, day, venue=yard.venue, grip="high", air_temp_c=15.0, track_temp_c=16.0)
    add("opening", build=thin, opened_on="2026-02-22", reason="oil change")
    now = yard.build("rear-a", fluid=thick, built_on="2026-02-22")
    seal = add("seal", label="shaft ring")
    for build, condition in ((thin, "new"), (now, "used")):
        add("seal_fitting", build=build, place="lid-side shaft", seal=seal, condition=condition)
    event = yard.event(grip="high", air_low_c=14.0, air_high_c=16.0, track_low_c=15.0, track_high_c=17.0)
    assert [one.what for one in make_plan(connection, registry, event, TODAY).every_line] == ["change the oil"]
    add("limit", kind="seal uses", value=2.0)
    (line,) = make_plan(connection, registry, event, TODAY).every_line
    assert (line.act, line.oil_what) == ("rebuild", "change")
