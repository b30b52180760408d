"""The bench: a diff chosen, a job begun, its list of steps, and the screen of each step."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from datetime import date
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.card.bench_lines import bench_lines
from bevelbook.declare.errors import BevelbookError, InputError, UnknownNameError
from bevelbook.declare.vocabulary import BENCH_WAYS, BUILD_KINDS, NEW, SAME_AGAIN
from bevelbook.display.clock import clock_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.facts.builds import newest_first
from bevelbook.planning.minutes import MinutesOfJobs
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench, jobs_ended, open_jobs
from bevelbook.reports.shelf import shelf_without_advice, with_advice, word_and_why
from bevelbook.store.ids import new_id
from bevelbook.store.lookup import find_id
from bevelbook.web.entry.bench_list import bench_list_of
from bevelbook.web.entry.bench_plan import BenchPlan, PlannedWork, bench_plan_of
from bevelbook.web.entry.bench_screen import AFTER, AGAIN, answer_screen, procedure_of, said_of_step
from bevelbook.web.entry.bench_stop import bench_stop
from bevelbook.web.entry.bench_writing import BenchWriter, JobBegun
from bevelbook.web.entry.request import KEY, EntryRequest, entry_request
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.entry.stops import Stop
from bevelbook.web.host.arguments import any_text, one_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.signs import with_sign
from bevelbook.web.pages.home import most_urgent_diffs
from bevelbook.web.shared.blocks import Words
from bevelbook.web.shared.typed_form import TypedForm

BELOW: Final = r"(/(?P<job>[^/]+)(/(?P<step>[^/]+))?)?"
LIKE: Final = "like"
END: Final = "end"
GIVE_UP: Final = "give_up"
MOST_LIKE: Final = 12
GO_ON: Final = "go_on"
"""In place of a step's key: the step at which the job is. No key of a step has an underscore."""
ENDED: Final = 4
"""Jobs that ended, shown so that a step can still be corrected."""


class BenchDiff(NamedTuple):
    """A diff to choose, by id: its name, what the shelf says of it, whether it was ever built, and its job if one goes
    on."""

    id: str
    label: str
    words: str
    is_built: bool
    job: str | None


class BenchChoice(NamedTuple):
    """All that the first page of the bench shows: the jobs that go on, the last ones that ended, and the diffs.

    ``plan`` is the kept plan that is worked from. ``further`` is how many diffs a long shelf has besides. ``likes`` are
    the builds that the chosen diff may be made like, the last first; ``minutes`` says of each kind of build how long it
    takes, in words. ``is_figure_lacking`` where the team might type that of one.
    """

    jobs: list[JobOnBench]
    ended: list[JobOnBench]
    plan: BenchPlan | None
    diffs: list[BenchDiff]
    further: int
    chosen: BenchDiff | None
    likes: list[str]
    minutes: dict[str, str]
    is_figure_lacking: bool


def bench_choice_of(connection: sqlite3.Connection, diff: str) -> BenchChoice:
    """The open jobs and the diffs; ``diff`` is the name of the chosen one, empty for none. Raises UnknownNameError."""
    jobs = open_jobs(connection)
    by_diff = {job.diff: job.id for job in reversed(jobs)}
    row_id = find_id(connection, BY_NAME["diff"], diff) if diff else None
    shelf = shelf_without_advice(connection)
    most_urgent, further = most_urgent_diffs(shelf)
    shown = [row for row in shelf if row["diff"] == row_id] if row_id else most_urgent
    diffs = [
        BenchDiff(
            row["diff"],
            with_mark(row["label"], row["mark"]),
            word_and_why(row),
            row["build"] is not None,
            by_diff.get(row["diff"]),
        )
        for row in with_advice(connection, shown)
    ]
    chosen = next((one for one in diffs if one.id == row_id), None)
    likes = [] if row_id is None else _likes(connection, row_id)
    work = MinutesOfJobs(connection)
    took = {} if chosen is None else {kind: work.of_build(kind, chosen.id) for kind in _kinds(chosen)}
    return BenchChoice(
        jobs,
        jobs_ended(connection, ENDED),
        bench_plan_of(connection, by_diff, date.today()),
        diffs,
        sum(further.values()),
        chosen,
        likes,
        {kind: one.words for kind, one in took.items()},
        any(one.hands is None and work.may_be_typed(kind) for kind, one in took.items()),
    )


def _kinds(diff: BenchDiff | None) -> list[str]:
    """What can be done with a diff: one that was never built can only be built new."""
    return [kind for kind in BUILD_KINDS if kind == NEW or (diff is not None and diff.is_built)]


def _likes(connection: sqlite3.Connection, diff: str) -> list[str]:
    rows = connection.execute(
        f"SELECT b.label FROM builds b ORDER BY b.diff = ? DESC, {newest_first('b')} LIMIT {MOST_LIKE}", (diff,)
    ).fetchall()
    return [str(row[0]) for row in rows]


async def bench(request: Any, datasette: Any) -> Any:
    """The answer at any address of the bench."""
    from datasette.utils import tilde_decode

    asked = await entry_request(datasette, request)
    job, step = request.url_vars.get("job"), request.url_vars.get("step")
    if job is None:
        return await _choose(asked)
    if step is None:
        return await _job(asked, tilde_decode(job))
    if step == GO_ON:
        return await _go_on(asked, tilde_decode(job))
    return await answer_screen(asked, bench, tilde_decode(job), tilde_decode(step))


async def _go_on(asked: EntryRequest, job_id: str) -> Any:
    """On to the step at which a job is; to its list where none is left."""
    from datasette.utils.asgi import NotFound, Response

    listed = await asked.page.ask(bench_list_of, procedure_of(asked), job_id)
    if listed is None:
        raise NotFound("There is no such job on the bench any more: it was taken back or removed.")
    further = f"/{listed.goes_on}" if listed.goes_on else ""
    return Response.redirect(asked.page.links.page(f"enter/bench/{job_id}{further}"), status=303)


async def _choose(asked: EntryRequest) -> Any:
    """The first page: jobs to take up again, diffs to choose; for a chosen one what is to be done, and how."""
    from datasette.utils.asgi import NotFound

    links, form = asked.page.links, asked.form
    fault: BevelbookError | None = None
    if asked.is_sent:
        procedure, registry = procedure_of(asked), asked.page.registry

        def act(saver: Saver) -> str:
            return BenchWriter(saver, registry, procedure, asked.person).begin(_begun(saver.connection, form))

        done = await send(asked, act, words="from the browser: a job at the bench")
        if not isinstance(done, Stopped):
            job = done.value or await asked.page.ask(_job_of_entry, done.entry)
            listed = await asked.page.ask(bench_list_of, procedure, job) if job else None
            further = f"/{job}/{listed.goes_on}" if listed and listed.goes_on else f"/{job}" if job else ""
            return asked.stored(links.page(f"enter/bench{further}"), done)
        fault = done.fault
    try:
        found = await asked.page.ask(bench_choice_of, form.text("diff") or asked.page.given("diff"))
    except UnknownNameError as unknown:
        raise NotFound(str(unknown.on_page())) from unknown
    return await asked.render(
        PAGE,
        f"Bench: {found.chosen.label}" if found.chosen else "Bench",
        status=400 if fault else 200,
        found=found,
        jobs=[
            (links.page(f"enter/bench/{job.id}/{GO_ON}"), f"Go on with {job.diff_label}", job_words(job))
            for job in found.jobs
        ],
        ended=[(links.page(f"enter/bench/{job.id}"), job.diff_label, job_words(job)) for job in found.ended],
        diffs=[
            (links.page("enter/bench", diff=one.id), one.label, one.words) for one in found.diffs if one.job is None
        ],
        kinds=_kinds(found.chosen),
        kind=form.text("kind") or asked.page.given("kind"),
        plan=None if found.chosen else _plan(asked, found.plan),
        planned=_line_of(found.plan, found.chosen),
        typed=form,
        stop=bench_stop(fault) if fault else Stop(),
        unseen=((KEY, asked.key if fault else new_id()), ("diff", found.chosen.id if found.chosen else "")),
    )


class ShownWork(NamedTuple):
    """A line of the plan on the page: its diff and place, what to do with its sign, the address where that is done or
    where it goes on, and words below; without an address it is done, or nothing is noted for it."""

    label: str
    where: str
    act: Markup
    address: str
    words: str
    done: str


class ShownBenchPlan(NamedTuple):
    """The plan as the list to work from."""

    title: Words
    far: str
    work: list[ShownWork]
    leave: str


def _plan(asked: EntryRequest, plan: BenchPlan | None) -> ShownBenchPlan | None:
    if plan is None:
        return None
    links = asked.page.links
    title = links.to(f"plan/{plan.event}" if plan.event else "plan", plan.title)
    return ShownBenchPlan(title, plan.far, [_shown_work(asked, one) for one in plan.work], ", ".join(plan.leave))


def _line_of(plan: BenchPlan | None, chosen: BenchDiff | None) -> PlannedWork | None:
    """What the plan says of the chosen diff, where that is not done."""
    lines = plan.work if plan and chosen else ()
    return next((one for one in lines if chosen and one.diff == chosen.id and not one.done), None)


def _shown_work(asked: EntryRequest, one: PlannedWork) -> ShownWork:
    links, address = asked.page.links, ""
    if one.job is not None:
        address = links.page(f"enter/bench/{one.job}/{GO_ON}")
    elif one.form is not None and not one.done:
        _, name, given = one.form
        address = links.page(f"enter/{name}", **given)
    oil = f"with {one.oil}" if one.oil else ""
    words = "on the bench: go on" if one.job is not None else "; ".join(part for part in (oil, one.why) if part)
    done = "" if one.job is not None else one.done
    return ShownWork(one.label, one.where, with_sign(one.act), address, words, done)


def _quoted(buttons: Iterable[str]) -> str:
    return ", ".join(f"'{name}'" for name in buttons)


def _begun(connection: sqlite3.Connection, form: TypedForm) -> JobBegun:
    """What was chosen. Raises InputError where something is not, and UnknownNameError."""
    kind, way = form.text("kind"), form.text("way")
    if kind not in BUILD_KINDS:
        raise InputError(
            "what is to be done is not chosen", code="missing_input", remedy=f"Touch one of {_quoted(BUILD_KINDS)}."
        )
    if way not in BENCH_WAYS:
        raise InputError("how is not chosen", code="missing_input", remedy=f"Touch one of {_quoted(BENCH_WAYS)}.")
    diff = find_id(connection, BY_NAME["diff"], form.text("diff"))
    like = form.text(LIKE) if way == SAME_AGAIN else ""
    return JobBegun(diff, kind, way, find_id(connection, BY_NAME["build"], like) if like else None)


def _job_of_entry(connection: sqlite3.Connection, entry: str) -> str | None:
    row = connection.execute("SELECT id FROM bench_jobs WHERE version = ? ORDER BY id LIMIT 1", (entry,)).fetchone()
    return None if row is None else str(row[0])


async def _job(asked: EntryRequest, job_id: str) -> Any:
    """The list of the steps of a job."""
    from datasette.utils.asgi import NotFound

    links, form, procedure = asked.page.links, asked.form, procedure_of(asked)
    fault: BevelbookError | None = None
    if asked.is_sent:
        registry = asked.page.registry

        def act(saver: Saver) -> None:
            writer = BenchWriter(saver, registry, procedure, asked.person)
            if form.text(END):
                writer.end(job_id)
            elif form.text(GIVE_UP):
                writer.give_up(job_id, form.text(GIVE_UP))
            else:
                raise InputError("why it is given up is missing", code="missing_input", remedy="Type a word or two.")

        done = await send(asked, act, words="from the browser: the end of a job at the bench")
        if not isinstance(done, Stopped):
            listed = await asked.page.ask(bench_list_of, procedure, job_id)
            build = listed.job.build if listed and form.text(END) else None
            return asked.stored(links.page(f"card/{build}" if build else "enter/bench"), done)
        fault = done.fault
    listed = await asked.page.ask(bench_list_of, procedure, job_id)
    if listed is None:
        raise NotFound("There is no such job on the bench any more: it was taken back or removed.")
    said = await asked.page.ask(said_of_step, listed, asked.page.given(AFTER))
    named = frozenset(name for one in listed.placed for name in one.step.calculators)
    calculated = await asked.page.ask(bench_lines, asked.page.registry, listed.job, named)
    shown = [(links.page(f"calc/{one.name}", **{"for": _subject(listed.job)}), one) for one in calculated]
    return await asked.render(
        EntryPage("bench-job", bench),
        f"{listed.job.diff_label}: {listed.job.kind}",
        status=400 if fault else 200,
        job=listed.job,
        words=job_words(listed.job),
        listed=listed,
        said=said,
        goes_on=links.page(f"enter/bench/{job_id}/{listed.goes_on}") if listed.goes_on else "",
        goes_on_words=next((line.title for line in listed.lines if line.is_now), ""),
        card=links.page(f"card/{listed.job.build}") if listed.job.build else "",
        stops=[one for one in shown if one[1].is_urgent],
        calculated=[one for one in shown if not one[1].is_urgent],
        may_end=listed.job.is_open and listed.job.build is not None,
        ends_as_usual=listed.job.way == SAME_AGAIN and listed.goes_on is None,
        steps=[(links.page(f"enter/bench/{job_id}/{one.key}") if one.key else "", one) for one in listed.lines],
        stop=bench_stop(fault) if fault else Stop(),
        unseen=((KEY, asked.key if fault else new_id()),),
    )


def _subject(job: JobOnBench) -> str:
    """What the form of a calculator is filled in for."""
    return f"build:{job.build}" if job.build else f"diff:{job.diff}"


def job_words(job: JobOnBench) -> str:
    """What is done, how, since when, and how far it is."""
    how = f"same again as {job.like_label}" if job.way == SAME_AGAIN else job.way
    by = f" by {job.person}" if job.person else ""
    words = f"{job.kind}, {how}, begun{by} {clock_in_words(job.begun_at)}"
    if job.given_up is not None:
        return f"{words}; given up: {job.given_up}"
    if job.done_at is not None:
        return f"{words}; done {clock_in_words(job.done_at)}"
    return f"{words}, at {job.at_step}" if job.at_step else words


PAGE: Final = EntryPage(
    "bench", bench, BELOW, takes=(any_text("diff"), one_of("kind", *BUILD_KINDS), any_text(AFTER), one_of(AGAIN, "yes"))
)
