"""What is otherwise than in a plan that was kept: the forecast, the cars, and what each diff needs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT
from bevelbook.facts.runs import count_of

_OF_EVENT: Final = {
    "venue_name": "where",
    "first_on": "first day",
    "last_on": "last day",
    "air": "air",
    "track": "track",
    "grip": "grip",
}
_NOT_SAID: Final = "not said"
Said = Mapping[str, Any]
"""A plan as data (``MadePlan.as_dict``), or a part of it."""


class PlanChange(NamedTuple):
    """What is otherwise than in a kept plan, about a diff (by id and label); both empty where it is about the event."""

    diff: str
    label: str
    words: str


class SincePlan(NamedTuple):
    """A plan that was kept (by id, with when in words), and what changed since."""

    plan: str
    kept: str
    changes: tuple[PlanChange, ...]


def changes_since(then: Said, now: Said) -> tuple[PlanChange, ...]:
    """What changed between two plans as data: first what is about the event, then diff by diff as it is now. Where one
    is a plan for an event and the other for a usual day, nothing is said of weather, days and cars.

    A diff is the one of the same id, else of the same name: in a copy for others the ids are other ones.
    """
    return tuple(_changes(then, now))


def _changes(then: Said, now: Said) -> Iterator[PlanChange]:
    event_then, event_now = then.get("event"), now.get("event")
    if event_then and event_now:
        for words in _of_event(event_then, event_now):
            yield PlanChange("", "", words)
    before, after = _lines(then), _lines(now)
    called = {line.get("label"): diff for diff, line in before.items()}
    for diff, line in after.items():
        was = before.pop(diff if diff in before else called.get(line.get("label"), ""), None)
        for words in _of_diff(was, line) if was else [f"new in the plan: {line.get('what')}"]:
            yield PlanChange(diff, str(line.get("label")), words)
    for diff, line in before.items():
        yield PlanChange(diff, str(line.get("label")), "not in the plan any more")


def _lines(said: Said) -> dict[str, Said]:
    of_cars = [line for car in said.get("cars", ()) for line in car.get("lines", ())]
    return {line["diff"]: line for line in (*of_cars, *said.get("spares", ()))}


def _of_event(then: Said, now: Said) -> Iterator[str]:
    for key, noun in _OF_EVENT.items():
        was, is_now = _value(then.get(key)), _value(now.get(key))
        if was != is_now:
            yield f"{noun}: {is_now}, was {was}"
    runs_then, runs_now = _runs(then.get("cars", ())), _runs(now.get("cars", ()))
    for name, runs in runs_now.items():
        if name not in runs_then:
            yield f"{name} goes too"
        elif runs_then[name] != runs:
            yield f"{name}: {_planned(runs)}, was {_planned(runs_then[name])}"
    for name in runs_then:
        if name not in runs_now:
            yield f"{name} does not go any more"


def _runs(cars: Sequence[Said]) -> dict[str, float | None]:
    return {one["name"]: one.get("runs") for one in cars}


def _planned(runs: float | None) -> str:
    return "runs not said" if runs is None else f"{count_of(runs)} planned"


def _value(value: Any) -> str:
    """A temperature range, or a single value, in words."""
    if isinstance(value, Mapping):
        ends = sorted({one for one in (value.get("low_c"), value.get("high_c")) if one is not None})
        return f"{' to '.join(f'{one:g}' for one in ends)} °C" if ends else _NOT_SAID
    return _NOT_SAID if value is None else str(value)


def _of_diff(then: Said, now: Said) -> Iterator[str]:
    why = "; ".join(now.get("reasons", ()))
    if now.get("done"):
        yield str(now["done"])
    if then.get("act") != now.get("act"):
        yield f"{now.get('what')}, was {then.get('what')}" + (f": {why}" if why else "")
    elif then.get("reasons") != now.get("reasons") and why and now.get("act") != LEAVE_IT:
        came, went = (
            "; ".join(reason for reason in one.get("reasons", ()) if reason not in other.get("reasons", ()))
            for one, other in ((now, then), (then, now))
        )
        yield f"still {now.get('act')}, {f'now: {came}' if came else f'no longer: {went}' if went else f'now: {why}'}"
    if then.get("where") != now.get("where"):
        yield f"in {now.get('where')}, was in {then.get('where')}"
    if then.get("runs_planned") != now.get("runs_planned"):
        yield f"{_planned(now.get('runs_planned'))}, was {_planned(then.get('runs_planned'))}"
    oil_then, oil_now = (_oils(one) for one in (then, now))
    if oil_then != oil_now and (oil_then or oil_now):
        yield f"oil: {oil_now or 'none goes in'}, was {oil_then or 'none'}"


def _oils(line: Said) -> str:
    return "; ".join(one.get("words", "") for one in line.get("oils", ()))
