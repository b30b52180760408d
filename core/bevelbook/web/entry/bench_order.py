"""The screens of a job at the bench in their order: every step, or where it is made the same again, fewer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.card.procedure import ProcedureStep
from bevelbook.declare.vocabulary import SAME_AGAIN
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.entry.found_screens import declared_screens
from bevelbook.web.entry.generic_step import GENERIC, asks_for_number
from bevelbook.web.entry.steps.step_screen import StepScreen

AS_USUAL: Final = "as_usual"
"""In place of a step's key: the list of all that is the same again. No key of a step has an underscore."""
_FILLS: Final = ("weigh-dry", "pour")
"""The list comes before the first step of these screens: what goes in has to be settled by then."""


class PlacedStep(NamedTuple):
    """A step with its screen, and whether the work leads through it: else it is on the list of what is the same."""

    step: ProcedureStep
    screen: StepScreen
    is_asked: bool

    @property
    def key(self) -> str:
        return self.step.key


def screen_of(step: ProcedureStep) -> StepScreen:
    """The screen that a step names, else the one made of what it writes down."""
    return declared_screens().get(step.screen, GENERIC)


def placed_steps(job: JobOnBench, steps: Iterable[ProcedureStep]) -> tuple[PlacedStep, ...]:
    """The steps of a job, each with its screen."""
    return tuple(PlacedStep(step, screen_of(step), _is_asked(job, step)) for step in steps)


def _is_asked(job: JobOnBench, step: ProcedureStep) -> bool:
    if job.way != SAME_AGAIN:
        return True
    screen = screen_of(step)
    return asks_for_number(step) if screen is GENERIC else screen.asks


def keys_in_order(job: JobOnBench, steps: Sequence[PlacedStep]) -> list[str]:
    """The keys through which the work leads, with the list of what is the same again in its place."""
    keys = [one.key for one in steps if one.is_asked]
    if job.way != SAME_AGAIN or all(one.is_asked for one in steps):
        return keys
    first = _first_that_fills(steps)
    place = len(keys) if first is None else keys.index(first.key)
    return [*keys[:place], AS_USUAL, *keys[place:]]


def ticked_with_the_list(steps: Sequence[PlacedStep]) -> Iterator[PlacedStep]:
    """The steps before the list that the work does not lead through: they are ticked off with it."""
    first = _first_that_fills(steps)
    before = steps if first is None else steps[: steps.index(first)]
    return (one for one in before if not one.is_asked)


def _first_that_fills(steps: Iterable[PlacedStep]) -> PlacedStep | None:
    return next((one for one in steps if one.step.screen in _FILLS and one.is_asked), None)


def is_over(job: JobOnBench, key: str) -> bool:
    """Whether a step, or the list, was done or left out."""
    noted = job.steps.get(key)
    return noted is not None and noted.is_over


def still_to_do(job: JobOnBench, steps: Sequence[PlacedStep]) -> Iterator[str]:
    """The keys of what is still to be done before the job is, in their order; what may stay open is not among them."""
    open_ended = {one.key for one in steps if one.screen.may_stay_open}
    return (key for key in keys_in_order(job, steps) if not is_over(job, key) and key not in open_ended)


def key_after(job: JobOnBench, steps: Sequence[PlacedStep], key: str | None) -> str | None:
    """Where the work goes on after a step: the next one that is not over, else the first of those before it that is
    not; None at the end."""
    keys = keys_in_order(job, steps)
    place = keys.index(key) + 1 if key in keys else _place_of(keys, steps, key)
    waiting = [one for one in (*keys[place:], *keys[:place]) if not is_over(job, one)]
    return waiting[0] if waiting else None


def place_of_work(job: JobOnBench, steps: Sequence[PlacedStep]) -> str | None:
    """Where a job is: at a step that was begun and is not over though the work does not lead through it, else at the
    first that is not over; None at the end."""
    keys = keys_in_order(job, steps)
    begun = (one.key for one in steps if one.key in job.steps and one.key not in keys and not one.screen.may_stay_open)
    return next((key for key in begun if not is_over(job, key)), None) or key_after(job, steps, None)


def _place_of(keys: Sequence[str], steps: Sequence[PlacedStep], key: str | None) -> int:
    """Where the work goes on after a step that it does not lead through: at the list if that is not done, or at its
    own place."""
    if key is None:
        return 0
    if AS_USUAL in keys:
        return keys.index(AS_USUAL)
    before = {one.key for one in steps[: next((n for n, one in enumerate(steps) if one.key == key), 0)]}
    return sum(one in before for one in keys)
