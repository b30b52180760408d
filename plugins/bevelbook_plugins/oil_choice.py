"""What did we run when it was like this: past runs nearest to today's conditions (``oil-choice``)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, fsum, log
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    ForConditions,
    ForForecast,
    Judgement,
    Named,
    Sentence,
    Source,
    Worked,
    about_inputs,
    choice,
    counted,
    hookimpl,
    items_of,
    listing,
    quantity,
    record,
    refuse,
    text,
    vocabulary,
    which_day,
    whole,
)
from bevelbook.formulas.conditions import (
    GRIP_INDEX,
    GRIP_SCALE,
    REACH,
    TEMPERATURE_SCALE_C,
    condition_distance,
    how_near,
)
from bevelbook.formulas.inputs import doubtful_in_words, was_doubtful
from bevelbook.formulas.left_out import (
    NO_CALL,
    NO_DIFF_TEMPERATURE,
    RunsLeftOut,
    Why,
    counted_by_reason,
    lost_oil,
)
from bevelbook.formulas.oil_blend import BlendFound, BlendGiven, OilPart, blend_between, judge_blend
from bevelbook.formulas.oil_days import (
    DAYS_A_SIDE,
    DECIDED,
    MEETINGS_A_SIDE,
    CalledRun,
    DaysKept,
    OilDay,
    days_kept,
    is_date,
    meetings_kept,
    meetings_of,
    share_kept,
)
from bevelbook.formulas.oils_apart import RunOfOil, RunsOfOil, what_else_differed
from bevelbook.formulas.percent import percent
from bevelbook.formulas.thick_oils import SHEAR_RATES, THICK_OILS, THINNING, thick_oil_cautions
from bevelbook.physics.blending import LOG_BLEND, THINNEST_CST
from bevelbook.physics.viscosity import (
    LABEL_TOLERANCE_SHARE,
    LABELS,
    VISCOSITY_LAW,
    cst_in_words,
    viscosity_25_cst,
    viscosity_at_cst,
)
from bevelbook.stats.proportions import (
    BOSCHLOO,
    NEWCOMBE,
    WILSON,
    chance_of_difference,
    newcombe_interval,
    shrunk_share,
    wilson_interval,
)

TIED: Final = 1e-9
"""Distances this close are equal."""
SAME_OIL_RATIO: Final = 1.25
CHANCE_LIMIT: Final = 0.05
"""A difference that chance alone makes more often than this is not shown as one."""
MOSTLY: Final = 0.5
"""A start rests on days of which more than this share of the calls was keep."""
_WHICH_DAYS: Final = (
    "the days counted are of each oil by itself: those on which a run with it, in conditions near enough, was kept or "
    "changed; a day with both oils counts for both, one with neither call for none"
)
HAD_LOST_OIL: Final = Why("the diff had lost oil by then, or may have")
SHOWN_WITHOUT_CALL: Final = Why(f"{NO_CALL.words}, shown with the remark", NO_CALL.brings_in)
REMARK_SHOWN: Final = 60
"""Letters of a remark that a row shows."""
REMARKS: Final = 3
"""How many remarks are quoted where no run near enough was decided."""
LABEL_AXIS: Final = "label at 25 °C"
DIFF_AXIS: Final = "viscosity at the diff's temperature"
NEAREST: Final = Source(
    "proposal",
    "distance: a step of grip (0.2) counts as much as 5 °C; runs farther than 1 are not used; three nearest kept days, "
    "all that are equally near, weight 1/(1 + distance), mean of log viscosity; under three days a side nothing is "
    "suggested",
)
SHRINKAGE: Final = Source(
    "common practice", "with few groups each share is drawn towards the pooled one by a fixed number of runs"
)


@record
class PastRun:
    grip: str = choice(vocabulary.GRIPS, "Grip then")
    temperature_c: float = quantity(
        "°C", "Temperature then, measured at the same thing as now", minimum=-60, maximum=200
    )
    viscosity_cst: float = quantity("cSt", "Oil at 25 °C", above=0, plausible=(50, 2_000_000))
    call: str | None = choice(vocabulary.CALLS, "What was decided after it", default=None)
    day: str | None = which_day("Its day, a date or a number; without one it counts as a day of its own", default=None)
    diff_temperature_c: float | None = quantity(
        "°C", "Temperature of the diff, where it was measured", default=None, minimum=-60, maximum=200
    )
    position: str | None = choice(vocabulary.POSITIONS, "Where the diff was in the car", default=None)
    surface: str | None = choice(vocabulary.SURFACES, "What the track was made of", default=None)
    doubtful: str = was_doubtful()
    runs_since_opened: float | None = quantity(
        "runs", "Runs of the diff since it was open, before this one", default=None, minimum=0
    )
    place_from: str | None = choice(
        ("run", "usual"), "Whether the run says where the diff was, or it is where it usually runs", default=None
    )
    build: str | None = text("The build", default=None)
    oil_lost_share: float | None = quantity("1", "Share of its oil that the build lost", default=None)
    run: str | None = text("The run", default=None)
    note: str | None = text("The remark", default=None)
    runs: float = quantity("runs", "How many runs are in this note", default=1, minimum=0)
    diff: str | None = text("The diff", default=None)


@record
class OilAtHand:
    viscosity_cst: float = quantity(
        "cSt", "Viscosity at 25 °C of an oil at hand", minimum=THINNEST_CST, plausible=(50, 2_000_000)
    )


@record
class ChoiceGiven:
    grip: str = choice(vocabulary.GRIPS, "Grip now")
    temperature_c: float = quantity(
        "°C", "Temperature now", minimum=-60, maximum=200, plausible=(-20, 120), same_as="forecast.track_temp_c"
    )
    temperature_of: str = choice(
        ("track", "diff"),
        "What the temperature is of, now and then",
        default="track",
        same_as="forecast.temperature_of",
    )
    diff_temperature_c: float | None = quantity(
        "°C",
        "Temperature that the diff will have, where it is known",
        default=None,
        minimum=-60,
        maximum=200,
        same_as="expected.forecast_c",
    )
    air_temperature_c: float | None = quantity(
        "°C",
        "Air now, to expect the temperature of the diff by",
        default=None,
        minimum=-60,
        maximum=70,
        plausible=(-30, 50),
        same_as="forecast.air_temp_c",
    )
    position: str | None = choice(
        vocabulary.POSITIONS, "Where the diff is in the car", default=None, same_as="forecast.position"
    )
    surface: str | None = choice(vocabulary.SURFACES, "What the track is made of", default=None)
    past: tuple[PastRun, ...] = listing(PastRun, "Past runs", singular="past", same_as="listings.past")
    labels: tuple[OilAtHand, ...] = listing(
        OilAtHand, "Oils at hand", default=(), singular="label", same_as="listings.at_hand"
    )
    neighbours: int = whole("How many of the nearest kept days a suggestion uses", default=3, minimum=1, maximum=50)
    prior_days: float = quantity("1", "How many days the pooled share of kept ones counts as", default=4, minimum=0)


@record
class NearRun:
    how_near: str = text("How far from today's conditions")
    distance: float = quantity("1", "From today's conditions; 1 is one step of grip or 5 °C", digits=1, explained=True)
    grip: str = choice(vocabulary.GRIPS, "Grip then")
    temperature_c: float = quantity("°C", "Temperature then")
    viscosity_cst: float = quantity("cSt", "Oil at 25 °C")
    viscosity_in_diff_cst: float | None = quantity(
        "cSt", "The same at the temperature of the diff", default=None, heading="viscosity in the diff"
    )
    call: str | None = choice(vocabulary.CALLS, "What was decided after it", default=None)
    note: str | None = text("The remark, shortened", default=None, heading="remark")
    runs_since_opened: float | None = quantity("runs", "Runs of the diff since it was open", default=None)
    kept: float | None = quantity(
        "1",
        "Days near enough with that oil that were kept; a split day counts by its share",
        default=None,
        digits=1,
        heading="days kept",
        explained=True,
    )
    of: int | None = whole(
        "Days near enough with that oil on which something was decided",
        default=None,
        heading="of days",
        explained=True,
    )
    runs: float | None = quantity("runs", "Decided runs on these days", default=None, explained=True)
    keep_low: float | None = quantity(
        "1",
        "Lower end of the share kept, 95 % on average (Wilson)",
        default=None,
        heading="share from",
        digits=2,
        explained=True,
    )
    keep_high: float | None = quantity(
        "1",
        "Upper end of the share kept",
        default=None,
        heading="to",
        digits=2,
        explained=True,
    )
    keep_shrunk: float | None = quantity(
        "1",
        "Share kept, drawn towards that of all oils, as few days prove little",
        default=None,
        heading="cautious share",
        digits=2,
        explained=True,
    )
    day: str | None = text("Its day", default=None)
    run: str | None = text("The run", default=None)


@record
class ChoiceFound:
    suggested_viscosity_cst: float | None = quantity(
        "cSt",
        "Where to start, at 25 °C, inside what was run and made of what is at hand; none with too few",
        exact=True,
        figures=4,
    )
    n: int = whole(
        "Oil days near enough (one day, diff and oil) with a decided run", heading="oil days", explained=True
    )
    n_runs: float = quantity("runs", "Decided runs on them", heading="decided")
    nearest_distance: float | None = quantity(
        "1",
        "Distance of the nearest run",
        exact=True,
        digits=1,
        explained=True,
    )
    axis: str = choice((LABEL_AXIS, DIFF_AXIS), "What the oils are compared by", heading="compared by")
    thinner_cst: float | None = quantity("cSt", "The thinner of the two oils run most", exact=True)
    thicker_cst: float | None = quantity("cSt", "The thicker of the two", exact=True)
    keep_difference: float | None = quantity(
        "1",
        "Share kept of meetings (days in a row), thicker minus thinner",
        exact=True,
        heading="difference",
        digits=2,
        explained=True,
    )
    keep_difference_low: float | None = quantity(
        "1",
        "Lower end of that, 95 % on average (Newcombe)",
        exact=True,
        heading="difference from",
        digits=2,
        explained=True,
    )
    keep_difference_high: float | None = quantity(
        "1",
        "Upper end of that",
        exact=True,
        heading="difference to",
        digits=2,
        explained=True,
    )
    keep_difference_chance: float | None = quantity(
        "1",
        "How often chance alone makes a difference this large between oils that are kept equally often (Boschloo)",
        exact=True,
        heading="by chance",
        explained=True,
    )
    blend_thinner_cst: float | None = quantity(
        "cSt", "The thinner oil of a blend that makes the start", exact=True, heading="blend of"
    )
    blend_thicker_cst: float | None = quantity("cSt", "The thicker oil of it", exact=True, heading="with")
    blend_thicker_share: float | None = quantity(
        "1", "Share of the thicker one, by mass", exact=True, heading="share of that"
    )
    rows: tuple[NearRun, ...] = listing(NearRun, "The nearest runs")


class RunOnAxis(NamedTuple):
    """A past run with its distance, its day and the viscosity it is compared by."""

    distance: float
    run: PastRun
    axis_cst: float
    day: str

    @property
    def counts(self) -> bool:
        return self.distance <= REACH and self.run.call in DECIDED

    @property
    def of_day(self) -> CalledRun:
        return CalledRun(
            OilDay(self.day, self.run.diff, self.run.viscosity_cst), self.run.call, self.run.runs, self.run.run
        )


class OilSide(NamedTuple):
    """One oil among the runs near enough: what it is compared by, those runs, and how it did by day."""

    viscosity_cst: float
    runs: tuple[RunOnAxis, ...]
    record: DaysKept


class ComparedOil(NamedTuple):
    """An oil that is compared with another: how it did by meeting."""

    side: OilSide
    record: DaysKept

    @property
    def undated(self) -> int:
        """Its runs without a day."""
        return sum(one.run.day is None for one in self.side.runs)

    @property
    def oil_runs(self) -> RunsOfOil:
        runs = [
            RunOfOil(one.day, one.run.temperature_c, one.run.grip, one.run.position, one.run.surface)
            for one in self.side.runs
        ]
        return RunsOfOil(f"{self.side.viscosity_cst:,.0f} cSt", runs)


class KeptDay(NamedTuple):
    """A day on which an oil was mostly kept: the mean distance of its runs and the viscosity they are compared by."""

    distance: float
    axis_cst: float
    day: str


class Start(NamedTuple):
    """Where to start, in cSt at 25 °C, and what makes it: an oil at hand, a blend, or neither where none is given."""

    viscosity_cst: float
    label_cst: float | None = None
    blended: BlendFound | None = None


def weighted_log_mean_cst(near: Sequence[tuple[float, float]]) -> float:
    """Mean of log viscosity over (distance, cSt), weight 1 / (1 + distance), in cSt.

    >>> round(weighted_log_mean_cst([(0.0, 5000.0), (0.0, 20000.0)]))
    10000
    """
    weights = [1.0 / (1.0 + distance) for distance, _ in near]
    return exp(sum(w * log(cst) for w, (_, cst) in zip(weights, near, strict=True)) / sum(weights))


def _diff_temperature_c(given: ChoiceGiven) -> float | None:
    return given.temperature_c if given.temperature_of == "diff" else given.diff_temperature_c


def _temperature_in_diff_c(run: PastRun, given: ChoiceGiven) -> float | None:
    return run.temperature_c if given.temperature_of == "diff" else run.diff_temperature_c


def _matches(run: PastRun, given: ChoiceGiven) -> bool:
    return all(
        wanted is None or had is None or wanted == had
        for wanted, had in ((given.position, run.position), (given.surface, run.surface))
    )


def _viscosity_in_diff_cst(run: PastRun, given: ChoiceGiven) -> float | None:
    at = _temperature_in_diff_c(run, given)
    with about_inputs(temperature_c="past"):
        return None if at is None else viscosity_at_cst(run.viscosity_cst, at)


def _at_one_place(given: ChoiceGiven) -> list[PastRun]:
    """The past runs with the temperature of the same thing as now; those without it are left out."""
    if given.temperature_of == "track" or all(run.diff_temperature_c is None for run in given.past):
        return list(given.past)
    return [
        PastRun(**{**dict(items_of(run)), "temperature_c": run.diff_temperature_c})
        for run in given.past
        if run.diff_temperature_c is not None
    ]


def nearest_runs(given: ChoiceGiven) -> tuple[list[RunOnAxis], str]:
    """The comparable past runs, nearest first, and what their oils are compared by.

    The viscosity in the diff if every decided run near enough has the diff's temperature and today's is known; else the
    label.
    """
    grip = GRIP_INDEX[given.grip]
    by_label = sorted(
        (
            RunOnAxis(
                condition_distance(grip, given.temperature_c, GRIP_INDEX[run.grip], run.temperature_c),
                run,
                run.viscosity_cst,
                run.day or f"without a day, {place}",
            )
            for place, run in enumerate(_at_one_place(given))
            if run.doubtful != "yes" and _matches(run, given)
        ),
        key=lambda one: one.distance,
    )
    counted = [one for one in by_label if one.counts]
    if (
        not counted
        or _diff_temperature_c(given) is None
        or any(_temperature_in_diff_c(one.run, given) is None for one in counted)
    ):
        return by_label, LABEL_AXIS
    return [
        one._replace(axis_cst=_viscosity_in_diff_cst(one.run, given) or one.axis_cst) for one in by_label
    ], DIFF_AXIS


def sides_of(near: Sequence[RunOnAxis], axis: str) -> list[OilSide]:
    """The oils among the decided runs near enough, thin to thick.

    By label each viscosity is a separate oil; by the viscosity in the diff those within a ratio of 1.25 are the same.
    An oil day is never torn apart: its runs are compared by the mean of their log viscosity.
    """
    ratio = SAME_OIL_RATIO if axis == DIFF_AXIS else 1.0
    by_oil_day: dict[OilDay, list[RunOnAxis]] = {}
    for one in near:
        if one.counts:
            by_oil_day.setdefault(one.of_day.oil_day, []).append(one)
    thin_to_thick = sorted(((_axis_mean_cst(runs, axis), runs) for runs in by_oil_day.values()), key=lambda one: one[0])
    groups: list[tuple[float, list[RunOnAxis]]] = []
    for cst, runs in thin_to_thick:
        if groups and cst <= groups[-1][0] * ratio * (1 + 1e-9):
            groups[-1][1].extend(runs)
        else:
            groups.append((cst, list(runs)))
    return [
        OilSide(_axis_mean_cst(runs, axis), tuple(runs), days_kept(one.of_day for one in runs)) for _, runs in groups
    ]


def _axis_mean_cst(runs: Sequence[RunOnAxis], axis: str) -> float:
    if axis == LABEL_AXIS:
        return runs[0].axis_cst
    return weighted_log_mean_cst([(0.0, one.axis_cst) for one in runs])


def choose(given: ChoiceGiven) -> ChoiceFound:
    """Nearest runs; by day the shares kept with Wilson's interval; the two oils of most days compared; perhaps a start.

    A start is named only where two oils were decided on three days each within a distance of 1, and as many days were
    kept as it rests on: the mean of log viscosity of the nearest, weight 1 / (1 + distance), inside the labels that
    were run. It is an oil at hand or a blend of two where it is known what is at hand.
    """
    if not given.past:
        raise refuse(
            given,
            "past",
            "there are no past runs to look at",
            remedy=Sentence("Give ", Named("past"), "."),
            code="missing_input",
        )
    near, axis = nearest_runs(given)
    sides = sides_of(near, axis)
    known = known_sides(sides)
    pair = compared_oils(given, known)
    difference: tuple[float, float, float, float] | None = None
    if pair is not None:
        thinner, thicker = (one.record for one in pair)
        counts = (thicker.kept, thicker.days, thinner.kept, thinner.days)
        between = thicker.kept / thicker.days - thinner.kept / thinner.days
        difference = (between, *newcombe_interval(*counts), chance_of_difference(*counts))
    start = _start(given, known, axis)
    used = () if start is None or start.blended is None else start.blended.used
    return ChoiceFound(
        suggested_viscosity_cst=None if start is None else start.viscosity_cst,
        n=sum(side.record.oil_days for side in sides),
        n_runs=fsum(side.record.runs for side in sides),
        nearest_distance=near[0].distance if near else None,
        axis=axis,
        thinner_cst=None if pair is None else pair[0].side.viscosity_cst,
        thicker_cst=None if pair is None else pair[1].side.viscosity_cst,
        keep_difference=None if difference is None else difference[0],
        keep_difference_low=None if difference is None else difference[1],
        keep_difference_high=None if difference is None else difference[2],
        keep_difference_chance=None if difference is None else difference[3],
        blend_thinner_cst=used[0].viscosity_cst if used else None,
        blend_thicker_cst=used[1].viscosity_cst if used else None,
        blend_thicker_share=used[1].mass_fraction if used else None,
        rows=_rows(given, near, sides, axis),
    )


def known_sides(sides: Sequence[OilSide]) -> list[OilSide]:
    """The oils that were decided on days enough."""
    return [side for side in sides if side.record.enough]


def compared_oils(given: ChoiceGiven, known: Sequence[OilSide]) -> tuple[ComparedOil, ComparedOil] | None:
    """The two oils of most meetings, thinner first; None where no two have enough."""
    meetings = meetings_of(run.day for run in given.past if run.day is not None)
    found = [ComparedOil(side, meetings_kept((one.of_day for one in side.runs), meetings)) for side in known]
    enough = [one for one in found if one.record.days >= MEETINGS_A_SIDE]
    if len(enough) < 2:
        return None
    thinner, thicker = sorted(
        sorted(enough, key=lambda one: -one.record.days)[:2], key=lambda one: one.side.viscosity_cst
    )
    return thinner, thicker


def what_else(given: ChoiceGiven, pair: tuple[ComparedOil, ComparedOil]) -> list[str]:
    """What was different beside the oil, so that it may be what made the difference; in words."""
    return list(what_else_differed(pair[0].oil_runs, pair[1].oil_runs, of_diff=given.temperature_of == "diff"))


def kept_days(given: ChoiceGiven, known: Sequence[OilSide]) -> list[KeptDay]:
    """The nearest kept days of the oils that ran on days enough, and all that are as near as the last of them."""
    found = []
    for side in known:
        by_day: dict[str, list[RunOnAxis]] = {}
        for one in side.runs:
            by_day.setdefault(one.day, []).append(one)
        for day, runs in by_day.items():
            if share_kept([one.of_day for one in runs]) > MOSTLY:
                distance = fsum(one.distance for one in runs) / len(runs)
                mean_cst = weighted_log_mean_cst([(0.0, one.axis_cst) for one in runs])
                found.append(KeptDay(distance, mean_cst, day))
    found.sort()
    if len(found) > given.neighbours:
        farthest = found[given.neighbours - 1].distance + TIED
        return [one for one in found if one.distance <= farthest]
    return found


def _exact_start_cst(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> float | None:
    """The start at 25 °C, inside what was run or not; None if too few days were kept or too few oils run."""
    kept = kept_days(given, known)
    if len(known) < 2 or len(kept) < given.neighbours:
        return None
    mean = weighted_log_mean_cst([(one.distance, one.axis_cst) for one in kept])
    at = _diff_temperature_c(given)
    with about_inputs(temperature_c="temperature_c" if given.temperature_of == "diff" else "diff_temperature_c"):
        return mean if axis == LABEL_AXIS or at is None else viscosity_25_cst(mean, at)


def _labels_run(known: Sequence[OilSide]) -> tuple[float, float]:
    labels = [one.run.viscosity_cst for side in known for one in side.runs]
    return min(labels), max(labels)


def _is_between(viscosity_cst: float, low_cst: float, high_cst: float) -> bool:
    return low_cst * (1 - 1e-9) <= viscosity_cst <= high_cst * (1 + 1e-9)


def _start(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> Start | None:
    """The start if it is inside what was run and what is at hand makes it: an oil as near as its label is exact, else a
    blend of the two around it."""
    exact = _exact_start_cst(given, known, axis)
    if exact is None:
        return None
    low, high = _labels_run(known)
    if not _is_between(exact, low, high):
        return None
    at_hand = [one.viscosity_cst for one in given.labels if one.viscosity_cst >= THINNEST_CST]
    if not at_hand:
        return Start(exact)
    nearest = min(at_hand, key=lambda cst: (abs(log(cst / exact)), cst))
    if abs(nearest / exact - 1.0) <= LABEL_TOLERANCE_SHARE and _is_between(nearest, low, high):
        return Start(nearest, label_cst=nearest)
    blended = blend_between(at_hand, exact)
    return None if blended is None else Start(exact, blended=blended)


def _rows(given: ChoiceGiven, near: Sequence[RunOnAxis], sides: Sequence[OilSide], axis: str) -> tuple[NearRun, ...]:
    of_all = sum(side.record.days for side in sides)
    pooled = fsum(side.record.kept for side in sides) / of_all if of_all else 0.0
    by_run = {id(one.run): side for side in sides for one in side.runs}
    by_label = {} if axis == DIFF_AXIS else {side.viscosity_cst: side for side in sides}
    rows = []
    for place, one in enumerate(near):
        if one.distance > REACH and place >= given.neighbours:
            break
        side = by_run.get(id(one.run)) or by_label.get(one.run.viscosity_cst)
        record = None if side is None else side.record
        low, high = (None, None) if record is None else wilson_interval(record.kept, record.days)
        rows.append(
            NearRun(
                how_near=how_near(given.grip, given.temperature_c, one.run.grip, one.run.temperature_c).words,
                distance=one.distance,
                grip=one.run.grip,
                temperature_c=one.run.temperature_c,
                viscosity_cst=one.run.viscosity_cst,
                viscosity_in_diff_cst=_viscosity_in_diff_cst(one.run, given),
                call=one.run.call,
                note=_short(one.run.note),
                runs_since_opened=one.run.runs_since_opened,
                kept=None if record is None else record.kept,
                of=None if record is None else record.days,
                runs=None if record is None else record.runs,
                keep_low=low,
                keep_high=high,
                keep_shrunk=None
                if record is None
                else shrunk_share(record.kept, record.days, pooled, given.prior_days),
                day=one.run.day,
                run=one.run.run,
            )
        )
    return tuple(rows)


def _short(remark: str | None) -> str | None:
    if remark is None or len(remark) <= REMARK_SHOWN:
        return remark
    return f"{remark[: REMARK_SHOWN - 1].rstrip()}…"


def _summary(side: OilSide, axis: str) -> str:
    low, high = wilson_interval(side.record.kept, side.record.days)
    where = "" if axis == LABEL_AXIS else " in the diff"
    return (
        f"{side.viscosity_cst:,.0f} cSt{where}: {side.record.words}, {counted(side.record.runs, 'run')} "
        f"({percent(low)} to {percent(high)}, 95 % on average)"
    )


def judge_choice(given: ChoiceGiven, found: ChoiceFound) -> Judgement:
    near, axis = nearest_runs(given)
    sides = sides_of(near, axis)
    known = known_sides(sides)
    pair = compared_oils(given, known)
    apart = what_else(given, pair) if pair is not None else []
    findings = (*_findings(given, sides, axis), *(apart if not differs(found) else ()))
    start = _start(given, known, axis)
    if start is None:
        reasons = [_why_nothing(given, known, axis)]
    else:
        reasons = _start_in_words(given, start, kept_days(given, known))
    reasons += [_summary(side, axis) for side in sides]
    reasons += [_WHICH_DAYS] if sides else []
    if not near or found.nearest_distance is None:
        return Judgement("unclear", ("no past run is comparable: another position, surface, or doubtful",), findings)
    if found.n == 0:
        return Judgement("unclear", (_why_none_decided(near, found.nearest_distance), *_remarks(near)), findings)
    if difference := _difference(found):
        reasons.append(difference)
    elif len(known) >= 2:
        reasons.append(
            f"no two oils compared: it takes {MEETINGS_A_SIDE} meetings of each, and days in a row are one (our "
            "own figure)"
        )
    cautions = [*apart, *_on_unknown_days(pair)] if pair is not None and differs(found) else []
    reasons += cautions
    thick = thick_oil_cautions(*(one.run.viscosity_cst for side in known for one in side.runs))
    if start is None or start.blended is None:
        reasons += thick
    if not differs(found) or start is None:
        return Judgement("unclear", tuple(reasons), findings)
    return Judgement("caution" if thick or cautions else "ok", tuple(reasons), findings)


def differs(found: ChoiceFound) -> bool:
    """Whether one of two oils was kept more often: the interval leaves out 0, and chance alone seldom does that."""
    low, high, chance = found.keep_difference_low, found.keep_difference_high, found.keep_difference_chance
    if low is None or high is None or chance is None:
        return False
    return not low <= 0 <= high and chance <= CHANCE_LIMIT


def shows_difference(given: ChoiceGiven, found: ChoiceFound) -> bool:
    """Whether the difference may be the oil's: it is one, on days that are known, and nothing else differed with it."""
    near, axis = nearest_runs(given)
    pair = compared_oils(given, known_sides(sides_of(near, axis)))
    if pair is None or not differs(found):
        return False
    return not what_else(given, pair) and not _on_unknown_days(pair)


def _on_unknown_days(pair: tuple[ComparedOil, ComparedOil]) -> list[str]:
    """Said where fewer meetings of an oil have a day than it takes."""
    if all(one.record.days - one.undated >= MEETINGS_A_SIDE for one in pair):
        return []
    return [_undated_in_words(sum(one.undated for one in pair))]


def _undated_in_words(count: int) -> str:
    return (
        f"{counted(count, 'run')} without a day: each counts as a day of its own, though runs of one day are alike; "
        "give the day of each"
    )


def _difference(found: ChoiceFound) -> str:
    """The two oils compared, in words; empty where no two can be."""
    low, high, chance = found.keep_difference_low, found.keep_difference_high, found.keep_difference_chance
    if low is None or high is None or chance is None:
        return ""
    between = (
        f" between {found.thinner_cst:,.0f} and {found.thicker_cst:,.0f} cSt (share kept, thicker minus thinner: "
        f"{found.keep_difference:+.2f}; {low:+.2f} to {high:+.2f} fits, 95 % on average)"
    )
    if low <= 0 <= high:
        return f"no difference shown{between}"
    if not differs(found):
        often = f"with so few days chance alone makes one this large in {percent(chance)} of cases"
        return f"no difference shown{between}: {often}"
    which = "thicker" if low > 0 else "thinner"
    return f"the {which} was kept more often{between}"


def _start_in_words(given: ChoiceGiven, start: Start, kept: Sequence[KeptDay]) -> list[str]:
    """What to take or to blend; where nobody said what is at hand, only what was run."""
    cst = f"{cst_in_words(start.viscosity_cst, 4)} cSt"
    rests_on = f"from the {counted(len({one.day for one in kept}), 'nearest kept day')}"
    if start.label_cst is not None:
        return [f"a start inside what was run: take the {cst_in_words(start.label_cst)}, {rests_on}"]
    if start.blended is None:
        oils = sorted({round(one.axis_cst) for one in kept})
        if len(oils) == 1:
            return [f"a start inside what was run: {cst}, as it ran {rests_on[5:]}"]
        return [
            f"a start inside what was run: {cst}, between those of {rests_on[5:]}; which oil or blend makes it depends "
            "on what is at hand, and that is not known"
        ]
    recipe = " with ".join(
        f"{percent(one.mass_fraction)} of the {cst_in_words(one.viscosity_cst)}" for one in start.blended.used
    )
    grams = " + ".join(f"{one.mass_g:.1f}" for one in start.blended.used)
    said = [f"a start inside what was run: blend {recipe} by mass ({grams} g), which makes {cst}, {rests_on}"]
    blend_given = BlendGiven(
        parts=tuple(OilPart(viscosity_cst=one.viscosity_cst) for one in start.blended.used),
        target_viscosity_cst=start.viscosity_cst,
    )
    judged = judge_blend(blend_given, start.blended)
    return [*said, *judged.reasons[1:-1]]


def _why_none_decided(near: Sequence[RunOnAxis], nearest: float) -> str:
    undecided = sum(one.distance <= REACH for one in near)
    if undecided:
        return f"no decided run is near enough: {counted(undecided, 'run')} without keep or change, shown, not counted"
    return f"no decided run is near enough: the nearest is {nearest:.1f} away, 1 is the limit"


def _remarks(near: Sequence[RunOnAxis]) -> tuple[str, ...]:
    """The remarks of the nearest runs: what was felt, where nothing was decided."""
    with_remark = [one.run for one in near if one.distance <= REACH and one.run.note]
    return tuple(
        f"{run.viscosity_cst:,.0f} cSt at {run.temperature_c:g} °C: “{_short(run.note)}” ({run.call or 'no call'})"
        for run in with_remark[:REMARKS]
    )


def _why_nothing(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> str:
    if len(known) < 2:
        return f"nothing is suggested: it takes two oils decided on {DAYS_A_SIDE} days each (our own figure)"
    start = _exact_start_cst(given, known, axis)
    if start is None:
        return f"nothing is suggested: fewer than {given.neighbours} of these days were kept"
    low, high = _labels_run(known)
    cst = cst_in_words(start, 4)
    if not _is_between(start, low, high):
        return f"nothing is suggested: it would take {cst} cSt, beyond what was run ({low:,.0f} to {high:,.0f} cSt)"
    nearest = min((one.viscosity_cst for one in given.labels), key=lambda at_hand: abs(log(at_hand / start)))
    return (
        f"nothing is suggested: no oil at hand and no blend of two makes {cst} cSt; the nearest is the "
        f"{cst_in_words(nearest)}"
    )


def _findings(given: ChoiceGiven, sides: Sequence[OilSide], axis: str) -> tuple[str, ...]:
    findings = []
    if axis == LABEL_AXIS:
        findings.append(
            "oils compared by their label at 25 °C: the temperature of the diff is not known for all of these runs "
            "and today"
        )
    alike = [run for run in given.past if _matches(run, given)]
    findings += [one.advice for one in _left_out(given, alike)]
    findings += doubtful_in_words([one.run.doubtful for side in sides for one in side.runs])
    elsewhere = sum(run.runs for run in given.past) - sum(run.runs for run in alike)
    if elsewhere:
        findings.append(RunsLeftOut(elsewhere, "", Why("another position or surface")).words)
    unsaid = sum(
        (given.position is not None and run.position is None) or (given.surface is not None and run.surface is None)
        for run in given.past
    )
    if unsaid:
        findings.append(f"{unsaid} counted although position or surface is not noted")
    usual = sum(given.position is not None and run.place_from == "usual" for run in alike)
    if usual:
        findings.append(f"{usual} counted at the usual place of their diff, as the run does not say where it was")
    findings += _places_in_words(given, sides)
    undated = sum(one.run.day is None for side in sides for one in side.runs)
    if undated:
        findings.append(_undated_in_words(undated))
    findings += _days_in_words(given, sides)
    if sides:
        kept = round(fsum(side.record.kept for side in sides), 1)
        days = sum(side.record.days for side in sides)
        findings.append(
            f"the cautious shares draw each oil towards {kept:g} of {counted(days, 'day')} as if by "
            f"{given.prior_days:g} more days (common practice, no source)"
        )
    return tuple(findings)


def _places_in_words(given: ChoiceGiven, sides: Sequence[OilSide]) -> list[str]:
    """That runs of diffs at more than one place are counted together, where nobody said which place is meant."""
    places = sorted({one.run.position for side in sides for one in side.runs if one.run.position is not None})
    if given.position is not None or len(places) < 2:
        return []
    return [
        f"runs of {' and '.join(places)} diffs are counted together, each oil with days of its own: say the position "
        "to go by one place alone"
    ]


def _days_in_words(given: ChoiceGiven, sides: Sequence[OilSide]) -> list[str]:
    """What is not known of days by name, and what days in a row do to the intervals."""
    said = []
    days = [list(dict.fromkeys(one.day for one in side.runs if one.run.day is not None)) for side in sides]
    by_name = {day for of_side in days for day in of_side if not is_date(day)}
    if by_name:
        said.append(
            f"{counted(len(by_name), 'day')} without a date: which were one meeting is not known, so each counts"
        )
    meetings = meetings_of(run.day for run in given.past if run.day is not None)
    in_a_row = sum(len(of_side) - len({meetings[day] for day in of_side}) for of_side in days)
    if in_a_row:
        said.append(
            f"{counted(in_a_row, 'day')} right after another day of the same oil: they are often alike, so they "
            "are one meeting where two oils are compared; trust the intervals of a share kept less"
        )
    return said


def _left_out(given: ChoiceGiven, alike: Sequence[PastRun]) -> tuple[RunsLeftOut, ...]:
    """The runs that could have counted: near enough, but undecided, on a diff that lost oil, or not measured there."""
    left_out: list[tuple[str, Why, float]] = []
    is_of_diff = given.temperature_of == "diff" and any(run.diff_temperature_c is not None for run in given.past)
    grip = GRIP_INDEX[given.grip]
    for run in alike:
        if is_of_diff and run.diff_temperature_c is None:
            left_out.append(("", NO_DIFF_TEMPERATURE, run.runs))
            continue
        there = run.diff_temperature_c if is_of_diff and run.diff_temperature_c is not None else run.temperature_c
        if condition_distance(grip, given.temperature_c, GRIP_INDEX[run.grip], there) > REACH:
            continue
        if run.doubtful == "yes":
            why = HAD_LOST_OIL if run.build is None else lost_oil(run.oil_lost_share, 1.0)
            left_out.append((run.build or "", why, run.runs))
        elif run.call is None:
            left_out.append(("", SHOWN_WITHOUT_CALL, run.runs))
        elif run.call not in DECIDED:
            left_out.append(("", Why(f"{run.call}, shown with the remark"), run.runs))
    return counted_by_reason(left_out)


def choice_working(given: ChoiceGiven, found: ChoiceFound) -> tuple[str, ...]:
    lines = [
        f"distance = √((Δgrip/{GRIP_SCALE:g})² + (Δt/{TEMPERATURE_SCALE_C:g} °C)²), grip {given.grip} = "
        f"{GRIP_INDEX[given.grip]:g}; near enough to {REACH:g}",
        f"oils compared by {found.axis}; near enough: {counted(found.n, 'oil day')} with a decision, "
        f"{counted(found.n_runs, 'run')}",
        "share kept of a day: of its calls that decided, those that were keep; the mean of its diffs with that oil",
    ]
    if found.keep_difference_chance is not None:
        lines.append(
            f"by chance, if both were kept equally often: {found.keep_difference_chance:.3g} (Boschloo's exact test; "
            "split days rounded so that the shares move together)"
        )
    if found.suggested_viscosity_cst is not None:
        near, axis = nearest_runs(given)
        kept = kept_days(given, known_sides(sides_of(near, axis)))
        parts = ", ".join(f"{one.axis_cst:,.0f} cSt at {one.distance:.2f}" for one in kept)
        lines.append(f"mean of log viscosity, weight 1/(1 + distance): {parts}")
    return tuple(lines)


OIL_CHOICE = Calculator(
    name="oil-choice",
    title="Oil choice",
    question="What did we run when it was like this, and did we keep it?",
    purpose="past runs nearest to today's grip and temperature, kept or not, and perhaps a start",
    version=3,
    given=ChoiceGiven,
    found=ChoiceFound,
    compute=choose,
    judge=judge_choice,
    working=choice_working,
    answer="suggested_viscosity_cst",
    seen_first=("position",),
    for_conditions=ForConditions(grip="grip", track_temp_c="temperature_c", position="position"),
    for_forecast=ForForecast(track_temp_c="temperature_c", grip="grip", position="position"),
    valid=(
        "Past runs of the team's own; those undecided, broken or without a call are shown and not counted.",
        "Runs of a diff that had lost oil by then, or may have, are left out.",
        "Distance: low, medium, high grip are 0.3, 0.5, 0.7; 0.2 of grip counts as much as 5 °C. Over 1 is too far.",
        "A day counts once for an oil, however many runs and diffs it had: they share weather, track and fill.",
        "Nothing is suggested under three days of each of two oils, nor beyond the oils that were run.",
        "Nothing is suggested that no oil at hand and no blend of two makes.",
        "95 % is the mean over all true shares, of days that do not depend on each other; more where days were split.",
        "With 3 to 12 days a true share of 0.3, 0.6 or 0.9 is held in 90 to 100 %, one near 0 or 1 in 83 % or more.",
        "A difference is named only where chance alone makes it in 5 % or less, whatever the true share (exact test).",
        "Days in a row are one meeting: a difference takes three meetings of each oil, on days that are known.",
        "A difference is a caution where the oils were run in other weather, on other grip or one after the other.",
        "In the diff, oils within a ratio of 1.25 count as one. The two oils run most are compared.",
        "Viscosity in the diff by the law of fluids: within 2.8 % from -10 to 80 °C for 100 to 10,000 cSt.",
        THICK_OILS,
    ),
    sources=(WILSON, NEWCOMBE, BOSCHLOO, NEAREST, SHRINKAGE, VISCOSITY_LAW, LOG_BLEND, THINNING, SHEAR_RATES, LABELS),
    worked=(
        Worked(
            {
                "grip": "low",
                "temperature_c": "30",
                "past": [
                    "low:30:5000:keep:2026-05-02",
                    "low:31:5000:keep:2026-05-02",
                    "low:30:15000:change:2026-05-03",
                    "low:31:15000:change:2026-05-09",
                    "low:29:5000:keep:2026-05-10",
                    "low:32:5000:keep:2026-05-16",
                    "low:29:15000:change:2026-05-17",
                    "low:32:15000:change:2026-05-23",
                    "low:30:5000:keep:2026-05-24",
                ],
                "labels": ["5000", "10000"],
            },
            {
                "suggested_viscosity_cst": 5000.0,
                "n": 8,
                "n_runs": 9.0,
                "nearest_distance": 0.0,
                "keep_difference": -1.0,
                "keep_difference_low": -1.0,
                "keep_difference_high": -0.307,
                "keep_difference_chance": 0.0078,
            },
            0.0005,
            Source(
                "computed",
                "4 of 4 meetings against 0 of 4: Wilson 0.5101 to 1 and 0 to 0.4899; -1 + √2 × 0.4899 = -0.307; by "
                "chance at most 2 × 0.5⁸ = 0.0078",
            ),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (OIL_CHOICE,)
