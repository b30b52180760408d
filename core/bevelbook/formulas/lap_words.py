"""A comparison of two groups of runs in words: the model's answer first, the times as they are second."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.declare.counting import counted, plural
from bevelbook.formulas.drift_model import MOST_MORE_RUNS, RUNS_FOR_A_DRIFT, next_turn
from bevelbook.formulas.inputs import doubtful_in_words
from bevelbook.formulas.lap_standing import (
    COUNT,
    LEAVE_OUT,
    LapComparisonGiven,
    RunsCompared,
    compared_runs,
    longest_span,
    more_runs,
)
from bevelbook.formulas.timed_runs import TimedRun, counts_by_group, is_in_blocks, place_of

NOTHING_ELSE: Final = ("nothing", "none", "no")
SHOWN_S: Final = 0.0005
"""Half the last digit of a time as shown."""
IF_ONLY: Final = {
    "if steady": "if the drift was steady, ",
    "not alone": "if the drift was steady, ",
    "in blocks": "if nothing else changed between the two, ",
}
"""What comes before the answer where it holds only on a condition."""
LOOKING: Final = (
    "decide before how many runs you will do: who looks again after each four runs finds a difference between equal "
    "builds too often, in about 1 of 10 comparisons with four looks instead of 1 of 20"
)
"""10.0 % in 5,000 simulations of a b b a repeated, looked at after 8, 12, 16 and 20 runs."""
RUN_IN_TURN: Final = "run them in turn, a b b a, on one day by one driver"


def answer_in_words(given: LapComparisonGiven, found: RunsCompared, more: int | None) -> str:
    """The answer in one sentence: what is faster and by how much, or why that is not decided and what settles it."""
    if found.standing == "odd":
        return _question(given, found)
    return _drifted(found) + _sentence(given, found, more)


def _question(given: LapComparisonGiven, found: RunsCompared) -> str:
    named = " and ".join(
        f"{one.run.time_s:.3f} s of {label_of(given, one.run.group)}"
        f"{f' ({place_of(one.run)})' if place_of(one.run) else ''}, {abs(one.off_s):.3f} s "
        f"{'slower' if one.off_s > 0 else 'faster'} than the others,"
        for one in found.odd
    )
    it, was = ("it", "was") if len(found.odd) == 1 else ("they", "were")
    return (
        f"not decided: {named} {'is' if it == 'it' else 'are'} far off; {was} {it} timed right, without a crash or "
        f'traffic? Say so under "odd times": {COUNT}, or {LEAVE_OUT}'
    )


def label_of(given: LapComparisonGiven, group: str) -> str:
    """What a group is called."""
    return given.label_a if group == "a" else given.label_b


def _drifted(found: RunsCompared) -> str:
    """The drift first, where it is larger than the difference."""
    drift, difference = found.model.drift, found.difference
    if drift is None or difference is None:
        return ""
    over = drift.value * longest_span(found.runs)
    if abs(over) <= abs(difference.value):
        return ""
    by_chance = "" if drift.decided else " (by chance, perhaps)"
    return f"the runs got {abs(over):.3f} s {_faster(over)} over the day{by_chance}, more than the difference; "


def _faster(difference: float) -> str:
    return "faster" if difference < 0 else "slower"


def _sentence(given: LapComparisonGiven, found: RunsCompared, more: int | None) -> str:
    a, b, difference = given.label_a, given.label_b, found.difference
    if found.standing == "no order":
        return (
            f"not decided: {found.fault}, and a drift of the day may be the whole difference; number the runs over "
            f"both groups, and {RUN_IN_TURN}"
        )
    if difference is None:
        return f"not decided: {_why_no_drift(found.runs)}; {RUN_IN_TURN}"
    size = f"{abs(difference.value):.3f} s a lap"
    near, far = sorted((abs(difference.low), abs(difference.high)))
    drift = _drift_taken_out(found)
    if found.standing == "no scatter":
        return (
            "not decided: the times of each are all equal, so they are read too coarsely to show any scatter; anything "
            f"from {_signed(difference.low)} to {_signed(difference.high)} fits; time to the hundredth or finer, and "
            f"{RUN_IN_TURN}"
        )
    if found.standing == "open":
        return (
            f"not decided: {b} was {_than(difference.value, a)} a lap, but anything from "
            f"{_signed(difference.low)} to {_signed(difference.high)} fits ({_level(found)}), {drift}; "
            f"{_more_in_words(found, more)}"
        )
    if found.standing == "other sign":
        return (
            f"not decided: as timed {b} was {_than(found.plain.value, a)}, "
            f"and only with the drift taken out it is {_faster(difference.value)} by {size} ({near:.3f} to "
            f"{far:.3f} s, {_level(found)}); {RUN_IN_TURN}, so that the drift cancels"
        )
    answer = (
        f"{b} is {_faster(difference.value)} than {a} by {size}; "
        f"{near:.3f} to {far:.3f} s fits ({_level(found)}), {drift}"
    )
    if found.standing == "hidden bend":
        return (
            "not decided: each day was run in an order in which a drift that bends the same way each day, such as grip "
            f"that comes in fast and levels off, looks the same as a difference; run {_order_next(found)} on as many "
            f"days more; only if the drift was steady, {answer}"
        )
    return f"{IF_ONLY.get(found.standing, '')}{answer}"


def _why_no_drift(runs: Sequence[TimedRun]) -> str:
    sides = [{run.session for run in runs if run.group == group} for group in "ab"]
    if not sides[0] & sides[1]:
        is_day = not {day for day, _ in sides[0]} & {day for day, _ in sides[1]}
        return (
            "the groups ran on different days, so the day may be the difference"
            if is_day
            else "the groups had different drivers, so the driver may be the difference"
        )
    return "the runs are too few, or in an order that does not separate the drift of the day from the difference"


def _drift_taken_out(found: RunsCompared) -> str:
    if found.model.shares_drift:
        return "one steady drift for all days taken out"
    days = len({run.session for run in found.runs})
    return "a steady drift of the day taken out" if days == 1 else "a steady drift of each day and driver taken out"


def _than(difference: float, other: str) -> str:
    """``faster than a by 0.115 s``, or that they do not differ."""
    if abs(difference) < SHOWN_S:
        return f"as fast as {other} to 0.001 s"
    return f"{_faster(difference)} than {other} by {abs(difference):.3f} s"


def _signed(difference: float) -> str:
    return f"{abs(difference):.3f} s {_faster(difference)}"


def _level(found: RunsCompared) -> str:
    """How often the interval holds the truth: exactly so where as many of each ran in turn.

    :func:`findings_in_words` says more where the groups differ in size; in blocks it is 96 to 99 %.
    """
    a, b = counts_by_group(found.runs)
    return "95 %" if a == b and not is_in_blocks(found.runs) else "about 95 %"


def _order_next(found: RunsCompared) -> str:
    return " ".join(next_turn(found.runs))


def _more_in_words(found: RunsCompared, more: int | None) -> str:
    if more is None:
        return f"even {MOST_MORE_RUNS} more runs of each would hardly decide it"
    return (
        f"about {more} more {plural(more, 'run')} of each, in the order {_order_next(found)}, would decide it, "
        "if it stays like this"
    )


def cautions_in_words(given: LapComparisonGiven, compared: RunsCompared) -> list[str]:
    """What makes a decided answer a caution."""
    found = []
    if compared.standing == "not alone":
        found.append(
            "as timed it is not decided, and one came before the other on the whole: the answer rests on a steady "
            f"drift; {RUN_IN_TURN}, to be sure"
        )
    if compared.standing == "in blocks":
        found.append(
            f"all of one was run before all of the other ({_orders(compared)}): anything that changed once in between, "
            f"such as a battery or rubber on the track, looks the same; {RUN_IN_TURN}, to be sure"
        )
    if compared.standing == "far uneven":
        found.append(uneven_in_words(compared))
    if compared.standing == "if steady":
        found.append(
            "if the drift was not steady, such as grip that comes in fast and levels off, it is not decided; one turn "
            f"of {_order_next(compared)} more would settle it (our own figure)"
        )
    if given.also_changed is not None and given.also_changed.casefold() not in NOTHING_ELSE:
        found.append(f"also changed: {given.also_changed}; the difference is from all of it together")
    return found


def uneven_in_words(compared: RunsCompared) -> str:
    """What groups of different size do to the interval; empty where they are alike or there is none."""
    a, b = counts_by_group(compared.runs)
    if a == b or compared.difference is None:
        return ""
    return (
        f"{a} runs against {b}: if the fewer ones also scatter three times as much, their interval holds the truth "
        "in as little as 90 % instead of 95 %; run as many of each"
    )


def _orders(compared: RunsCompared) -> str:
    """The order of each day and driver, each one once: ``a a b b``."""
    by_session: dict[object, list[str]] = {}
    for run in compared.runs:
        by_session.setdefault(run.session, []).append(run.group)
    return "; ".join(dict.fromkeys(" ".join(groups) for groups in by_session.values()))


def both_ways_in_words(given: LapComparisonGiven, compared: RunsCompared) -> list[str]:
    """The answer without the odd times and with them."""
    ways = []
    for words, what in (("without", LEAVE_OUT), ("with", COUNT)):
        if what == LEAVE_OUT and any(one.run is run for one in compared.odd for run in compared.runs):
            continue
        way = compared_runs(_with_odd_times(given, what))
        it = "it" if len(compared.odd) == 1 else "them"
        ways.append(f"{words} {it}: {_sentence(given, way, more_runs(way))}")
    return ways


def _with_odd_times(given: LapComparisonGiven, what: str) -> LapComparisonGiven:
    return LapComparisonGiven(
        runs=given.runs,
        label_a=given.label_a,
        label_b=given.label_b,
        also_changed=given.also_changed,
        odd_times=what,
    )


def plain_in_words(given: LapComparisonGiven, compared: RunsCompared) -> str:
    """The difference of the times as they are, for the second line."""
    plain = compared.plain
    if compared.hides_scatter:
        return (
            f"as timed: {given.label_b} was {_than(plain.value, given.label_a)}, from {_signed(plain.low)} to "
            f"{_signed(plain.high)} as the times are read off"
        )
    return (
        f"as timed, with any drift left in: {given.label_b} was {_than(plain.value, given.label_a)}; "
        f"{_signed(plain.low)} to {_signed(plain.high)} fits (95 % only if nothing drifted; Welch)"
    )


def drift_in_words(compared: RunsCompared) -> list[str]:
    """The drift with its interval, where it is determined."""
    drift = compared.model.drift
    if drift is None:
        return []
    fits = f"{drift.low:+.3f} to {drift.high:+.3f} fits, 95 %{'' if drift.decided else ', so there may be none'}"
    on_average = ", on average" if len(compared.model.drifts) > 1 else ""
    over = abs(drift.value * longest_span(compared.runs))
    return [
        f"drift: the runs got {_faster(drift.value)} by {over:.3f} s over the day{on_average} "
        f"({drift.value:+.3f} s per run; {fits})"
    ]


def findings_in_words(given: LapComparisonGiven, compared: RunsCompared) -> tuple[str, ...]:
    """What is worth a look beside the answer."""
    findings = []
    if given.also_changed is None:
        findings.append(
            "anything else changed between the two: tyres and runs on them, battery, driver, height, the line? "
            'Write it under "also changed", or "nothing" there'
        )
    if compared.laps:
        findings.append(
            f"{compared.laps} rows are laps of {counted(compared.laps_of, 'run')}, averaged to one figure a run: laps "
            "of one run hang together; use one figure a run, the mean of the best five"
        )
    if compared.standing == "open":
        findings.append(LOOKING)
    if (uneven := uneven_in_words(compared)) and compared.standing != "far uneven":
        findings.append(uneven)
    if compared.odd and given.odd_times == LEAVE_OUT:
        times = ", ".join(f"{one.run.time_s:.3f} s of {label_of(given, one.run.group)}" for one in compared.odd)
        findings.append(f"left out as far off the others: {times}")
    sharing = compared.model.sharing
    if sharing and compared.difference is not None:
        which = "all" if compared.model.shares_drift else f"the {sharing} days with under {RUNS_FOR_A_DRIFT} runs"
        findings.append(f"too few runs to find the drift of each day: one drift is taken for {which}")
    findings += doubtful_in_words([run.doubtful for run in given.runs])
    return tuple(findings)
