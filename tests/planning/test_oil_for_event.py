"""Which oil for the forecast of an event. All teams are constructed; numbers are worked out by hand beside each check.

Needed viscosities: nu25 exp[1757.1 (1/T_then - 1/T_now)], the law that tests/physics holds against the table of
Shin-Etsu Chemical Co., Ltd., Silicone Fluid, Performance Test Results, 2014 (Table 1, p. 6).
"""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from math import exp, hypot, log, sqrt
from typing import Any

import pytest
from conftest import FIXED_NOW
from constructed import Add, adding
from planning.teams import OIL_G, TEAMS, Yard
from scipy import stats

from bevelbook.facts.renew import renew_touched
from bevelbook.formulas.expected_temperature import MeasuredPast
from bevelbook.planning.event_to_come import DayRange, EventToCome, event_to_come
from bevelbook.planning.oil_for_event import OilForDiff, oils_for
from bevelbook.planning.oil_runs import OilRuns, RunsThere
from bevelbook.planning.oil_wished import AskedFor, oil_wished
from bevelbook.planning.oils_at_hand import OilsAtHand
from bevelbook.planning.places import diffs_in_place
from bevelbook.store.writing import Writer
from bevelbook_plugins.oil_choice import ChoiceGiven, PastRun, choose, judge_choice

COLD = (12.0, 13.0, 14.0, 15.0, 16.0)
WARM = (28.0, 30.0, 32.0, 34.0, 36.0)
RISE_C = 10.0


class Garage(Yard):
    """A team that kept 10k on five warm days of 2025 and 5k on five cold ones of 2026, in the rear of red, on carpet
    with high grip; the diff was measured each time, 10 °C over the air. The 5k is in; a bottle of 10k is full."""

    def __init__(self, add: Add, connection: sqlite3.Connection, *, shuffled: random.Random | None = None) -> None:
        super().__init__(add)
        self.connection = connection
        self.thin, self.thick = (
            add("fluid", label=label, viscosity_cst=cst, viscosity_source="own label")
            for label, cst in (("5k", 5000.0), ("10k", 10_000.0))
        )
        self.bottle = add("bottle", fluid=self.thick, full_mass_g=90.0, empty_mass_g=40.0)
        add("bottle_check", bottle=self.bottle, checked_on="2026-03-03", mass_g=90.0)
        self.diff("rear-a")
        self.warm = self.build("rear-a", fluid=self.thick, built_on="2025-06-01")
        add("opening", build=self.warm, opened_on="2025-08-01", reason="oil change")
        self.cold = self.build("rear-a", fluid=self.thin, built_on="2026-01-10")
        runs = [(self.warm, f"2025-07-{1 + 5 * place:02}", air) for place, air in enumerate(WARM)]
        runs += [(self.cold, f"2026-02-{1 + 5 * place:02}", air) for place, air in enumerate(COLD)]
        if shuffled is not None:
            shuffled.shuffle(runs)
        for build, day, air in runs:
            self.measured(build, day, air)
        renew_touched(connection)

    def measured(self, build: str, day: str, air_c: float, **values: Any) -> str:
        said = {"label": f"{day}/1", "run_on": day, "car": self.car(), "call": "keep", "grip": "high"}
        run = self.add("run", **{**said, "venue": self.venue, "air_temp_c": air_c, **values})
        self.add("run_diff", run=run, build=build, position="rear", diff_temp_c=air_c + RISE_C)
        return run

    def oils(
        self, low_c: float | None, high_c: float | None, *, opened: bool = False, **values: Any
    ) -> dict[str, OilForDiff]:
        """What each diff needs for air from .. to, by its label; ``opened`` if all are opened anyway."""
        event = self.event(air_low_c=low_c, air_high_c=high_c, **{"grip": "high", **values})
        renew_touched(self.connection)
        expected = event_to_come(self.connection, event)
        places = diffs_in_place(self.connection, expected.cars).diffs
        found = oils_for(self.connection, expected, places, [place.diff for place in places] if opened else ())
        return {place.label: found[place.diff] for place in places}

    @contextmanager
    def for_now(self) -> Iterator[None]:
        """What is written inside is gone afterwards."""
        self.connection.execute("SAVEPOINT for_now")
        yield
        renew_touched(self.connection)
        self.connection.execute("ROLLBACK TO for_now")
        self.connection.execute("RELEASE for_now")


@pytest.fixture
def quick(connection: sqlite3.Connection) -> Add:
    """Adds records whose facts follow once all are written."""
    return adding(Writer(connection, "ana", lambda: FIXED_NOW))


@pytest.fixture
def garage(quick: Add, connection: sqlite3.Connection) -> Garage:
    return Garage(quick, connection)


def law(cst: float, then_c: float, now_c: float) -> float:
    return cst * exp(1757.1 * (1 / (then_c + 273.15) - 1 / (now_c + 273.15)))


def test_the_oil_stays_goes_or_takes_a_second_build(garage: Garage) -> None:
    """By hand, for 12 to 16 °C in the air: the last day kept within 5 °C of either end had 16 °C, so 26 °C in the diff;
    22 and 26 °C are expected. All ten days lie on one line, so that half an interval is t(8) 0.577 °C, and with the
    reading then √((2.306 × 0.577)² + (1.96 × 0.577)²) = 1.75 °C. For 30 to 32 °C those days had 34 and 36 °C."""
    half_c = hypot(stats.t.ppf(0.975, 8) / sqrt(3), 1.96 / sqrt(3))
    cold = garage.oils(12.0, 16.0)["rear-a"]
    assert cold.what == "keep"
    assert (cold.from_cst, cold.to_cst) == pytest.approx(
        (law(5000, 26, 22 - half_c), law(5000, 26, 26 + half_c)), rel=1e-3
    )
    assert (
        cold.reasons[0]
        == "5k (5,000 cSt) that is in fits all of it: 8 % too thick at the cold end, right at the hot end"
    )
    assert cold.reasons[1:4] == (
        "cold end, air 12 °C: diff 21 to 23 °C, takes 4,500 to 4,800 cSt",
        "hot end, air 16 °C: diff 25 to 27 °C, takes 4,800 to 5,200 cSt",
        "to feel as 5k (5,000 cSt), kept on 21 Feb 2026 at air 16 °C, diff 26 °C; near that kept on 5 of 5 days",
    )
    assert "the diff is expected from 10 own days, 95 %" in cold.reasons
    single = garage.oils(None, 15.0)["rear-a"]
    assert (single.from_cst, single.to_cst) == pytest.approx(
        (law(5000, 26, 22 - half_c), law(5000, 26, 28 + half_c)), rel=1e-3
    )
    assert "only one figure is given for the air: taken as 3 °C off either way (our own figure)" in single.reasons
    warm = garage.oils(30.0, 32.0)["rear-a"]
    assert warm.what == "change"
    assert (warm.from_cst, warm.to_cst) == pytest.approx(
        (law(10_000, 44, 40 - half_c), law(10_000, 46, 42 + half_c)), rel=1e-3
    )
    assert [(oil.words, oil.enough, oil.short) for oil in warm.oils] == [("10k (10,000 cSt), 1.86 g", True, "")]
    assert "10k (10,000 cSt) kept on 5 of 5 days, 5 runs, up to 4 °C away" in " ".join(warm.reasons)
    alone = garage.oils(12.0, 34.0)["rear-a"]
    assert (alone.what, [oil.fluid for oil in alone.oils]) == ("unclear", [garage.thin])
    assert (
        "there is no spare for the rear to build a second one, 5,000 cSt is nearer to the middle of the forecast"
        in alone.reasons[0]
    )
    assert alone.settle[0] == "the evening before, write the forecast into the event and make the plan again"
    garage.diff("rear-b", car=None)
    both = garage.oils(12.0, 34.0)
    assert (both["rear-a"].what, both["rear-b"].what) == ("keep", "second")
    assert [oil.fluid for oil in both["rear-b"].oils] == [garage.thick]
    assert both["rear-b"].reasons[0] == (
        "rear-a keeps 5,000 cSt for the cold end, rear-b gets 10,000 cSt for the hot end"
    )
    garage.build("rear-b", fluid=garage.thick, built_on="2026-03-01")
    has_it = garage.oils(12.0, 34.0)
    assert {label: one.what for label, one in has_it.items()} == {"rear-a": "keep", "rear-b": "keep"}
    assert "rear-b has 10k (10,000 cSt) for the hot end" in has_it["rear-a"].reasons[0]
    assert garage.oils(30.0, 32.0)["rear-a"].reasons[1] == (
        "rear-b, a spare, has 10k (10,000 cSt): in its place it saves the work"
    )
    garage.build("rear-b", fluid=garage.oil, built_on="2026-03-02")
    idle = garage.oils(12.0, 16.0)["rear-b"]
    assert (idle.what, idle.reasons[0]) == ("none", "a spare, which has 7k (7,000 cSt)")


def test_of_a_spare_it_is_said_what_of_its_oil_is_not_known(garage: Garage) -> None:
    garage.diff("rear-b", car=None)
    of_no_oil = {"fluid": None, "oil_mass_g": OIL_G}
    said = {"blue 9": "blue 9, of which the viscosity is not known", "": "an oil that is not recorded"}
    for day, (label, words) in enumerate(said.items(), start=1):
        oil = {"fluid": garage.add("fluid", label=label)} if label else of_no_oil
        garage.build("rear-b", built_on=f"2026-03-0{day}", **oil)
        found = garage.oils(12.0, 16.0)["rear-b"]
        assert (found.what, found.reasons[0]) == ("none", f"a spare, which has {words}")


def no_venue(garage: Garage) -> OilForDiff:
    return garage.oils(12.0, 16.0, venue=None)["rear-a"]


def no_temperature(garage: Garage) -> OilForDiff:
    return garage.oils(None, None)["rear-a"]


def other_surface(garage: Garage) -> OilForDiff:
    return garage.oils(12.0, 16.0, venue=garage.add("venue", name="North Quay", surface="asphalt"))["rear-a"]


def other_grip(garage: Garage) -> OilForDiff:
    return garage.oils(12.0, 16.0, grip="low")["rear-a"]


def hotter_than_ever(garage: Garage) -> OilForDiff:
    return garage.oils(42.0, 45.0)["rear-a"]


def partly_hotter(garage: Garage) -> OilForDiff:
    return garage.oils(33.0, 45.0)["rear-a"]


def track_alone(garage: Garage) -> OilForDiff:
    return garage.oils(None, None, track_low_c=20.0, track_high_c=25.0)["rear-a"]


def oil_not_written_down(garage: Garage) -> OilForDiff:
    garage.add("opening", build=garage.cold, opened_on="2026-03-01", reason="oil change")
    garage.build("rear-a", fluid=None, built_on="2026-03-01")
    return garage.oils(12.0, 16.0)["rear-a"]


def filled_with_putty(garage: Garage) -> OilForDiff:
    putty = garage.add("fluid", label="diff putty", medium="putty")
    garage.build("rear-a", fluid=putty, built_on="2026-03-01")
    return garage.oils(12.0, 16.0)["rear-a"]


def nowhere(garage: Garage) -> OilForDiff:
    garage.add("diff", label="old one")
    return garage.oils(12.0, 16.0)["old one"]


def never_kept(garage: Garage) -> OilForDiff:
    garage.fresh("front-a")
    return garage.oils(12.0, 16.0)["front-a"]


SAID: Mapping[Callable[[Garage], OilForDiff], tuple[str, str, str, int]] = {
    no_venue: ("none", "no venue is written down", "write down where it is", 0),
    no_temperature: ("none", "neither air nor track is expected", "write down what air and track", 0),
    other_surface: ("none", "no oil was kept in the rear on this surface yet", "write down air, track", 1),
    other_grip: (
        "none",
        "nothing was decided in the rear on low grip; nearest: 5k (5,000 cSt) on high grip, air 16 °C, two steps of "
        "grip away, kept on 21 Feb 2026",
        "write down air, track",
        1,
    ),
    partly_hotter: (
        "unclear",
        "the forecast goes past what you ran; for air 33 to 41 °C alone: 5k",
        "the evening before, write",
        1,
    ),
    hotter_than_ever: ("none", "air at 42 and 45 °C is outside what was run on high grip, 12 to 36 °C", "write", 1),
    track_alone: ("none", "no run in the rear that was kept or changed says the track", "write down air", 1),
    oil_not_written_down: ("unclear", "the oil in rear-a/3 is not recorded", "write down the oil in rear-a/3", 1),
    filled_with_putty: ("none", "diff putty is not an oil", "", 0),
    nowhere: (
        "none",
        "where old one runs in the car is not known",
        "write down where old one usually runs: 'bevelbook record diff \"old one\" usual_position=...'",
        0,
    ),
    never_kept: ("none", "no oil was kept in the front on this surface yet", "write down air, track", 1),
}
"""What is said, what would settle it, and how many oils are named all the same."""


def test_what_is_not_known_is_said_with_what_settles_it(garage: Garage) -> None:
    for asked, (what, reason, settle, oils) in SAID.items():
        with garage.for_now():
            found = asked(garage)
        assert (found.what, len(found.oils)) == (what, oils), asked.__name__
        assert found.reasons[0].startswith(reason), found.reasons
        assert " ".join(found.settle).startswith(settle), found.settle


def test_grams_follow_the_blend_and_what_one_diff_takes_is_missing_for_the_next(garage: Garage) -> None:
    """By hand: 8,500 of 7,000 and 10,000 takes ln(8500/7000) / ln(10/7) = 0.5443 of the thick one: 1.0125 of 1.86 g.
    The bottle of 10k has 43.0 - 40.0 = 3.0 g: enough for one fill of 1.86 g, not for two; then the 7k is next best, at
    the √(9,317 × 9,325) = 9,321 cSt that 30 to 32 °C take it is 7000 / 9321 - 1 = 25 % too thin."""
    at_hand = OilsAtHand(garage.connection)
    blend = at_hand.poured(10_000.0, 8500.0, OIL_G)
    share = log(8500 / 7000) / log(10 / 7)
    assert [part.mass_g for part in blend.parts] == pytest.approx([(1 - share) * OIL_G, share * OIL_G])
    assert blend.words == (
        "0.85 g of 7k (7,000 cSt) with 1.01 g of 10k (10,000 cSt): 8,500 cSt (the 10k (10,000 cSt) alone is 18 % too "
        "thick)"
    )
    assert (blend.fluid, blend.enough) == (None, None)
    assert at_hand.poured(10_000.0, 8500.0, None).words.startswith("46 % of 7k (7,000 cSt) with 54 % of 10k")
    garage.add("bottle_check", bottle=garage.bottle, checked_on="2026-03-04", mass_g=43.0)
    garage.fresh("rear-c", car="blue", fluid=garage.thin, built_on="2026-01-11")
    found = garage.oils(30.0, 32.0)
    (first,), (second,) = (found[label].oils for label in ("rear-c", "rear-a"))
    assert (first.enough, first.short) == (True, "")
    assert second.enough is False
    assert second.short == (
        "too little 10k: 3.0 g left, 1.86 g wanted and 1.86 g for the diffs before; next best: 7k (7,000 cSt), 25 % "
        "too thin"
    )


def kept_run(day: str, air_c: float, oil: str = "5k", cst: float = 5000.0, **values: Any) -> dict[str, Any]:
    """A row of a run with a kept oil, as the database has it."""
    row: dict[str, Any] = dict.fromkeys(("day_order", "started_at", "note_line", "car", "track_temp_c", "runs"))
    row |= {"run": day, "run_label": day, "run_on": day, "grip": "high", "call": "keep", "fill_state": "full"}
    row |= {"diff": "d", "fluid": oil, "fluid_label": oil, "viscosity_cst": cst}
    return {**row, "air_temp_c": air_c, "diff_temp_c": air_c + RISE_C, **values}


def to_come(low_c: float, high_c: float) -> EventToCome:
    nothing = DayRange(None, None)
    return EventToCome(
        "e", "spring", "v", "hall", None, None, DayRange(low_c, high_c), nothing, "high", (), are_cars_said=True
    )


def test_a_diff_that_is_opened_anyway_takes_its_oil_too(garage: Garage) -> None:
    """3.0 g of 5k are left, and 1.86 g go into each of two diffs, though neither is opened for its oil."""
    bottle = garage.add("bottle", fluid=garage.thin, empty_mass_g=40.0)
    garage.add("bottle_check", bottle=bottle, checked_on="2026-03-03", mass_g=43.0)
    garage.fresh("rear-c", car="blue", fluid=garage.thin, built_on="2026-01-11")
    for opened, enough in ((False, [True, True]), (True, [True, False])):
        found = garage.oils(12.0, 16.0, opened=opened)
        assert [found[label].what for label in ("rear-c", "rear-a")] == ["keep", "keep"]
        assert [found[label].oils[0].enough for label in ("rear-c", "rear-a")] == enough


def test_two_oils_are_wanted_by_the_forecast_alone() -> None:
    """5k was kept on three days at 14 to 16 °C, 10k on three at 26 to 28 °C, by hand: from 19 to 23 °C one oil changes
    by exp[1757.1 (1/302 - 1/306)] = 1.08, less than labels are exact. A forecast of 15 to 27 °C is another matter; and
    an oil kept on fewer days counts only as the last one."""
    thin = [kept_run(f"2026-02-0{day}", 13.0 + day) for day in (1, 2, 3)]
    thick = [kept_run(f"2025-07-0{day}", 25.0 + day, "10k", 10_000.0) for day in (1, 2, 3)]
    asked = AskedFor(5000.0, "5k", (5000.0, 10_000.0), None, "high")
    nothing = MeasuredPast([])
    for low, high, what in ((19.0, 23.0, "unclear"), (15.0, 27.0, "two")):
        found = oil_wished(to_come(low, high), RunsThere("rear", [*thin, *thick]), nothing, asked)
        assert found.wanted is not None
        assert (found.wanted.what, found.wanted.oils_cst) == (what, (5000.0, 10_000.0))
    few = oil_wished(to_come(15.0, 27.0), RunsThere("rear", [*thin, *thick[:2]]), nothing, asked)
    assert few.needed_high is not None
    assert few.needed_high.cst == pytest.approx(law(5000, 16, 27))
    changed = [{**row, "call": "change", "run": f"{row['run']}/2"} for row in thin]
    doubt = oil_wished(to_come(14.0, 16.0), RunsThere("rear", [*thin, *changed]), nothing, asked)
    assert doubt.wanted is not None
    assert doubt.wanted.what == "unclear"
    assert doubt.reasons[0].endswith("but 5k (5,000 cSt) was kept and changed on 3 days when it was like that")


def test_where_the_interval_leaves_it_open_the_temperature_that_decides_is_said() -> None:
    """No database: 5k was kept at 26 °C in the diff, 30 °C are expected at 20 °C in the air, from days that scatter by
    2 °C. By hand: 6k is over 10 points nearer from n with (1 - 5000/n) - (6000/n - 1) = 2 - 11,000/n > 0.10 on, that is
    5,789 cSt: 1757.1 / (1757.1 / 299.15 - ln(5789/5000)) = 306.8 K, 34 °C. Kept at 22 °C, with no other oil at hand,
    28 and 30 °C take 5,630 and 5,851 cSt, 5,739 in the middle."""
    there = RunsThere("rear", [kept_run("2026-02-21", 16.0)])
    days = [
        {"air_temp_c": air, "track_temp_c": None, "diff_temp_c": air + 10.0 + off, "day": f"{air}", "position": "rear"}
        for air, off in zip(range(4, 32, 2), (2.0, -2.0) * 7, strict=True)
    ]
    event = to_come(18.0, 20.0)
    asked = AskedFor(5000.0, "5k", (5000.0, 6000.0), None, "high")
    found = oil_wished(event, there, MeasuredPast(days, "rear"), asked)
    assert found.wanted is not None
    assert (found.wanted.what, found.wanted.oils_cst, found.wanted.or_cst) == ("unclear", (5000.0,), (6000.0,))
    assert found.settle == ("measure the diff in the first run: from 34 °C 6,000 cSt is nearer than 5k",)
    hotter = RunsThere("rear", [kept_run("2026-02-21", 16.0, diff_temp_c=22.0)])
    alone = oil_wished(event, hotter, MeasuredPast(days, "rear"), asked._replace(at_hand_cst=(5000.0,)))
    assert alone.wanted is not None
    assert alone.wanted.what == "unclear"
    assert alone.settle == ("write down the oils at hand, or get an oil near 5,700 cSt",)


def test_two_cars_that_share_a_diff_may_want_different_oils(garage: Garage) -> None:
    """Blue kept 5k as red did, and later 10k in the same weather: the one diff that both drive cannot have both."""
    blue = garage.car("blue")
    garage.measured(garage.cold, "2026-02-25", 14.0, car=blue)
    assert garage.oils(12.0, 16.0)["rear-a"].what == "keep"
    thick = garage.fresh("rear-y", car=None, fluid=garage.thick, built_on="2026-01-01")
    for day in ("2026-02-27", "2026-02-28"):
        garage.measured(thick, day, 14.0, car=blue)
    garage.measured(garage.cold, "2026-03-10", 14.0, car=blue, call=None)
    apart = garage.oils(12.0, 16.0)["rear-a"]
    assert apart.what == "unclear"
    assert apart.reasons[0] == "blue wants 10,000 cSt; red wants 5,000 cSt"
    spare = garage.oils(12.0, 16.0)["rear-y"]
    assert (spare.what, spare.reasons[0][:28]) == ("keep", "for blue: 10k (10,000 cSt) t")
    no_grip = garage.oils(12.0, 16.0, grip=None)["rear-a"]
    assert (no_grip.what, no_grip.reasons[0]) == (apart.what, apart.reasons[0])
    for day in ("2026-03-01", "2026-03-02"):
        for car in (blue, garage.car("red")):
            garage.measured(thick, day, 14.0, car=car, grip="low", label=f"{day}/{car}")
    either = garage.oils(12.0, 16.0, grip=None)["rear-a"]
    assert either.what == "unclear"
    assert "red on high grip wants 5,000 cSt; red on low grip wants 10,000 cSt" in either.reasons[0]
    assert either.settle[0] == "write down what grip is expected"


def test_it_counts_days_as_the_oil_choice_does(garage: Garage) -> None:
    """The same past given to the calculator by hand: the same oil days, runs and words."""
    with garage.for_now():
        garage.measured(garage.cold, "2026-02-26", 15.0, call="change", track_temp_c=20.0)
        garage.connection.execute("UPDATE runs SET track_temp_c = air_temp_c + 5")
        event = garage.event(track_low_c=20.0, track_high_c=20.0, grip="high")
        renew_touched(garage.connection)
        there = OilRuns(garage.connection).at("rear", "carpet")
        (near,) = there.near(event_to_come(garage.connection, event), "high", "track")
    past = tuple(
        PastRun(
            grip="high",
            temperature_c=air + 5.0,
            viscosity_cst=5000.0,
            call=call,
            day=day,
            diff="rear-a",
            position="rear",
            surface="carpet",
        )
        for day, air, call in [
            *((f"2026-02-{1 + 5 * place:02}", air, "keep") for place, air in enumerate(COLD)),
            ("2026-02-26", 15.0, "change"),
        ]
    )
    given = ChoiceGiven(grip="high", temperature_c=20.0, position="rear", surface="carpet", past=past)
    found = choose(given)
    assert (near.record.oil_days, near.record.runs) == (found.n, found.n_runs) == (6, 6.0)
    assert near.record.words in " ".join(judge_choice(given, found).reasons)


def test_the_order_of_records_and_runs_without_a_call_change_nothing(
    quick: Add, connection: sqlite3.Connection
) -> None:
    """Order: the same team written in another one says the same. A run without a call, laps or grip neither adds a day
    nor makes anything lighter."""
    said = []
    for seed in (1, 2):
        connection.execute("SAVEPOINT team")
        garage = Garage(quick, connection, shuffled=random.Random(seed))
        for low, high in ((12.0, 16.0), (30.0, 32.0), (12.0, 34.0)):
            said.append([one._replace(oils=()) for one in garage.oils(low, high).values()])
        if seed == 2:
            for day in ("2026-02-28", "2026-03-01"):
                run = quick("run", label=f"{day}/1", run_on=day, car=garage.car(), venue=garage.venue, air_temp_c=50.0)
                quick("run_diff", run=run, build=garage.cold, position="rear")
            for low, high in ((12.0, 16.0), (30.0, 32.0), (12.0, 34.0)):
                said.append([one._replace(oils=()) for one in garage.oils(low, high).values()])
        renew_touched(connection)
        connection.execute("ROLLBACK TO team")
        connection.execute("RELEASE team")
    assert said[0:3] == said[3:6] == said[6:9]


def test_a_forecast_across_two_oils_without_measured_days_is_not_more_certain_than_that(
    connection: sqlite3.Connection, quick: Add
) -> None:
    """No diff was measured: the air alone, 8 °C off either way. By hand: 10,000 at 35 °C is what 36 ± 8 °C needs."""
    team = TEAMS["forecast across two oils"](quick)
    renew_touched(connection)
    event = event_to_come(connection, team.event)
    found = oils_for(connection, event, diffs_in_place(connection, event.cars).diffs)[team.diffs["rear-a"]]
    assert (found.what, [oil.fluid for oil in found.oils]) == ("unclear", [team.more["thin"]])
    assert (found.from_cst, found.to_cst) == pytest.approx((law(5000, 15, 6), law(10_000, 35, 44)))
    assert any(
        reason.startswith("from the air alone: same rise assumed, 8 °C off either way") for reason in found.reasons
    )
