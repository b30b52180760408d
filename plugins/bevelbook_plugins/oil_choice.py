"""What did we run when it was like this: past runs nearest to today's conditions (``oil-choice``)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import exp, log
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    ForConditions,
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
    whole,
)
from bevelbook.formulas.conditions import GRIP_INDEX, GRIP_SCALE, TEMPERATURE_SCALE_C, condition_distance
from bevelbook.formulas.inputs import doubtful_in_words, was_doubtful
from bevelbook.formulas.left_out import (
    NO_CALL,
    NO_DIFF_TEMPERATURE,
    RunsLeftOut,
    Why,
    counted_by_reason,
    lost_oil,
)
from bevelbook.formulas.percent import percent
from bevelbook.physics.viscosity import VISCOSITY_LAW, viscosity_25_cst, viscosity_at_cst
from bevelbook.stats.proportions import NEWCOMBE, WILSON, newcombe_interval, shrunk_share, wilson_interval

REACH: Final = 1.0
RUNS_A_SIDE: Final = 3
SAME_OIL_RATIO: Final = 1.25
DECIDED: Final = ("keep", "change")
"""The calls that count for an oil."""
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
    "distance: a step of grip (0.2) counts as much as 5 °C; runs farther than 1 are not used; three nearest kept runs, "
    "weight 1/(1 + distance), mean of log viscosity; under three runs a side nothing is suggested",
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


@record
class ChoiceGiven:
    grip: str = choice(vocabulary.GRIPS, "Grip now")
    temperature_c: float = quantity("°C", "Temperature now", minimum=-60, maximum=200, plausible=(-20, 120))
    temperature_of: str = choice(("track", "diff"), "What the temperature is of, now and then", default="track")
    diff_temperature_c: float | None = quantity(
        "°C", "Temperature that the diff will have, where it is known", default=None, minimum=-60, maximum=200
    )
    position: str | None = choice(vocabulary.POSITIONS, "Where the diff is in the car", default=None)
    surface: str | None = choice(vocabulary.SURFACES, "What the track is made of", default=None)
    past: tuple[PastRun, ...] = listing(PastRun, "Past runs", singular="past", same_as="listings.past")
    neighbours: int = whole("How many of the nearest kept runs a suggestion uses", default=3, minimum=1, maximum=50)
    prior_runs: float = quantity("1", "How many runs the pooled share of kept ones counts as", default=4, minimum=0)


@record
class NearRun:
    distance: float = quantity("1", "From today's conditions; 1 is one step of grip or 5 °C")
    grip: str = choice(vocabulary.GRIPS, "Grip then")
    temperature_c: float = quantity("°C", "Temperature then")
    viscosity_cst: float = quantity("cSt", "Oil at 25 °C")
    viscosity_in_diff_cst: float | None = quantity(
        "cSt", "The same at the temperature of the diff", default=None, heading="viscosity in the diff"
    )
    call: str | None = choice(vocabulary.CALLS, "What was decided after it", default=None)
    note: str | None = text("The remark, shortened", default=None, heading="remark")
    runs_since_opened: float | None = quantity("runs", "Runs of the diff since it was open", default=None)
    kept: int | None = whole("Runs near enough with that oil that were kept", default=None)
    of: int | None = whole("Runs near enough with that oil that were decided", default=None, heading="runs")
    keep_low: float | None = quantity(
        "1", "Lower end of the share kept, 95 % (Wilson)", default=None, heading="share from"
    )
    keep_high: float | None = quantity("1", "Upper end of the share kept", default=None, heading="to")
    keep_shrunk: float | None = quantity(
        "1",
        "Share kept, drawn towards that of all oils, as few runs prove little",
        default=None,
        heading="cautious share",
    )
    run: str | None = text("The run", default=None)


@record
class ChoiceFound:
    suggested_viscosity_cst: float | None = quantity(
        "cSt", "Where to start, at 25 °C, inside what was run; none with too few runs", exact=True
    )
    n: int = whole("Decided runs near enough", heading="runs")
    nearest_distance: float | None = quantity("1", "Distance of the nearest run", exact=True)
    axis: str = choice((LABEL_AXIS, DIFF_AXIS), "What the oils are compared by", heading="compared by")
    thinner_cst: float | None = quantity("cSt", "The thinner of the two oils run most", exact=True)
    thicker_cst: float | None = quantity("cSt", "The thicker of the two", exact=True)
    keep_difference: float | None = quantity("1", "Share kept, thicker minus thinner", exact=True, heading="difference")
    keep_difference_low: float | None = quantity(
        "1", "Lower end of that, 95 % (Newcombe)", exact=True, heading="difference from"
    )
    keep_difference_high: float | None = quantity("1", "Upper end of that", exact=True, heading="difference to")
    rows: tuple[NearRun, ...] = listing(NearRun, "The nearest runs")


class RunOnAxis(NamedTuple):
    """A past run with its distance and the viscosity it is compared by."""

    distance: float
    run: PastRun
    axis_cst: float

    @property
    def counts(self) -> bool:
        return self.distance <= REACH and self.run.call in DECIDED


class OilSide(NamedTuple):
    """One oil among the runs near enough: what it is compared by, kept of decided, and those runs."""

    viscosity_cst: float
    runs: tuple[RunOnAxis, ...]

    @property
    def kept(self) -> int:
        return sum(one.run.call == "keep" for one in self.runs)

    @property
    def of(self) -> int:
        return len(self.runs)


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
    runs = [run for run in _at_one_place(given) if run.doubtful != "yes" and _matches(run, given)]
    grip = GRIP_INDEX[given.grip]
    far = [condition_distance(grip, given.temperature_c, GRIP_INDEX[run.grip], run.temperature_c) for run in runs]
    by_label = sorted(
        (RunOnAxis(distance, run, run.viscosity_cst) for distance, run in zip(far, runs, strict=True)),
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
    """
    ratio = SAME_OIL_RATIO if axis == DIFF_AXIS else 1.0
    groups: list[list[RunOnAxis]] = []
    for one in sorted((one for one in near if one.counts), key=lambda one: one.axis_cst):
        if groups and one.axis_cst <= groups[-1][0].axis_cst * ratio * (1 + 1e-9):
            groups[-1].append(one)
        else:
            groups.append([one])
    return [
        OilSide(
            group[0].axis_cst if axis == LABEL_AXIS else weighted_log_mean_cst([(0.0, one.axis_cst) for one in group]),
            tuple(group),
        )
        for group in groups
    ]


def choose(given: ChoiceGiven) -> ChoiceFound:
    """Nearest runs; shares kept with Wilson's interval; the two oils run most with Newcombe's; perhaps a start.

    A start is named only where two oils have three decided runs each within a distance of 1, and as many kept runs as
    it rests on: the mean of log viscosity of the nearest, weight 1 / (1 + distance), inside the labels that were run.
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
    known = [side for side in sides if side.of >= RUNS_A_SIDE]
    pair = sorted(sorted(known, key=lambda side: -side.of)[:2]) if len(known) >= 2 else None
    difference = None
    if pair is not None:
        thinner, thicker = pair
        difference = newcombe_interval(thicker.kept, thicker.of, thinner.kept, thinner.of)
    return ChoiceFound(
        suggested_viscosity_cst=_suggested_cst(given, known, axis),
        n=sum(side.of for side in sides),
        nearest_distance=near[0].distance if near else None,
        axis=axis,
        thinner_cst=None if pair is None else pair[0].viscosity_cst,
        thicker_cst=None if pair is None else pair[1].viscosity_cst,
        keep_difference=None if pair is None else pair[1].kept / pair[1].of - pair[0].kept / pair[0].of,
        keep_difference_low=None if difference is None else difference[0],
        keep_difference_high=None if difference is None else difference[1],
        rows=_rows(given, near, sides, axis),
    )


def _kept(given: ChoiceGiven, known: Sequence[OilSide]) -> list[RunOnAxis]:
    """The nearest kept runs of the oils that were run often enough."""
    kept = [one for side in known for one in side.runs if one.run.call == "keep"]
    return sorted(kept, key=lambda one: one.distance)[: given.neighbours]


def _start_cst(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> float | None:
    """The start at 25 °C, inside what was run or not; None if too few runs were kept or too few oils run."""
    kept = _kept(given, known)
    if len(known) < 2 or len(kept) < given.neighbours:
        return None
    mean = weighted_log_mean_cst([(one.distance, one.axis_cst) for one in kept])
    at = _diff_temperature_c(given)
    with about_inputs(temperature_c="temperature_c" if given.temperature_of == "diff" else "diff_temperature_c"):
        return mean if axis == LABEL_AXIS or at is None else viscosity_25_cst(mean, at)


def _labels_run(known: Sequence[OilSide]) -> tuple[float, float]:
    labels = [one.run.viscosity_cst for side in known for one in side.runs]
    return min(labels), max(labels)


def _suggested_cst(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> float | None:
    start = _start_cst(given, known, axis)
    if start is None:
        return None
    low, high = _labels_run(known)
    return start if low * (1 - 1e-9) <= start <= high * (1 + 1e-9) else None


def _rows(given: ChoiceGiven, near: Sequence[RunOnAxis], sides: Sequence[OilSide], axis: str) -> tuple[NearRun, ...]:
    of_all = sum(side.of for side in sides)
    pooled = sum(side.kept for side in sides) / of_all if of_all else 0.0
    by_run = {id(one.run): side for side in sides for one in side.runs}
    by_label = {} if axis == DIFF_AXIS else {side.viscosity_cst: side for side in sides}
    rows = []
    for place, one in enumerate(near):
        if one.distance > REACH and place >= given.neighbours:
            break
        side = by_run.get(id(one.run)) or by_label.get(one.run.viscosity_cst)
        low, high = (None, None) if side is None else wilson_interval(side.kept, side.of)
        rows.append(
            NearRun(
                distance=one.distance,
                grip=one.run.grip,
                temperature_c=one.run.temperature_c,
                viscosity_cst=one.run.viscosity_cst,
                viscosity_in_diff_cst=_viscosity_in_diff_cst(one.run, given),
                call=one.run.call,
                note=_short(one.run.note),
                runs_since_opened=one.run.runs_since_opened,
                kept=None if side is None else side.kept,
                of=None if side is None else side.of,
                keep_low=low,
                keep_high=high,
                keep_shrunk=None if side is None else shrunk_share(side.kept, side.of, pooled, given.prior_runs),
                run=one.run.run,
            )
        )
    return tuple(rows)


def _short(remark: str | None) -> str | None:
    if remark is None or len(remark) <= REMARK_SHOWN:
        return remark
    return f"{remark[: REMARK_SHOWN - 1].rstrip()}…"


def _summary(side: OilSide, axis: str) -> str:
    low, high = wilson_interval(side.kept, side.of)
    where = "" if axis == LABEL_AXIS else " in the diff"
    return (
        f"{side.viscosity_cst:,.0f} cSt{where}: kept {side.kept} of {side.of} ({percent(low)} to {percent(high)}, 95 %)"
    )


def judge_choice(given: ChoiceGiven, found: ChoiceFound) -> Judgement:
    near, axis = nearest_runs(given)
    sides = sides_of(near, axis)
    known = [side for side in sides if side.of >= RUNS_A_SIDE]
    findings = _findings(given, sides, axis)
    reasons = [_summary(side, axis) for side in sides]
    if not near or found.nearest_distance is None:
        return Judgement("unclear", ("no past run is comparable: another position, surface, or doubtful",), findings)
    if found.n == 0:
        return Judgement("unclear", (_why_none_decided(near, found.nearest_distance), *_remarks(near)), findings)
    if found.suggested_viscosity_cst is None:
        return Judgement("unclear", (*reasons, _why_nothing(given, known, axis)), findings)
    start = (
        f"a start inside what was run: {found.suggested_viscosity_cst:,.0f} cSt, from the {given.neighbours} nearest "
        "kept runs"
    )
    low, high = found.keep_difference_low, found.keep_difference_high
    if low is None or high is None or low <= 0 <= high:
        return Judgement("unclear", (*reasons, f"no difference shown{_between(found)}", start), findings)
    which = "thicker" if low > 0 else "thinner"
    return Judgement("ok", (*reasons, f"the {which} was kept more often{_between(found)}", start), findings)


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


def _between(found: ChoiceFound) -> str:
    return (
        f" between {found.thinner_cst:,.0f} and {found.thicker_cst:,.0f} cSt (share kept, thicker minus thinner: "
        f"{found.keep_difference:+.2f}; {found.keep_difference_low:+.2f} to {found.keep_difference_high:+.2f} fits, "
        "95 %)"
    )


def _why_nothing(given: ChoiceGiven, known: Sequence[OilSide], axis: str) -> str:
    if len(known) < 2:
        return f"nothing is suggested: it takes two oils with {RUNS_A_SIDE} decided runs each (this project's proposal)"
    start = _start_cst(given, known, axis)
    if start is None:
        return f"nothing is suggested: fewer than {given.neighbours} of these runs were kept"
    low, high = _labels_run(known)
    return f"nothing is suggested: it would take {start:,.0f} cSt, beyond what was run ({low:,.0f} to {high:,.0f} cSt)"


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
    if sides:
        kept, of = sum(side.kept for side in sides), sum(side.of for side in sides)
        findings.append(
            f"the cautious shares draw each oil towards {kept} of {of} as if by {given.prior_runs:g} more runs "
            "(common practice, no source)"
        )
    return tuple(findings)


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
        f"oils compared by {found.axis}; {found.n} decided runs near enough",
    ]
    if found.suggested_viscosity_cst is not None:
        near, axis = nearest_runs(given)
        kept = _kept(given, [side for side in sides_of(near, axis) if side.of >= RUNS_A_SIDE])
        parts = ", ".join(f"{one.axis_cst:,.0f} cSt at {one.distance:.2f}" for one in kept)
        lines.append(f"mean of log viscosity, weight 1/(1 + distance): {parts}")
    return tuple(lines)


OIL_CHOICE = Calculator(
    name="oil-choice",
    title="Oil choice",
    question="What did we run when it was like this, and did we keep it?",
    purpose="past runs nearest to today's grip and temperature, kept or not, and perhaps a start",
    version=2,
    given=ChoiceGiven,
    found=ChoiceFound,
    compute=choose,
    judge=judge_choice,
    working=choice_working,
    answer="suggested_viscosity_cst",
    for_conditions=ForConditions(grip="grip", track_temp_c="temperature_c", position="position"),
    valid=(
        "Past runs of the team's own; those undecided, broken or without a call are shown and not counted.",
        "Runs of a diff that had lost oil by then, or may have, are left out.",
        "Distance: low, medium, high grip are 0.3, 0.5, 0.7; 0.2 of grip counts as much as 5 °C. Over 1 is too far.",
        "Nothing is suggested under three decided runs of each of two oils, nor beyond the oils that were run.",
        "In the diff, oils within a ratio of 1.25 count as one. The two oils run most are compared.",
        "Viscosity in the diff by the law of fluids: -10 to 80 °C within 2.8 %, 50 to 10,000 cSt.",
    ),
    sources=(WILSON, NEWCOMBE, NEAREST, SHRINKAGE, VISCOSITY_LAW),
    worked=(
        Worked(
            {
                "grip": "low",
                "temperature_c": "30",
                "past": [
                    "low:30:5000:keep",
                    "low:31:5000:keep",
                    "low:29:5000:keep",
                    "low:32:5000:keep",
                    "low:30:15000:change",
                    "low:31:15000:change",
                    "low:29:15000:change",
                    "low:32:15000:change",
                ],
            },
            {
                "suggested_viscosity_cst": 5000.0,
                "n": 8,
                "nearest_distance": 0.0,
                "keep_difference": -1.0,
                "keep_difference_low": -1.0,
                "keep_difference_high": -0.307,
            },
            0.0005,
            Source("computed", "4 of 4 against 0 of 4: Wilson 0.5101 to 1 and 0 to 0.4899; -1 + √2 × 0.4899 = -0.307"),
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (OIL_CHOICE,)
