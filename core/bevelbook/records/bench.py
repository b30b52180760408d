"""Work on a diff at the bench, step by step: which job, and when each step was begun and done.

What a step finds or weighs is in the records of its own: the opening, the build, the weighing.
"""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, record, reference, text
from bevelbook.declare.vocabulary import BENCH_WAYS, BUILD_KINDS, YES_NO

WRITTEN_AT_THE_BENCH: Final = frozenset({"bench_job", "bench_step"})
"""The kinds that the bench writes as it goes; nobody types them."""


@record
class BenchJob:
    diff: str = reference("diff", "The diff on the bench")
    kind: str = choice(BUILD_KINDS, "What is done", facet=True)
    way: str = choice(BENCH_WAYS, "Every step, or only those that take a number or a decision")
    begun_at: str = text("When it was begun, UTC")
    like: str | None = reference("build", "The build it is done like", default=None, followed=False)
    ends: str | None = reference("build", "The build that was in the diff", default=None, followed=False)
    opening: str | None = reference("opening", "The opening that it made", default=None, followed=False)
    build: str | None = reference("build", "The build that it made", default=None, followed=False)
    person: str | None = reference("person", "Who began it", default=None, followed=False)
    done_at: str | None = text("When it was done, UTC", default=None)
    given_up: str | None = text("Why it was given up", default=None)
    at_step: str | None = text("The step that comes next", default=None)


@record
class BenchStep:
    job: str = reference("bench_job", "The job")
    step: str = text("Key of the step in the procedure")
    title: str = text("The step as the procedure called it")
    begun_at: str = text("When it was begun, UTC")
    until_at: str | None = text("When the wait that belongs to it ends, UTC", default=None)
    done_at: str | None = text("When it was done, UTC", default=None)
    left_out: str | None = text("Why it was left out", default=None)
    note: str | None = text("Anything else", default=None)
    waits: str | None = choice(YES_NO, "Whether it waits, without hands: drying, standing, resting", default=None)
