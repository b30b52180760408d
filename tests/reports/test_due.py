"""What is due for a diff: the constructed teams, each rule, and what a bare run or the order of writing never changes.

All data are constructed. The teams, and the figures behind them, are in ``planning/teams.py``.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from random import Random
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest
from conftest import FIXED_NOW, WriterWithFacts, empty_database
from constructed import Add, Team, adding
from planning.teams import TEAMS, rebuilt_since

from bevelbook.declare.vocabulary import FEELS, PLAN_ACTS
from bevelbook.facts import diffs
from bevelbook.facts.touched_diffs import watch
from bevelbook.facts.usual_runs import usual_runs
from bevelbook.reports.before_next_time_out import to_do
from bevelbook.reports.due import DiffState, decide, due_of_diffs
from bevelbook.store import entries
from bevelbook.store.opening import open_for_writing

WEIGHT = {act: place for place, act in enumerate(PLAN_ACTS)}


def due_by_label(connection: sqlite3.Connection, planned: dict[str, float | None] | None = None) -> dict[str, str]:
    return {one.label: one.words for one in due_of_diffs(connection, planned or {}).values()}


@pytest.mark.parametrize("about", TEAMS)
def test_what_is_due_for_each_team_is_what_was_worked_out_by_hand(
    connection: sqlite3.Connection, add: Add, about: str
) -> None:
    team = TEAMS[about](add)
    found = {one.label: one.act for one in due_of_diffs(connection, team.planned_by_diff).values()}
    assert found == team.due
    if about == "a build after the plan":
        found = {one.label: one.act for one in due_of_diffs(connection, team.planned_by_diff).values()}
        since = rebuilt_since(add, team)
        assert {one.label: one.act for one in due_of_diffs(connection, team.planned_by_diff).values()} == since.due


def test_each_says_why_in_numbers_and_what_settles_it(connection: sqlite3.Connection, add: Add) -> None:
    """The bounds 2.2 to 4.8 and 8.6 to 19.5 runs are worked out beside the team; Fieller's interval is a little inside
    of the simple one of the first."""
    team = TEAMS["a leak"](add)
    found = due_of_diffs(connection, team.planned_by_diff)
    said = {label: found[diff].words for label, diff in team.diffs.items() if label != "front-a"}
    assert said == {
        "rear-a": "rebuild rear-a (lost 0.35 g of 1.86 g (19 %))",
        "rear-b": "rebuild rear-b (2 to 4 runs left until the limit of oil lost; 12 planned; "
        "lost 0.12 g of 1.86 g (6 %))",
        "front-b": "unclear: front-b (lost 0.06 g of 1.86 g (3 %), 8 to 19 runs left until the limit of oil lost; "
        "12 planned): weigh it again after 8 runs",
    }
    left = found[team.diffs["front-b"]].runs_left
    assert left is not None
    assert (left.left, left.low, left.high) == pytest.approx((12.6, 8.6, 19.5), abs=0.06)


def test_what_may_stay_says_its_runs_left_and_the_uses_of_its_seals(connection: sqlite3.Connection, add: Add) -> None:
    team = TEAMS["seals at their last use"](add)
    found = due_of_diffs(connection, team.planned_by_diff)[team.diffs["front-a"]]
    assert found.reasons[:3] == (
        "12 runs left of your 20; 6 planned",
        "no loss seen (the scale can see 0.02 g and more)",
        "a seal was closed in 3 times, your limit is 3",
    )
    assert found.reasons[3].startswith("built ")


def test_nothing_known_says_what_to_write_down(connection: sqlite3.Connection, add: Add) -> None:
    team = TEAMS["nothing known"](add)
    found = due_of_diffs(connection, team.planned_by_diff)
    assert found[team.diffs["rear-a"]].settle == (
        "write down which oil is in it, how many grams, and its runs",
        "weigh it closed",
    )
    assert found[team.diffs["front-a"]].settle == ("if it is built, write its build down",)


def test_a_diff_that_was_weighed_is_not_weighed_again_where_that_says_nothing(
    connection: sqlite3.Connection, add: Add
) -> None:
    """Common practice, no source: a loss is a difference, so one mass alone shows none. After the next run it does."""
    diff, scale = add("diff", label="rear-a"), add("scale", name="bench", step_g=0.01)
    build = add("build", label="rear-a/1", diff=diff, built_on="2026-05-12", scale=scale)
    ran(add, build, "2026-05-17")
    weighed = {"build": build, "scale": scale, "mass_g": 22.40, "mass_basis": "closed"}
    said = [due_of_diffs(connection)[diff].words]
    add("weighing", weighed_on="2026-05-18", **weighed)
    said.append(due_of_diffs(connection)[diff].words)
    ran(add, build, "2026-05-24")
    said.append(due_of_diffs(connection)[diff].words)
    assert said == [
        "weigh rear-a (1 run since it was filled)",
        "unclear: rear-a (weighed once, after 1 run: what it lost till then nobody knows): "
        "weigh it the same way after its next run",
        "weigh rear-a (2 runs since it was filled)",
    ]
    add("weighing", weighed_on="2026-05-25", **weighed)
    assert due_of_diffs(connection)[diff].act == "leave it"


def ran(add: Add, build: str, day: str) -> None:
    add("run_diff", run=add("run", label=f"{day}/1", run_on=day), build=build)


def test_what_lies_apart_and_what_may_stay_follow_the_numbered_lines(connection: sqlite3.Connection, add: Add) -> None:
    TEAMS["nothing known"](add)
    TEAMS["a limit per diff"](add)
    lines = list(to_do(connection).lines())
    assert lines[-2:] == [
        "leave as it is: front-a (14 runs left of your 20)",
        "not built yet, build it before it runs: front-a",
    ]


def test_a_diff_that_was_never_built_is_not_said_to_be_rebuilt(connection: sqlite3.Connection, add: Add) -> None:
    TEAMS["nothing known"](add)
    assert list(to_do(connection).lines())[-1] == "not built yet, build it before it runs: front-a"
    add("diff", label="rear-z")
    found = to_do(connection)
    assert list(found.lines())[-1] == "not built yet, build them before they run: front-a, rear-z"
    opened = found.apart[0]._replace(label="rear-y", build="1", build_label="rear-y/1")
    assert list(found._replace(jobs=(), left=(), apart=(*found.apart[:1], opened)).lines()) == [
        "apart, rebuild before it runs: rear-y",
        "not built yet, build it before it runs: front-a",
    ]


@pytest.mark.parametrize(
    ("state", "planned", "act"),
    [
        pytest.param(DiffState(), 6.0, "leave it", id="nothing due"),
        pytest.param(DiffState((diffs.WET_ON_PAPER,)), 6.0, "look at it", id="wet on paper"),
        pytest.param(DiffState((diffs.LOST_SOME,)), 6.0, "look at it", id="lost some"),
        pytest.param(DiffState((diffs.TURNS_BADLY, diffs.NOT_WEIGHED)), 6.0, "look at it", id="rough, not weighed"),
        pytest.param(DiffState((diffs.CANNOT_TELL,)), 6.0, "weigh it", id="weighings cannot tell"),
        pytest.param(DiffState((diffs.SEALS_OVER,)), 6.0, "look at it", id="seals over, not opened"),
        pytest.param(DiffState(runs=4.0, limit_runs=10.0), 6.0, "leave it", id="the limit is just reached"),
        pytest.param(DiffState(runs=5.0, limit_runs=10.0), 6.0, "change the oil", id="the limit is passed"),
        pytest.param(
            DiffState((diffs.RUNS_REACHED,), runs=10.0, limit_runs=10.0), 0.5, "change the oil", id="at the limit"
        ),
        pytest.param(
            DiffState((diffs.RUNS_REACHED, diffs.TURNS_BADLY), runs=10.0, limit_runs=10.0),
            6.0,
            "rebuild",
            id="and rough",
        ),
        pytest.param(
            DiffState((diffs.SEALS_OVER,), runs=5.0, limit_runs=10.0, seal_uses=4, limit_seal_uses=3.0),
            6.0,
            "rebuild",
            id="opened, seals over",
        ),
        pytest.param(
            DiffState(is_loss_seen=True, is_limit_known=True), 6.0, "unclear", id="lost oil on a scale never checked"
        ),
        pytest.param(DiffState(stop_low_runs=6.0, stop_high_runs=9.0), 6.0, "leave it", id="oil lasts for certain"),
        pytest.param(DiffState(stop_low_runs=5.9, stop_high_runs=None), 6.0, "unclear", id="oil may never run out"),
        pytest.param(DiffState(stop_low_runs=1.0, stop_high_runs=5.9), 6.0, "rebuild", id="oil runs out"),
        pytest.param(DiffState((diffs.SEALS_OVER,), frozenset({diffs.SEALS_OVER})), 6.0, "leave it", id="put by"),
    ],
)
def test_each_rule(state: DiffState, planned: float, act: str) -> None:
    assert decide(state, planned).act == act


def random_state(chance: Random) -> DiffState:
    """Any state of a diff that is not apart."""
    reasons = [one for one, word in diffs.WORD_OF.items() if word != "apart" and one != diffs.RUNS_REACHED]

    def number(most: int) -> float | None:
        return chance.choice((None, float(chance.randint(1, most))))

    low, high = sorted((chance.uniform(0, 30), chance.uniform(0, 30)))
    interval = chance.choice(((None, None), (low, None), (low, high)))
    return DiffState(
        reasons=tuple(chance.sample(reasons, chance.randint(0, 3))),
        runs=float(chance.randint(0, 20)),
        limit_runs=number(30),
        seal_uses=chance.choice((None, 1, 2, 3)),
        limit_seal_uses=number(3),
        stop_low_runs=interval[0],
        stop_high_runs=interval[1],
        is_loss_seen=chance.random() < 0.5,
        is_limit_known=chance.random() < 0.5,
        do_weighings_disagree=chance.random() < 0.2,
    )


def test_more_runs_behind_it_or_ahead_never_make_it_lighter() -> None:
    """Of 2,000 random states: the act with more runs planned, and with more runs behind it, is the same or heavier."""

    def act(state: DiffState, runs: float, ahead: float) -> int:
        is_reached = state.limit_runs is not None and runs >= state.limit_runs
        reasons = (*state.reasons, diffs.RUNS_REACHED) if is_reached else state.reasons
        return WEIGHT[decide(state._replace(runs=runs, reasons=reasons), ahead).act]

    chance = Random(5)
    found = set()
    for _ in range(2_000):
        state, planned, more = random_state(chance), chance.uniform(0, 20), chance.uniform(0, 20)
        now = act(state, state.runs, planned)
        assert now <= act(state, state.runs, planned + more), (state, planned, more)
        assert now <= act(state, state.runs + more, planned), (state, planned, more)
        found.add(now)
    assert len(found) == len(PLAN_ACTS) - 1, "each act but a second one"


class Row(NamedTuple):
    """A record to be written once those of the stages before are: ``of`` names others by their labels."""

    stage: int
    kind: str
    values: dict[str, Any]
    of: Mapping[str, str] = MappingProxyType({})


def random_rows(chance: Random, label: str) -> Iterator[Row]:
    """A diff of random records: builds, runs with and without a word, weighings, openings, jobs at the bench, seals,
    limits."""
    yield Row(0, "diff", {"label": label})
    of_diff = {"diff": label}
    for number in range(1, chance.choice((0, 1, 1, 1, 1, 2, 2)) + 1):
        build = f"{label}/{number}"
        values = {
            "oil_mass_g": chance.choice((None, 1.86, 1.86, 1.86)),
            "closed_mass_g": chance.choice((None, 22.40, 22.40)),
            "hand_feel": chance.choice((*[None] * 20, *FEELS)),
            "paper_wet_at": chance.choice((*[None] * 12, "joint")),
        }
        built = {"label": build, "built_on": f"2026-01-{number:02}"}
        yield Row(1, "build", {**built, **values}, {**of_diff, "scale": "bench"})
        of_build = {"build": build}
        if chance.random() < 0.4:
            condition = chance.choice(("new", "used"))
            yield Row(2, "seal_fitting", {"place": "joint", "condition": condition}, {**of_build, "seal": "lid ring"})
        for day in range(chance.randint(0, 4)):
            run = f"{build}-{day}"
            said = {
                "runs": chance.choice((None, 1.0, 2.0, 5.0)),
                "call": chance.choice((*[None] * 4, "keep", "change", "undecided", "broke")),
                "grip": chance.choice((None, "high")),
                "laps": chance.choice((None, 12)),
            }
            yield Row(1, "run", {"label": run, "run_on": f"2026-02-{1 + day:02}", **said})
            yield Row(2, "run_diff", {}, {**of_build, "run": run})
        for place in range(chance.randint(0, 2)):
            mass_g = chance.choice((22.40, 22.40, 22.39, 22.37, 22.34, 22.28, 22.15))
            when = chance.choice(({"runs": float(3 * place)}, {"weighed_on": f"2026-02-{3 * place + 1:02}"}))
            weighed = {"mass_g": mass_g, "mass_basis": "closed", **when}
            yield Row(2, "weighing", weighed, {**of_build, "scale": "bench"})
        if chance.random() < 0.1:
            yield Row(2, "opening", {"opened_on": "2026-02-20"}, of_build)
        if chance.random() < 0.1:
            job = {"kind": "rebuild", "way": "step by step", "begun_at": f"2026-02-2{number}T10:00:00.000Z"}
            yield Row(2, "bench_job", {**job, "given_up": chance.choice((None, "no time"))}, {**of_diff, **of_build})
    if chance.random() < 0.4:
        yield Row(2, "limit", {"kind": "runs between openings", "value": float(chance.randint(3, 15))}, of_diff)
    if chance.random() < 0.3:
        yield Row(2, "limit", {"kind": "seal uses", "value": 1.0}, of_diff)


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Callable[[], tuple[sqlite3.Connection, Add]]]:
    """New databases, one after the other, each with a way to add records."""
    made: list[sqlite3.Connection] = []

    def new() -> tuple[sqlite3.Connection, Add]:
        connection = open_for_writing(empty_database(tmp_path / f"{len(made)}.db"))
        connection.execute("BEGIN IMMEDIATE")
        entries.begin(connection, asked="a test", by="ana")
        watch(connection)
        made.append(connection)
        return connection, adding(WriterWithFacts(connection, "ana", lambda: FIXED_NOW))

    yield new
    for one in made:
        one.rollback()
        one.close()


def random_team(add: Add, seed: int, *, order: int = 0) -> list[str]:
    """Diffs of random records, by their labels; ``order`` shuffles in which order the records are written, and so which
    ids they get."""
    chance = Random(seed)
    scale = {"name": "bench", "step_g": 0.01, "repeatability_g": chance.choice((None, 0.005)), "day_to_day_g": 0.0}
    labels = [f"d{number:02}" for number in range(12)]
    rows = [one for label in labels for one in random_rows(chance, label)]
    rows += [Row(0, "scale", scale), Row(0, "seal", {"label": "lid ring"})]
    Random(order).shuffle(rows)
    ids: dict[str, str] = {}
    for one in sorted(rows, key=lambda one: one.stage):
        made = add(one.kind, **one.values, **{field: ids[label] for field, label in one.of.items()})
        ids[str(one.values.get("label") or one.values.get("name") or made)] = made
    return labels


@pytest.mark.parametrize("seed", [4, 8])
def test_a_run_without_a_call_laps_or_grip_never_makes_the_plan_lighter(
    connection: sqlite3.Connection, add: Add, seed: int
) -> None:
    """One such run for each diff, and each time no diff of the team is due for less, with runs planned and without."""
    labels = random_team(add, seed)
    builds = dict(connection.execute("SELECT diff, current_build FROM diff_facts WHERE current_build IS NOT NULL"))
    by_label = dict(connection.execute("SELECT label, id FROM diffs"))
    planned: dict[str, float | None] = {by_label[label]: 6.0 for label in labels[::2]}
    listed = {one.row_id for one in to_do(connection).jobs if one.act}
    acts = {diff: WEIGHT[one.act] for diff, one in due_of_diffs(connection, planned).items()}
    assert len(set(acts.values())) >= 3, "of several kinds"
    for number, (diff, build) in enumerate(builds.items()):
        day = f"2026-03-{1 + number:02}"
        run = add("run", label=f"{day}/1", run_on=day, runs=Random(seed + number).choice((None, 1.0, 3.0)))
        add("run_diff", run=run, build=build)
        now = {one: WEIGHT[due.act] for one, due in due_of_diffs(connection, planned).items()}
        assert [one for one in acts if now[one] < acts[one]] == [], (diff, number)
        acts, before = now, listed
        listed = {one.row_id for one in to_do(connection).jobs if one.act}
        assert before <= listed, "nothing leaves the list of what is to be done"


@pytest.mark.parametrize("seed", [3, 4])
def test_the_order_in_which_records_are_written_changes_nothing(
    fresh: Callable[[], tuple[sqlite3.Connection, Add]], seed: int
) -> None:
    found = []
    for order in range(3):
        connection, add = fresh()
        random_team(add, seed, order=order)
        found.append((due_by_label(connection), list(to_do(connection).lines())))
    assert found[0] == found[1] == found[2]
    assert len(set(found[0][0].values())) > 4


def test_what_broke_is_broken_until_a_later_run_has_another_call(connection: sqlite3.Connection, team: Team) -> None:
    build = team.build(oil_mass_g=1.86, closed_mass_g=22.40)
    team.run(build, "2026-02-01", call="broke")
    team.run(build, "2026-02-02")
    assert due_by_label(connection)["rear-a"].startswith("rebuild rear-a (broke in its last run")
    team.run(build, "2026-02-03", call="undecided")
    assert due_by_label(connection)["rear-a"].startswith("weigh rear-a (")


def test_what_was_given_up_is_apart_until_a_run_says_more_than_that(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    build = team.build(oil_mass_g=1.86)
    job = {"kind": "rebuild", "way": "step by step", "begun_at": "2026-02-21T10:00:00.000Z"}
    add("bench_job", diff=team.diff, build=build, given_up="no time", **job)
    team.run(build, "2026-03-01", 3.0)
    assert due_by_label(connection) == {"rear-a": "rebuild rear-a (given up on the bench: no time)"}
    team.run(build, "2026-03-02", call="keep")
    assert due_by_label(connection) == {"rear-a": "weigh rear-a (4 runs since it was filled)"}


def test_the_usual_day_is_the_median_of_days_that_say_something(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """Four, unless a day had more runs of which nobody wrote more; then the median of 2 and 6, of which 1 is bare."""
    assert usual_runs(connection) == 4.0
    build = team.build()
    team.run(build, "2026-02-01", 3.0)
    assert usual_runs(connection) == 4.0
    team.run(build, "2026-02-02", 7.0)
    assert usual_runs(connection) == 7.0
    team.run(build, "2026-02-03", 2.0, call="keep")
    assert usual_runs(connection) == 2.0
    team.run(build, "2026-02-04", 5.0, call="keep")
    team.run(build, "2026-02-04", 1.0)
    assert usual_runs(connection) == 4.0
    team.run(build, "2026-02-05", 1.0)
    assert usual_runs(connection) == 4.0


def test_oil_lost_standing_gives_no_runs_left(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    """0.13 g went without a run between, confirmed: how long the rest lasts nobody can say."""
    from bevelbook.reports.service import LOST_STANDING, service_states

    build = team.build(oil_mass_g=1.86)
    for day, mass_g in (("2026-01-02", 22.40), ("2026-01-02", 22.40), ("2026-01-09", 22.27), ("2026-01-09", 22.27)):
        add("weighing", build=build, weighed_on=day, runs=0.0, mass_g=mass_g, mass_basis="closed", scale=team.scale)
    assert due_by_label(connection)["rear-a"].startswith("look at rear-a (lost 0.13 g of 1.86 g (7 %)")
    assert any(line.endswith(LOST_STANDING) for line in service_states(connection)[0].lines())
