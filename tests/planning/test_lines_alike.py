"""What a plan says alike is said once, and nothing of it is lost: constructed teams of 1 to 40 cars.

What to expect of each diff is the line that the plan holds for it as data. The teams are invented.
"""

from __future__ import annotations

import re
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from constructed import adding
from planning.teams import Yard

from bevelbook.planning.lines_alike import ALIKE_FROM, cars_alike, lines_alike, steps_alike
from bevelbook.planning.made_plan import MadePlan
from bevelbook.planning.plan import make_plan
from bevelbook.plugin.registry import Registry
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.writing import Writer

TODAY = date(2026, 6, 1)
FULL_G = 22.40


def _plan(path: Path, registry: Registry, cars: int, spares: int) -> MadePlan:
    """Cars with a diff at the front and one at the rear, the rear one of every tenth losing oil; spares were run once
    and never weighed again."""
    with closing(new_database(path)) as connection:
        with transaction(connection, path):
            yard = Yard(adding(Writer(connection, None)))
            for number in range(cars):
                name = f"car {number:02d}"
                for place in ("front", "rear"):
                    build = yard.fresh(f"{place}-{number:02d}", car=name)
                    yard.run(build, "2026-03-01", 3.0, car=name, at=place)
                    lost_g = 0.5 if place == "rear" and number % 10 == 0 else 0.0
                    yard.weigh(build, 3.0, round(FULL_G - lost_g, 2), weighed_on="2026-03-01")
            for number in range(spares):
                yard.fresh(f"rear-spare{number:02d}")
            event = yard.event()
        return make_plan(connection, registry, event, TODAY)


@pytest.mark.parametrize(("cars", "spares"), [(1, 0), (2, 0), (4, 3), (20, 12), (40, 0)])
def test_each_diff_is_named_once_of_the_lines_and_with_what_holds_for_it(
    tmp_path: Path, registry: Registry, cars: int, spares: int
) -> None:
    made = _plan(tmp_path / "team.db", registry, cars, spares)
    groups = [*(line for one in cars_alike(made.cars) for line in one.lines), *lines_alike(made.spares)]
    assert sorted(line.label for one in groups for line in one.lines) == sorted(one.label for one in made.every_line)
    for one in groups:
        assert {(line.act, line.settle, line.position if line.car else None) for line in one.lines} == {
            (one.line.act, one.line.settle, one.line.position if one.line.car else None)
        }
        words = " ".join(" ".join(one.said()).split())
        assert [line.called for line in one.lines if line.called not in words] == []
        assert one.line.act in words
        assert [reason for reason in one.line.reasons if reason not in words] == []
    assert [step for one in steps_alike(made.work) for step in one.steps] == list(made.work)


def test_many_cars_with_nothing_to_do_stand_together_behind_those_with_work(tmp_path: Path, registry: Registry) -> None:
    made = _plan(tmp_path / "team.db", registry, 20, 0)
    found = cars_alike(made.cars)
    assert [one.in_short for one in found] == ["car 00", "car 10", "18 cars"]
    words = "\n".join(made.lines())
    assert words.index("car 10, 6 runs planned") < words.index("18 cars, 6 runs planned each: car 01, car 02")
    assert len(words.splitlines()) < 2.5 * len(made.every_line) + 40


def test_few_lines_stand_each_by_itself_in_their_order(tmp_path: Path, registry: Registry) -> None:
    made = _plan(tmp_path / "team.db", registry, ALIKE_FROM - 1, ALIKE_FROM - 1)
    assert [one.title for one in cars_alike(made.cars)] == [one.title for one in made.cars]
    assert [one.lines for one in lines_alike(made.spares)] == [(one,) for one in made.spares]


def test_steps_that_follow_each_other_and_say_the_same_are_one_with_their_places(
    tmp_path: Path, registry: Registry
) -> None:
    made = _plan(tmp_path / "team.db", registry, 40, 0)
    alike = [one for one in steps_alike(made.work) if len(one.steps) > 1]
    assert [(one.places, len(one.steps)) for one in alike] == [("1 to 4", 4)]
    words = " ".join(" ".join(alike[0].said()).split())
    assert re.findall(r"rear-\d\d \(car \d\d rear\)", words) == [
        f"rear-{one:02d} (car {one:02d} rear)" for one in (0, 10, 20, 30)
    ]


@pytest.mark.parametrize("more_at_the_rear", [0.0, 2.0])
def test_what_an_oil_needs_is_said_once_for_front_and_rear(
    tmp_path: Path, registry: Registry, more_at_the_rear: float
) -> None:
    with closing(new_database(tmp_path / "team.db")) as connection:
        with transaction(connection, tmp_path / "team.db"):
            yard = Yard(adding(Writer(connection, None)))
            builds = {place: yard.fresh(f"{place}-a") for place in ("front", "rear")}
            run = yard.run(builds["front"], "2026-03-01", 3.0, at="front", call=None)
            yard.add("run_diff", run=run, build=builds["rear"], position="rear")
            if more_at_the_rear:
                yard.run(builds["rear"], "2026-03-02", more_at_the_rear, call=None)
            event = yard.event(air_low_c=14.0, air_high_c=18.0)
        said = " ".join(" ".join(make_plan(connection, registry, event, TODAY).lines()).split())
    assert said.count("To say an oil: ") == 1
    assert said.count("write down air, track, grip and what was decided after each run") == 1
    if more_at_the_rear:
        assert "after each run: in the front 3 runs without a call (" in said
        assert "; in the rear 5 runs without a call (" in said
    else:
        assert "after each run: in the front and the rear 3 runs without a call (" in said
        assert said.count("'bevelbook record run \"2026-03-01/red front ") == 2


def test_what_makes_the_oils_of_several_diffs_clear_is_said_once_with_the_diffs(
    tmp_path: Path, registry: Registry
) -> None:
    """The forecast reaches 5 °C and more past what was run, by hand 26 - 16 = 10 °C: unclear at front and rear."""
    with closing(new_database(tmp_path / "team.db")) as connection:
        with transaction(connection, tmp_path / "team.db"):
            yard = Yard(adding(Writer(connection, None)))
            for place in ("front", "rear"):
                build = yard.fresh(f"{place}-a")
                yard.run(build, "2026-03-01", 3.0, at=place, venue=yard.venue, air_temp_c=16.0, grip="high")
                yard.weigh(build, 3.0, FULL_G, weighed_on="2026-03-01")
            event = yard.event(air_low_c=17.0, air_high_c=26.0, grip="high")
        made = make_plan(connection, registry, event, TODAY)
    said = " ".join(" ".join(made.lines()).split())
    settles = [one.settle for one in made.every_line]
    assert len(settles) == 2
    assert settles[0] == settles[1] != ()
    for hint in settles[0]:
        assert said.count(hint) == 1
        assert f"front-a, rear-a: {hint}" in said
    assert said.count('to settle it: see "To be surer of the oils"') == 2
    assert [one["settle"] for car in made.as_dict()["cars"] for one in car["lines"]] == list(map(list, settles))
