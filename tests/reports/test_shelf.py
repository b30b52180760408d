"""The shelf's word for each diff with its reasons. All data are constructed.

A loss is held against the limits with what the scale can tell: u² = step² / 12 + s² of each reading (JCGM 100:2008,
F.2.2.1), k = 2. The proposed limits are 5 % (0.093 g) and 10 % (0.186 g) of 1.86 g of oil.
"""

from __future__ import annotations

import sqlite3
from math import sqrt
from pathlib import Path
from typing import Any

import pytest
from constructed import Add, Team

from bevelbook import web
from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.known import find_subject, known_of
from bevelbook.display.days import built_in_words
from bevelbook.facts.diffs import UNWEIGHED_RUNS
from bevelbook.facts.renew import renew_touched
from bevelbook.plugin.registry import Registry
from bevelbook.reports.oil_lost_findings import leak_findings
from bevelbook.reports.shelf import all_words, reason_words, shelf_lines, shelf_row, shelf_rows, short_words

WORD_OF = {"ok": "ready", "caution": "look at it", "stop": "open it", "unclear": "weigh it"}
SOUND = {"oil_mass_g": 1.86, "closed_mass_g": 22.4}


def the_row(connection: sqlite3.Connection) -> dict[str, Any]:
    (row,) = shelf_rows(connection)
    return row


def word(connection: sqlite3.Connection) -> str:
    return str(the_row(connection)["word"])


def reasons(connection: sqlite3.Connection) -> list[str]:
    return list(reason_words(the_row(connection)))


@pytest.mark.parametrize("step_g", [0.001, 0.01, 0.1])
@pytest.mark.parametrize("loss_g", [0.0, 0.05, 0.07, 0.075, 0.09, 0.1, 0.14, 0.15, 0.16, 0.2, 0.3])
def test_the_word_follows_what_the_scale_can_tell(
    connection: sqlite3.Connection, registry: Registry, add: Add, step_g: float, loss_g: float
) -> None:
    """By hand with s = step / 2, and by the calculator that works the same out for a person."""
    scale = add("scale", name="the scale", step_g=step_g, repeatability_g=step_g / 2.0, day_to_day_g=0.0)
    diff = add("diff", label="rear-x")
    build = add(
        "build", label="rear-x/1", diff=diff, built_on="2026-01-02", oil_mass_g=1.86, closed_mass_g=22.4, scale=scale
    )
    add("weighing", build=build, runs=6.0, mass_g=round(22.4 - loss_g, 3), mass_basis="closed", scale=scale)
    wide_g = 2.0 * sqrt(2.0) * sqrt(step_g**2 / 12.0 + (step_g / 2.0) ** 2)
    over = [limit_g for limit_g in (0.186, 0.093) if loss_g - wide_g >= limit_g]
    undecided = [limit_g for limit_g in (0.186, 0.093) if loss_g - wide_g < limit_g <= loss_g + wide_g]
    verdict = "ok" if not over else "stop" if 0.186 in over else "caution"
    verdict = "unclear" if undecided and max(undecided) > max(over, default=0.0) else verdict
    assert word(connection) == WORD_OF[verdict]
    calculator = registry.calculators["leak-trend"].calculator
    subject = find_subject(connection, "build:rear-x/1")
    result = run(calculator, bind(calculator, {}, known_of(connection, calculator, [subject])))
    assert result.verdict == verdict


def test_a_coarse_scale_cannot_call_a_diff_ready_that_a_fine_one_can(
    connection: sqlite3.Connection, team: Team
) -> None:
    team.weigh(team.build(**SOUND), (6.0, 22.36))
    assert (word(connection), reasons(connection)) == ("ready", [])
    connection.execute("UPDATE scales SET step_g = 0.1")
    renew_touched(connection)
    assert word(connection) == "weigh it"
    assert reasons(connection) == [
        "no loss seen by run 6 (the scale can see 0.09 g and more): unclear whether it is over our default limit of "
        "0.09 g: weigh it on a finer scale"
    ]


@pytest.mark.parametrize(
    ("material", "advice"),
    [
        ("nylon", "weigh an empty sister housing alongside"),
        (None, "note what the housing is made of, or weigh an empty sister housing alongside"),
    ],
)
@pytest.mark.parametrize("loss_g", [0.02, 0.09])
def test_where_water_hides_the_loss_the_advice_is_a_sister_housing(
    connection: sqlite3.Connection, add: Add, material: str | None, advice: str, loss_g: float
) -> None:
    """Constructed: 30 days move 5 g of nylon by 0.045 g (k = 1), beside 0.008 g of the scale."""
    scale = add("scale", name="the scale", step_g=0.01, repeatability_g=0.005)
    diff = add("diff", label="rear-x", housing_material=material)
    own = {"oil_mass_g": 1.86, "closed_mass_g": 22.4, "scale": scale}
    build = add("build", label="rear-x/1", diff=diff, built_on="2026-01-02", **own)
    weighed = {"build": build, "runs": 4.0, "mass_basis": "closed", "scale": scale, "weighed_on": "2026-02-01"}
    add("weighing", **weighed, mass_g=22.4 - loss_g)
    assert word(connection) == "weigh it"
    (said,) = reasons(connection)
    assert said.endswith(f": {advice}")
    assert "finer scale" not in said
    (finding,) = [one for one in leak_findings(connection) if one.code == "weighing_unclear"]
    assert finding.words.startswith(said)
    assert "takes up and gives off water" in finding.words
    assert finding.words.count("sister housing") == 1
    assert finding.remedy == f"{advice[0].upper()}{advice[1:]}."


@pytest.mark.parametrize(
    ("values", "runs", "expected", "why"),
    [
        ({}, 0.0, "weigh it", ["how much oil is in it is not known"]),
        ({}, 3.0, "weigh it", ["not weighed twice the same way since it was filled, 3 runs ago"]),
        (SOUND, 0.0, "ready", []),
        ({"closed_mass_g": 22.4}, 0.0, "ready", []),
        ({"closed_mass_g": 22.4}, 1.0, "weigh it", ["not weighed twice the same way since it was filled, 1 run ago"]),
        ({"dry_mass_g": 12.4, "filled_mass_g": 14.26}, 0.0, "ready", []),
        (SOUND, 1.0, "weigh it", ["not weighed twice the same way since it was filled, 1 run ago"]),
        (
            {"hand_feel": "notchy"},
            0.0,
            "open it",
            ["turned notchy by hand", "how much oil is in it is not known"],
        ),
        ({**SOUND, "hand_feel": "notchy"}, 0.0, "open it", ["turned notchy by hand"]),
        ({**SOUND, "hand_feel": "gritty"}, 0.0, "look at it", ["turned gritty by hand"]),
        ({**SOUND, "hand_feel": "smooth"}, 0.0, "ready", []),
    ],
)
def test_what_was_not_weighed_since_is_ready_only_while_it_never_ran_and_its_fill_or_closed_mass_is_known(
    connection: sqlite3.Connection, team: Team, values: dict[str, object], runs: float, expected: str, why: list[str]
) -> None:
    build = team.build(**values)
    if runs:
        team.run(build, "2026-02-01", runs)
    assert (word(connection), reasons(connection)) == (expected, why)


def test_the_last_build_is_on_the_shelf_and_an_opened_one_is_apart(connection: sqlite3.Connection, team: Team) -> None:
    assert (word(connection), the_row(connection)["reasons"]) == ("apart", "not built")
    team.weigh(team.build(**SOUND), (6.0, 22.0))
    assert word(connection) == "open it"
    last = team.build()
    assert word(connection) == "weigh it"
    team.open(last)
    assert (word(connection), the_row(connection)["reasons"]) == ("apart", "opened")
    assert reasons(connection) == []


@pytest.mark.parametrize(("since", "expected"), [(0.0, "ready"), (5.5, "ready"), (6.0, "weigh it"), (7.0, "weigh it")])
def test_a_diff_is_to_be_weighed_again_after_some_runs(
    connection: sqlite3.Connection, team: Team, since: float, expected: str
) -> None:
    """Six runs are our own figure."""
    assert UNWEIGHED_RUNS == 6.0
    build = team.build(**SOUND)
    team.weigh(build, (4.0, 22.39))
    team.run(build, "2026-02-01", 4.0 + since)
    assert word(connection) == expected
    assert reasons(connection) == ([f"{since:g} runs since it was last weighed"] if expected != "ready" else [])


@pytest.mark.parametrize(
    ("runs", "expected", "why"),
    [
        (7.5, "ready", []),
        (8.0, "look at it", ["8 runs since it was filled, your limit"]),
        (9.5, "look at it", ["9.5 runs since it was filled, 1.5 over your limit of 8"]),
    ],
)
def test_runs_between_openings_are_the_teams_limit(
    connection: sqlite3.Connection, add: Add, team: Team, runs: float, expected: str, why: list[str]
) -> None:
    add("limit", kind="runs between openings", value=8.0)
    build = team.build(**SOUND)
    team.run(build, "2026-02-01", runs)
    team.weigh(build, (runs, 22.39))
    assert (word(connection), reasons(connection)) == (expected, why)


@pytest.mark.parametrize(
    ("calls", "expected"),
    [
        (("keep", "broke"), "open it"),
        (("broke", "keep"), "ready"),
        (("broke", None), "open it"),
        (("broke", "undecided"), "ready"),
        ((None, None), "ready"),
    ],
)
def test_a_diff_that_broke_in_its_last_run_is_opened_first(
    connection: sqlite3.Connection, team: Team, calls: tuple[str | None, ...], expected: str
) -> None:
    """It ran again and was not called broken: then it was not the diff. A run without a call says nothing of it."""
    build = team.build(**SOUND)
    for place, call in enumerate(calls, start=1):
        team.run(build, f"2026-02-{place:02d}", 1.0, call=call)
    team.weigh(build, (2.0, 22.39))
    assert word(connection) == expected
    assert reasons(connection) == (["broke in its last run"] if expected == "open it" else [])


def test_a_build_after_the_one_that_broke_is_ready(connection: sqlite3.Connection, team: Team) -> None:
    team.run(team.build(**SOUND), "2026-02-01", 1.0, call="broke")
    team.build(**SOUND)
    assert word(connection) == "ready"


def test_seals_may_be_used_as_often_as_the_team_says(connection: sqlite3.Connection, add: Add, team: Team) -> None:
    add("limit", kind="seal uses", value=2.0)
    add("seal_fitting", build=team.build(**SOUND), place="joint", condition="new")
    team.build(**SOUND)
    assert word(connection) == "ready"
    team.build(**SOUND)
    assert word(connection) == "look at it"
    assert reasons(connection) == ["a seal was closed in 3 times, your limit is 2"]


def test_a_diff_that_nobody_weighed_is_weighed_first_however_it_feels(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    team.run(team.build(**SOUND, hand_feel="gritty"), "2026-02-01", 3.0)
    assert word(connection) == "weigh it"
    assert reasons(connection)[1:] == ["turned gritty by hand"]
    add("limit", kind="runs between openings", value=3.0)
    assert word(connection) == "look at it", "a limit that is reached opens it anyway"


def test_the_gravest_reason_gives_the_word_and_all_are_said_in_its_order(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.40 g of 1.86 g are 22 % (arithmetic)."""
    add("limit", kind="runs between openings", value=8.0)
    build = team.build(**SOUND, hand_feel="gritty")
    team.weigh(build, (6.0, 22.0))
    team.run(build, "2026-02-01", 13.0)
    assert word(connection) == "open it"
    assert reasons(connection) == [
        "lost 0.40 g of 1.86 g (22 %) by run 6, over our default limit of 0.19 g",
        "13 runs since it was filled, 5 over your limit of 8",
        "7 runs since it was last weighed",
        "turned gritty by hand",
    ]
    assert the_row(connection)["reasons"] == (
        "oil lost over the stop limit; runs between openings reached; not weighed for some runs; turns badly"
    )


def test_a_loss_over_the_teams_own_limit_opens_it_and_says_whose_limit(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """0.06 g is under the proposals and, less U = 0.016 g, over 0.04 g."""
    team.weigh(team.build(**SOUND), (6.0, 22.34))
    assert word(connection) == "ready"
    add("limit", kind="oil lost in grams", value=0.04)
    assert word(connection) == "open it"
    assert reasons(connection) == ["lost 0.06 g of 1.86 g (3 %) by run 6, over your limit of 0.04 g"]


def test_a_loss_between_the_limits_asks_for_a_look(connection: sqlite3.Connection, team: Team) -> None:
    team.weigh(team.build(**SOUND), (6.0, 22.26))
    assert reasons(connection) == ["lost 0.14 g of 1.86 g (8 %) by run 6, over our default limit of 0.09 g"]


def test_its_position_is_where_it_ran_last_else_where_it_usually_runs(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add, usual_position="centre")
    assert the_row(connection)["position"] == "centre"
    build = team.build()
    for order, position in ((2, "front"), (1, "rear")):
        made = add("run", label=f"run {order}", run_on="2026-02-01", day_order=order)
        add("run_diff", run=made, build=build, position=position)
    assert the_row(connection)["position"] == "front"
    add("run_diff", run=add("run", label="later", run_on="2026-02-02"), build=build, position="rear")
    assert the_row(connection)["position"] == "rear"
    team.build()
    assert the_row(connection)["position"] == "centre"


def test_the_table_for_the_terminal_has_a_line_for_each_diff(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    fluid = add("fluid", label="house 7k", viscosity_cst=7000.0)
    team.weigh(team.build(**SOUND, fluid=fluid, hand_feel="smooth"), (6.0, 22.39))
    Team(add, "rear-b")
    loose = Team(add, "rear-c")
    loose.weigh(loose.build(**SOUND, hand_feel="loose"), (6.0, 22.26))
    built = built_in_words(str(shelf_rows(connection)[0]["built_on"])).removeprefix("built ")
    head, first, second, third = shelf_lines(shelf_rows(connection))
    assert head.split() == ["diff", "build", "built", "where", "oil", "cSt", "lost", "runs", "feel", "word"]
    assert (
        " ".join(first.split())
        == f"rear-a rear-a/1 {built} house 7k 7,000 no loss seen (the scale can see 0.02 g and more) 6 smooth ready"
    )
    assert " ".join(second.split()) == "rear-b not recorded not known not weighed since the fill 0 apart: never built"
    assert third.endswith(
        "look at it: lost 0.14 g of 1.86 g (8 %) by run 6, over our default limit of 0.09 g; turned loose by hand"
    )
    assert shelf_row(connection, team.diff) == shelf_rows(connection)[0]
    assert shelf_row(connection, "nobody") is None


def test_on_the_first_page_a_reason_is_short_enough_to_need_no_cutting(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    add("limit", kind="runs between openings", value=12.0)
    add("limit", kind="oil lost as a share", value=0.05)
    build = team.build(**SOUND)
    team.run(build, "2026-02-01", 17.0)
    team.weigh(build, (14.0, 22.305))
    (row,) = shelf_rows(connection)
    assert list(short_words(row)) == [
        "17 runs since it was filled, 5 over your limit of 12",
        "lost 0.10 g of 1.86 g (5 %): unclear",
    ]
    assert len(list(all_words(row))) == 2, "the page of the diff has all of it"
    css = Path(web.__file__).with_name("static").joinpath("bevelbook.css").read_text()
    assert "line-clamp" not in css
