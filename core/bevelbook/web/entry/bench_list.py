"""The steps of a job at the bench as a list: each done, now or to come, with its times."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.card.bench_steps import step_words, steps_of_job
from bevelbook.card.procedure import Procedure
from bevelbook.reports.bench import JobOnBench, NotedStep, job_on_bench
from bevelbook.web.entry.bench_order import AS_USUAL, PlacedStep, keys_in_order, place_of_work, placed_steps

NOW: Final = "now"
TO_COME: Final = "to come"
MAY_STAY_OPEN: Final = "to come, may be left open"


class ListedStep(NamedTuple):
    """A line of the list: the step, how far it is in words, and whether it is the one to go on with."""

    key: str
    title: str
    words: str
    is_now: bool
    is_over: bool


class BenchList(NamedTuple):
    """A job with its steps; ``goes_on`` is the key to go on with, None where all that is asked for is over."""

    job: JobOnBench
    placed: tuple[PlacedStep, ...]
    lines: tuple[ListedStep, ...]
    goes_on: str | None


def bench_list_of(connection: sqlite3.Connection, procedure: Procedure, job_id: str) -> BenchList | None:
    """The list of a job by its id; None if there is no such job."""
    job = job_on_bench(connection, job_id)
    if job is None:
        return None
    steps = placed_steps(job, steps_of_job(connection, procedure, job))
    goes_on = place_of_work(job, steps) if job.is_open else None
    return BenchList(job, steps, tuple(_lines(job, steps, goes_on)), goes_on)


def _lines(job: JobOnBench, steps: Sequence[PlacedStep], goes_on: str | None) -> Iterator[ListedStep]:
    keys = keys_in_order(job, steps)
    after_list = keys[keys.index(AS_USUAL) + 1] if AS_USUAL in keys[:-1] else None
    for one in steps:
        if one.key == after_list:
            yield _line(AS_USUAL, f"As {job.like_label}", job.steps.get(AS_USUAL), goes_on, "")
        usual = MAY_STAY_OPEN if one.screen.may_stay_open else "" if one.is_asked else f"as {job.like_label}"
        yield _line(one.key, one.step.heading, job.steps.get(one.key), goes_on, usual)
    if keys and keys[-1] == AS_USUAL:
        yield _line(AS_USUAL, f"As {job.like_label}", job.steps.get(AS_USUAL), goes_on, "")
    known = {one.key for one in steps} | {AS_USUAL}
    for noted in job.steps.values():
        if noted.key not in known:
            yield ListedStep("", noted.title, f"{step_words(noted)}; not in these steps any more", False, noted.is_over)


def _line(key: str, title: str, noted: NotedStep | None, goes_on: str | None, usual: str) -> ListedStep:
    words = step_words(noted) if noted else NOW if key == goes_on else usual or TO_COME
    return ListedStep(key, title, words, key == goes_on, noted is not None and noted.is_over)
