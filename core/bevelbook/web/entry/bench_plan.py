"""The plan that the bench works from: its diffs in their order, what to do with each, and what is done."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

from bevelbook.declare.vocabulary import LEAVE_IT
from bevelbook.display.days import to_come_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.planning.kept_plans import LineKept, PlanInBook
from bevelbook.planning.plan_in_use import OilPlanned, oil_planned, plan_in_use
from bevelbook.reports.bench import JobOnBench
from bevelbook.web.shared.acts_here import form_of_act
from bevelbook.web.shared.writing_here import FormOffered


class PlannedWork(NamedTuple):
    """A line of the plan: which diff (by id and name) and where, what to do and the oil that goes in, and why.

    ``form`` is where it is done, and ``job`` the one (by id) that goes on with it; ``done`` says what was done of it.
    """

    diff: str
    label: str
    where: str
    act: str
    oil: str
    why: str
    form: FormOffered | None
    job: str | None
    done: str


class BenchPlan(NamedTuple):
    """The plan on the bench: of what it is, how far off that is, its lines, and the diffs to leave, by name."""

    event: str | None
    title: str
    far: str
    work: tuple[PlannedWork, ...]
    leave: tuple[str, ...]


def bench_plan_of(connection: sqlite3.Connection, jobs: Mapping[str, str], today: date) -> BenchPlan | None:
    """The plan to work from, with the jobs that go on (by id, by diff); None where none is kept."""
    plan = plan_in_use(connection, today)
    if plan is None:
        return None
    work = tuple(_work(line, jobs.get(line.diff)) for line in plan.lines if line.act != LEAVE_IT)
    leave = tuple(with_mark(line.label, line.mark) for line in plan.lines if line.act == LEAVE_IT)
    far = to_come_in_words(plan.first_on, plan.last_on, today) if plan.first_on else ""
    return BenchPlan(plan.event, _title(plan), far, work, leave)


def _title(plan: PlanInBook) -> str:
    return f"Plan for {plan.event_name}" if plan.event_name else "What was due"


def _work(line: LineKept, job: str | None) -> PlannedWork:
    where = " ".join(one for one in (line.car_name or "spare", line.position) if one)
    return PlannedWork(
        line.diff,
        with_mark(line.label, line.mark),
        where,
        line.act,
        line.oil or "",
        line.why or "",
        form_of_act(line.act, line.label, line.build, line.build_label),
        job,
        line.done.removeprefix("done: "),
    )


def oil_of_job(connection: sqlite3.Connection, job: JobOnBench, today: date) -> OilPlanned | None:
    """The oil that the plan has for the diff on which a job was begun after it; None where it has none."""
    plan = plan_in_use(connection, today)
    return oil_planned(plan, job.diff, job.ends) if plan is not None and job.begun_at > plan.made_at else None
