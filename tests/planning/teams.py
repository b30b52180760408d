"""Twelve constructed teams before an event, each with what is due for its diffs, worked out by hand.

All data are constructed. Each diff holds 1.86 g of oil and weighs 22.40 g closed, so that our own limits are 0.093 g
and 0.186 g lost. Readings are of a scale of 0.01 g that scatters by 0.005 g and shifts by nothing from day to day: a
reading has the standard uncertainty sqrt(0.01² / 12 + 0.005²) = 0.00577 g (JCGM 100:2008, F.2.2.1), a loss sqrt 2 times
that, and k = 2: 0.0163 g.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from constructed import Add

FULL_G: Final = 22.40
OIL_G: Final = 1.86
FIRST_DAY: Final = "2026-06-13"
EVENT: Final = "spring race"
_NOTHING: Final[Mapping[str, str]] = MappingProxyType({})


class TeamToGo(NamedTuple):
    """A team with an event to come. Ids by label or name, the runs planned and what is due by the diff's label.

    ``runs_planned`` are those of the event for each diff that goes (a spare goes with none), the runs of two cars that
    share one summed. ``more`` are ids of further records, each by what it is.
    """

    event: str
    diffs: Mapping[str, str]
    cars: Mapping[str, str]
    runs_planned: Mapping[str, float | None]
    due: Mapping[str, str]
    more: Mapping[str, str] = _NOTHING

    @property
    def planned_by_diff(self) -> dict[str, float | None]:
        """The runs planned by the diff's id."""
        return {self.diffs[label]: runs for label, runs in self.runs_planned.items()}


class Yard:
    """Builds a team record by record: diffs that sit in cars, runs, weighings, and the event."""

    def __init__(self, add: Add) -> None:
        self.add = add
        self.scale = add("scale", name="bench scale", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0)
        self.venue = add("venue", name="Tannery Hall", surface="carpet", indoor="yes")
        self.oil = add("fluid", label="7k", viscosity_cst=7000.0, viscosity_source="own label")
        self.cars: dict[str, str] = {}
        self.diffs: dict[str, str] = {}
        self._builds: dict[str, int] = {}

    def car(self, name: str = "red") -> str:
        """A car by its name, made the first time."""
        return self.cars.setdefault(name, self.cars.get(name) or self.add("car", name=name))

    def diff(self, label: str, *, car: str | None = "red", position: str | None = None, **values: Any) -> str:
        """A diff, in a car unless it is a spare; where it sits is the first word of its label if not said."""
        where = position or label.partition("-")[0]
        made = self.add("diff", label=label, usual_position=where, housing_material="aluminium", **values)
        self.diffs[label] = made
        if car is not None:
            self.add("car_diff", car=self.car(car), position=where, diff=made, from_on="2026-01-01")
        return made

    def build(self, label: str, **values: Any) -> str:
        """A build of the diff as it should be: full, weighed closed, turning smoothly."""
        number = self._builds[label] = self._builds.get(label, 0) + 1
        standard = {
            "label": f"{label}/{number}",
            "diff": self.diffs[label],
            "built_on": f"2026-01-{number:02}",
            "fluid": self.oil,
            "oil_mass_g": OIL_G,
            "closed_mass_g": FULL_G,
            "scale": self.scale,
            "hand_feel": "smooth",
        }
        return self.add("build", **{**standard, **values})

    def fresh(self, label: str, *, car: str | None = "red", **values: Any) -> str:
        """A diff and its one build, as it should be."""
        self.diff(label, car=car)
        return self.build(label, **values)

    def run(self, build: str, day: str, runs: float = 1.0, *, car: str = "red", at: str = "rear", **values: Any) -> str:
        """Some runs of a build in a car, as one row."""
        said = {"label": f"{day}/{car} {at} {build}", "run_on": day, "runs": runs, "car": self.car(car), "call": "keep"}
        row = self.add("run", **{**said, **values})
        self.add("run_diff", run=row, build=build, position=at)
        return row

    def weigh(self, build: str, runs: float, mass_g: float, **values: Any) -> str:
        """A closed build on the scale after so many runs."""
        said = {"runs": runs, "mass_g": mass_g, "mass_basis": "closed", "scale": self.scale}
        return self.add("weighing", build=build, **{**said, **values})

    def ran(self, label: str, runs: float, mass_g: float = FULL_G, *, car: str | None = "red", **values: Any) -> str:
        """A diff built once, run so often on one day and weighed after it."""
        build = self.fresh(label, car=car, **values)
        self.run(build, "2026-03-01", runs, car=car or "red", at=label.partition("-")[0])
        self.weigh(build, runs, mass_g, weighed_on="2026-03-02")
        return build

    def event(
        self, runs: float | None = 6.0, *, each: Mapping[str, float] = MappingProxyType({}), **values: Any
    ) -> str:
        """The event to come for all cars: so many runs for each, or those in ``each`` by the car's name."""
        said = {"name": EVENT, "first_on": FIRST_DAY, "venue": self.venue, "runs_per_car": runs}
        made = self.add("event", **{**said, **values})
        for name, car in self.cars.items():
            self.add("event_car", event=made, car=car, runs=each.get(name))
        return made

    def ready(
        self, event: str, runs_planned: Mapping[str, float | None], due: Mapping[str, str], **more: str
    ) -> TeamToGo:
        """The team as it stands."""
        return TeamToGo(event, dict(self.diffs), dict(self.cars), runs_planned, due, more)


def nothing_known(add: Add) -> TeamToGo:
    """Of the rear diff only that it was built, of the front one not even that; an event without venue or weather."""
    yard = Yard(add)
    yard.diff("rear-a")
    add("build", label="rear-a/1", diff=yard.diffs["rear-a"], built_on="2026-01-01")
    yard.diff("front-a")
    event = yard.event(None, venue=None, first_on=None)
    return yard.ready(event, {"rear-a": None, "front-a": None}, {"rear-a": "unclear", "front-a": "rebuild"})


def all_fresh(add: Add) -> TeamToGo:
    """Both diffs of the car closed and weighed, not run yet."""
    yard = Yard(add)
    for label in ("rear-a", "front-a"):
        yard.fresh(label)
    return yard.ready(yard.event(), {"rear-a": 6.0, "front-a": 6.0}, {"rear-a": "leave it", "front-a": "leave it"})


def a_leak(add: Add) -> TeamToGo:
    """Losses of 0.35, 0.00, 0.12 and 0.06 g after 4, 4, 6 and 6 runs; 6 runs are planned, for blue 12.

    - rear-a lost 0.35 g, over 0.186 g: rebuild; front-a nothing: leave it.
    - rear-b 0.02 g per run, 0.066 g are left: 3.3 runs, at most (0.066 + 0.0163) / (0.02 - 0.0163 / 6) = 4.8: fewer
      than 12, so the limit is reached for certain: rebuild.
    - front-b 0.01 g per run, 0.126 g are left: 12.6 runs, at least (0.126 - 0.0163) / (0.01 + 0.0163 / 6) = 8.6, at
      most (0.126 + 0.0163) / (0.01 - 0.0163 / 6) = 19.5: 12 lies between, so it is unclear.
    """
    yard = Yard(add)
    yard.ran("rear-a", 4.0, 22.05)
    yard.ran("front-a", 4.0)
    yard.ran("rear-b", 6.0, 22.28, car="blue")
    yard.ran("front-b", 6.0, 22.34, car="blue")
    event = yard.event(each={"blue": 12.0})
    return yard.ready(
        event,
        {"rear-a": 6.0, "front-a": 6.0, "rear-b": 12.0, "front-b": 12.0},
        {"rear-a": "rebuild", "front-a": "leave it", "rear-b": "rebuild", "front-b": "unclear"},
    )


def seals_at_their_last_use(add: Add) -> TeamToGo:
    """Seals may be closed in 3 times, and a diff is opened every 10 runs; each ran 8, and 6 are planned: 14.

    The seals of rear-a are closed in for the third time: it is opened, so it gets new ones: rebuild. Those of rear-b
    for the first: change the oil. Those of front-a for the third, but its own limit is 20 runs: leave it.
    """
    yard = Yard(add)
    add("limit", kind="runs between openings", value=10.0)
    add("limit", kind="seal uses", value=3.0)
    seal = add("seal", label="shaft ring")
    for label, uses, car in (("rear-a", 3, "red"), ("front-a", 3, "red"), ("rear-b", 1, "blue")):
        yard.diff(label, car=car)
        for use in range(1, uses + 1):
            build = yard.build(label)
            condition = "new" if use == 1 else "used"
            add("seal_fitting", build=build, place="lid-side shaft", seal=seal, condition=condition)
            if use < uses:
                yard.add("opening", build=build, opened_on=f"2026-01-{use:02}", reason="routine", seals="ok")
        yard.run(build, "2026-03-01", 8.0, car=car, at=label.partition("-")[0])
        yard.weigh(build, 8.0, FULL_G)
    add("limit", kind="runs between openings", value=20.0, diff=yard.diffs["front-a"])
    return yard.ready(
        yard.event(),
        {"rear-a": 6.0, "front-a": 6.0, "rear-b": 6.0},
        {"rear-a": "rebuild", "front-a": "leave it", "rear-b": "change the oil"},
        seal=seal,
    )


def forecast_across_two_oils(add: Add) -> TeamToGo:
    """On three cold days (15 °C) 5k was kept, on three warm ones (35 °C) 10k; 14 to 36 °C are expected, and 5k is in.

    Nothing is due: it was weighed after its runs, and lost nothing.
    """
    yard = Yard(add)
    thin, thick = (
        add("fluid", label=label, viscosity_cst=cst, viscosity_source="own label")
        for label, cst in (("5k", 5000.0), ("10k", 10000.0))
    )
    yard.diff("rear-a")
    warm = yard.build("rear-a", fluid=thick, built_on="2025-06-01")
    for day in ("2025-07-05", "2025-07-12", "2025-07-19"):
        yard.run(warm, day, 2.0, venue=yard.venue, grip="high", air_temp_c=35.0, track_temp_c=36.0)
    add("opening", build=warm, opened_on="2025-08-01", reason="oil change")
    cold = yard.build("rear-a", fluid=thin, built_on="2026-01-10")
    for day in ("2026-02-07", "2026-02-14", "2026-02-21"):
        yard.run(cold, day, 2.0, venue=yard.venue, grip="high", air_temp_c=15.0, track_temp_c=16.0)
    yard.weigh(cold, 6.0, FULL_G)
    event = yard.event(grip="high", air_low_c=14.0, air_high_c=36.0, track_low_c=15.0, track_high_c=37.0)
    return yard.ready(event, {"rear-a": 6.0}, {"rear-a": "leave it"}, thin=thin, thick=thick, warm=warm, cold=cold)


def a_bottle_with_too_little(add: Add) -> TeamToGo:
    """The limit of 8 runs is reached, so 1.86 g of 7k are wanted; the bottle has 41.0 - 40.0 = 1.0 g."""
    yard = Yard(add)
    add("limit", kind="runs between openings", value=8.0)
    bottle = add("bottle", fluid=yard.oil, lot="A", full_mass_g=90.0, empty_mass_g=40.0)
    yard.ran("rear-a", 8.0, bottle=bottle)
    check = add("bottle_check", bottle=bottle, checked_on="2026-03-03", mass_g=41.0)
    return yard.ready(
        yard.event(air_low_c=18.0, air_high_c=22.0),
        {"rear-a": 6.0},
        {"rear-a": "change the oil"},
        bottle=bottle,
        check=check,
    )


def no_stock_kept(add: Add) -> TeamToGo:
    """A diff that turned notchy is rebuilt; nothing was ever counted, so nothing is known to be short."""
    yard = Yard(add)
    yard.ran("rear-a", 4.0, hand_feel="notchy")
    yard.fresh("front-a")
    return yard.ready(yard.event(), {"rear-a": 6.0, "front-a": 6.0}, {"rear-a": "rebuild", "front-a": "leave it"})


def two_cars_sharing_a_diff(add: Add) -> TeamToGo:
    """Red has it by the record, blue ran it last: 5 and 6 runs are planned, 8 of its 10 are left. For one car that
    would do, for both it does not: change the oil."""
    yard = Yard(add)
    add("limit", kind="runs between openings", value=10.0)
    build = yard.fresh("rear-a")
    yard.car("blue")
    yard.run(build, "2026-03-01", 2.0, car="blue")
    yard.weigh(build, 2.0, FULL_G)
    return yard.ready(yard.event(each={"red": 5.0, "blue": 6.0}), {"rear-a": 11.0}, {"rear-a": "change the oil"})


def an_open_diff(add: Add) -> TeamToGo:
    """rear-a was opened and not built since, front-a lies on the bench, rear-b was given up there: each is rebuilt."""
    yard = Yard(add)
    add("opening", build=yard.ran("rear-a", 4.0), opened_on="2026-03-08", reason="routine")
    opened = yard.ran("front-a", 4.0)
    add("opening", build=opened, opened_on="2026-03-08", reason="routine")
    job = {"kind": "rebuild", "way": "step by step"}
    add("bench_job", diff=yard.diffs["front-a"], ends=opened, begun_at="2026-03-08T09:00:00.000Z", **job)
    half = yard.fresh("rear-b", car="blue", closed_mass_g=None)
    add(
        "bench_job",
        diff=yard.diffs["rear-b"],
        build=half,
        begun_at="2026-03-08T10:00:00.000Z",
        given_up="a screw stripped",
        **job,
    )
    planned = {"rear-a": 6.0, "front-a": 6.0, "rear-b": 6.0}
    return yard.ready(yard.event(), planned, dict.fromkeys(planned, "rebuild"))


def a_limit_per_diff(add: Add) -> TeamToGo:
    """All diffs are opened every 20 runs, rear-a every 8; both ran 6, and 6 are planned: 12 are over 8 and under 20."""
    yard = Yard(add)
    add("limit", kind="runs between openings", value=20.0)
    for label in ("rear-a", "front-a"):
        yard.ran(label, 6.0)
    add("limit", kind="runs between openings", value=8.0, diff=yard.diffs["rear-a"])
    return yard.ready(
        yard.event(), {"rear-a": 6.0, "front-a": 6.0}, {"rear-a": "change the oil", "front-a": "leave it"}
    )


def a_build_after_the_plan(add: Add) -> TeamToGo:
    """rear-a leaks: rebuild. :func:`rebuilt_since` builds it again: then it is left as it is."""
    yard = Yard(add)
    leaking = yard.ran("rear-a", 4.0, 22.05)
    yard.ran("front-a", 4.0)
    due = {"rear-a": "rebuild", "front-a": "leave it"}
    return yard.ready(
        yard.event(), {"rear-a": 6.0, "front-a": 6.0}, due, leaking=leaking, scale=yard.scale, oil=yard.oil
    )


def rebuilt_since(add: Add, team: TeamToGo, *, day: str = "2026-05-05") -> TeamToGo:
    """The same team once its rear diff was opened and built again."""
    add("opening", build=team.more["leaking"], opened_on=day, reason="leak", leak_place="joint", leak_amount="drops")
    build = add(
        "build",
        label="rear-a/2",
        diff=team.diffs["rear-a"],
        built_on=day,
        kind="rebuild",
        fluid=team.more["oil"],
        oil_mass_g=OIL_G,
        closed_mass_g=FULL_G,
        scale=team.more["scale"],
        hand_feel="smooth",
    )
    return team._replace(due={**team.due, "rear-a": "leave it"}, more={**team.more, "build": build})


def an_event_of_three_days(add: Add) -> TeamToGo:
    """18 runs on three days together: with 4 done that is 22, over the limit of 20, though a day alone would do."""
    yard = Yard(add)
    add("limit", kind="runs between openings", value=20.0)
    yard.ran("rear-a", 4.0)
    event = yard.event(18.0, last_on="2026-06-15")
    return yard.ready(event, {"rear-a": 18.0}, {"rear-a": "change the oil"})


TEAMS: Final[Mapping[str, Callable[[Add], TeamToGo]]] = MappingProxyType(
    {
        "nothing known": nothing_known,
        "all fresh": all_fresh,
        "a leak": a_leak,
        "seals at their last use": seals_at_their_last_use,
        "forecast across two oils": forecast_across_two_oils,
        "a bottle with too little": a_bottle_with_too_little,
        "no stock kept": no_stock_kept,
        "two cars sharing a diff": two_cars_sharing_a_diff,
        "an open diff": an_open_diff,
        "a limit per diff": a_limit_per_diff,
        "a build after the plan": a_build_after_the_plan,
        "an event of three days": an_event_of_three_days,
    }
)
"""Each team by what it is about: a function that writes it, such as ``TEAMS["a leak"](add)``."""
