"""What a build lost, judged by the limits of its diff, on the mass basis used for it: the worst, else the newest."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from operator import itemgetter
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.facts.impossible import impossible_left_out
from bevelbook.facts.limits import OwnLimits, TeamLimits
from bevelbook.facts.masses import OF_A_BUILD, ORDER, Mass, comparable, weighed_masses_sql, without_runs
from bevelbook.facts.once import kept_meanwhile
from bevelbook.facts.runs import RECORDS, RunsFrom
from bevelbook.formulas.disagreeing import Disagreement, disagreements
from bevelbook.formulas.housing_moisture import Housing
from bevelbook.formulas.leak import LeakFound, LeakGiven, LeakWeighing, advice_on_water, judge_leak, leak
from bevelbook.formulas.leak_rate import RunsToLimit
from bevelbook.formulas.odd_weighing import counting_points
from bevelbook.formulas.oil_limits import LossLimits, loss_limits
from bevelbook.formulas.oil_lost import (
    Loss,
    is_more_than_went_in,
    is_only_contradicted,
    loss_of,
    loss_without_runs,
    merged_points,
)
from bevelbook.formulas.readings import Point, Reading, readings_of
from bevelbook.formulas.readings_with_water import sisters_of_the_day_g, with_water
from bevelbook.formulas.runs_to_stop import is_foreseen, runs_to_stop
from bevelbook.physics.weighing import ScaleNoise, scale_noise
from bevelbook.plugin.returned_values import Judgement

USUAL_SCALE: Final = ScaleNoise()
BETWEEN_DISAGREEMENTS: Final = "; "
_GRAVE: Final = ("caution", "stop")


class WeighedBuild(NamedTuple):
    """A build with its masses on the basis used for it: at least two, with runs between them.

    Masses without runs between them are used only if there is no other basis and the scale does not explain them.
    """

    build: str
    diff: str
    oil_in_g: float | None
    own: OwnLimits
    limits: LossLimits
    masses: tuple[Mass, ...]
    scales: tuple[ScaleNoise, ...]
    housing: Housing
    readings: list[Reading]
    """Its masses as inputs of the formulas, less the water that a sister housing shows."""

    def disagreeing(self) -> list[Disagreement]:
        """Where weighings after the same runs disagree, settled or not."""
        return disagreements(self.readings)

    def apart_in_words(self, loss: Loss | None = None) -> str | None:
        """Weighings that contradict each other and are not settled yet; None if there are none. ``loss`` is its own, if
        it is at hand."""
        words = [one.words for one in self.disagreeing() if not one.counting]
        contradicted = (loss or self.loss()).contradiction
        if contradicted is not None and not contradicted.is_settled:
            words.append(contradicted.words)
        return BETWEEN_DISAGREEMENTS.join(words) or None

    def counting(self) -> Sequence[Point]:
        """What counts of its masses, in the order of runs."""
        return counting_points(merged_points(self.readings))[0]

    def loss(self) -> Loss:
        """What it lost, judged. If more is missing than went in, the masses cannot be compared: unclear."""
        points = merged_points(self.readings)
        without = loss_without_runs(self.readings, self.limits) if len(points) < 2 else None
        found = without or loss_of(points, self.limits)
        if is_more_than_went_in(found, self.oil_in_g):
            first = found.first_runs
            return found._replace(verdict="unclear", good_until_runs=first, bad_from_runs=None, is_sure=False)
        return found

    def runs_to_stop(self, loss: Loss | None = None) -> RunsToLimit | None:
        """Runs since the build at which the stop limit is lost if it goes on like this. ``loss`` is its own, if it is
        at hand."""
        is_checked = None not in [one.repeatability_g for one in self.scales]
        lost, stop_g = loss or self.loss(), self.limits.stop_g
        if stop_g is None or not is_foreseen(lost, self.limits, self.oil_in_g, is_scale_checked=is_checked):
            return None
        return runs_to_stop(self.counting(), lost, stop_g)

    def given(self) -> LeakGiven:
        """The same as the inputs of the whole formula, which also looks for a trend and a date."""
        return LeakGiven(
            weighings=tuple(
                LeakWeighing(
                    runs=one.runs or 0.0,
                    mass_g=one.mass_g,
                    scale_step_g=scale.step_g,
                    repeatability_g=scale.repeatability_g,
                    day=one.day,
                    day_to_day_g=scale.day_to_day_g,
                    sister_mass_g=one.sister_mass_g,
                )
                for one, scale in zip(self.masses, self.scales, strict=True)
            ),
            scale_step_g=min(one.step_g for one in self.scales),
            repeatability_g=_largest_known(one.repeatability_g for one in self.scales),
            oil_mass_g=self.oil_in_g,
            stop_share=self.own.loss_share,
            stop_loss_g=self.own.loss_g,
            housing_material=self.housing.material,
            housing_mass_g=self.housing.mass_g,
        )


def _largest_known(repeatabilities: Iterable[float | None]) -> float | None:
    """The largest; None if one of them is not known."""
    known = list(repeatabilities)
    return None if None in known else max(one for one in known if one is not None)


def _readings(masses: Sequence[Mass], scales: Sequence[ScaleNoise], housing: Housing) -> list[Reading]:
    readings = readings_of(
        [(one.runs or 0.0, one.mass_g, scale, one.day) for one, scale in zip(masses, scales, strict=True)]
    )
    sisters_g = sisters_of_the_day_g(readings, [one.sister_mass_g for one in masses])
    return with_water(readings, [one.day for one in masses], sisters_g, housing)


class Leak(NamedTuple):
    """Everything the weighings of a build say, in numbers and in words. ``refused``: why they cannot be compared."""

    weighed: WeighedBuild
    loss: Loss
    given: LeakGiven
    found: LeakFound | None
    judgement: Judgement
    refused: InputError | None = None

    @property
    def is_without_runs(self) -> bool:
        """Whether there is no run between its masses."""
        return self.weighed.masses[0].runs == self.weighed.masses[-1].runs

    @property
    def is_wet(self) -> bool:
        """Whether water in the housing is part of the uncertainty, so that it is not the scale alone that sees no
        less."""
        return advice_on_water(self.given) is not None

    @property
    def is_unclear_by_weighings(self) -> bool:
        """Whether it is unclear for no other reason than that a weighing is contradicted by the others."""
        return is_only_contradicted(self.loss, self.weighed.limits)

    @property
    def is_unclear_without_runs(self) -> bool:
        """Whether all its masses were taken after the same runs, disagree, and are not settled."""
        is_open = self.is_without_runs and self.loss.verdict == "unclear"
        return is_open and any(not one.counting for one in self.weighed.disagreeing())


def leaks_of(connection: sqlite3.Connection, builds: Iterable[str]) -> dict[str, Leak]:
    """Everything the weighings say of some builds (by id) that were weighed twice on one basis."""
    kept: dict[str, Leak | None] = kept_meanwhile(connection, "leaks")
    wanted = dict.fromkeys(builds)
    asked = [one for one in wanted if one not in kept]
    if asked:
        kept |= dict.fromkeys(asked)
        kept |= _worked_out(connection, asked)
    return {one: leak for one in sorted(wanted) if (leak := kept[one]) is not None}


def _worked_out(connection: sqlite3.Connection, builds: Sequence[str]) -> dict[str, Leak]:
    from json import dumps

    listed = "(SELECT value AS build FROM json_each(:builds))"
    with impossible_left_out(connection):
        found = list(weighed_builds(connection, listed, {"builds": dumps(builds)}))
    in_use = {
        row[0]
        for row in connection.execute(
            "SELECT s.current_build FROM json_each(?) t CROSS JOIN build_facts k ON k.build = t.value "
            "CROSS JOIN diff_facts s ON s.diff = k.diff WHERE s.current_build = k.build AND k.opened_on IS NULL",
            (dumps([one.build for one in found]),),
        )
    }
    return {one.build: _leak(one, one.build in in_use) for one in found}


def _leak(weighed: WeighedBuild, in_use: bool) -> Leak:
    given, loss = weighed.given(), weighed.loss()
    try:
        found = leak(given)
    except InputError as fault:
        return Leak(weighed, loss, given, None, Judgement("unclear", (fault.what,)), fault)
    return Leak(weighed, loss, given, found, judge_leak(given, found, in_use=in_use))


def weighed_builds(
    connection: sqlite3.Connection,
    builds: str | None = None,
    bound: dict[str, Any] | None = None,
    runs: RunsFrom = RECORDS,
) -> Iterator[WeighedBuild]:
    """The builds that were weighed twice on one basis, in the order of their ids.

    ``builds`` is a table or subquery with the column ``build``, None for all builds; ``runs`` is where their runs are
    read. Only builds with a weighing, or a mass before opening, are looked at: all others cost nothing.
    """
    # Asked first: to compile what brings the masses together takes far longer, and most writing is of no weighed build.
    any_mass = connection.execute(f"SELECT 1 FROM ({_that_have_masses(builds, 'UNION ALL')}) LIMIT 1", bound or {})
    if any_mass.fetchone() is None:
        return
    limits = TeamLimits(connection)
    scales = {
        row[0]: scale_noise(row[1], row[2], row[3])
        for row in connection.execute("SELECT id, step_g, repeatability_g, day_to_day_g FROM scales")
    }
    housings: dict[str, Housing] = {}

    def scales_of(masses: Sequence[Mass]) -> tuple[ScaleNoise, ...]:
        return tuple([scales.get(one.scale or "", USUAL_SCALE) for one in masses])

    cursor = connection.cursor()
    cursor.row_factory = None
    cursor.execute(
        f"WITH weighed AS MATERIALIZED ({_weighed(builds)}) SELECT * FROM ({weighed_masses_sql('weighed', runs)}) "
        f"ORDER BY {ORDER}",
        bound or {},
    )
    for build, same in groupby(cursor, key=itemgetter(0)):
        of_build = list(map(Mass._make, same))
        diff = of_build[0].diff
        if diff not in housings:
            housings[diff] = _housing_of(connection, diff)
        housing = housings[diff]
        series = comparable(of_build) or [
            masses for masses in without_runs(of_build) if disagreements(_readings(masses, scales_of(masses), housing))
        ]
        if not series:
            continue
        first = series[0][0]
        own = limits.of(diff)
        oil_in_g = first.oil_in_g if first.oil_in_g is not None and first.oil_in_g > 0.0 else None
        allowed = loss_limits(oil_in_g, own.loss_g, own.loss_share)
        weighed = [
            WeighedBuild(
                build,
                diff,
                oil_in_g,
                own,
                allowed,
                tuple(masses),
                on := scales_of(masses),
                housing,
                _readings(masses, on, housing),
            )
            for masses in series
        ]
        yield weighed[0] if len(weighed) == 1 else max(weighed, key=_gravity)


def _housing_of(connection: sqlite3.Connection, diff: str) -> Housing:
    row = connection.execute("SELECT housing_material, housing_mass_g FROM diffs WHERE id = ?", (diff,)).fetchone()
    return Housing(row[0], row[1]) if row else Housing()


def _gravity(weighed: WeighedBuild) -> int:
    """How bad the loss on a basis is: lost oil does not come back because something else was weighed since."""
    return _GRAVE.index(verdict) if (verdict := weighed.loss().verdict) in _GRAVE else -1


def _weighed(builds: str | None) -> str:
    """The builds that may have been weighed twice, once each, with the columns that their masses need."""
    columns = ", ".join(f"b.{column}" for column in OF_A_BUILD.split(", "))
    return f"SELECT {columns} FROM ({_that_have_masses(builds)}) t CROSS JOIN builds b ON b.id = t.build"


def _that_have_masses(builds: str | None, union: str = "UNION") -> str:
    if builds is None:
        return f"SELECT build FROM weighings {union} SELECT build FROM openings WHERE closed_mass_g IS NOT NULL"
    return (
        f"SELECT w.build FROM {builds} t CROSS JOIN weighings w ON w.build = t.build {union} "
        f"SELECT o.build FROM {builds} t CROSS JOIN openings o ON o.build = t.build AND o.closed_mass_g IS NOT NULL"
    )
