"""A job at the bench written down: begun, each step saved with all that it wants, left out, ended, given up.

Everything here runs inside the transaction of one form, which is one entry.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping
from datetime import date
from hashlib import blake2b
from typing import Any, Final, NamedTuple

from bevelbook.card.bench_steps import steps_of_job
from bevelbook.card.procedure import Procedure, ProcedureStep
from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import NEW, OIL_CHANGE, SAME_AGAIN, TOP_UP
from bevelbook.display.clock import clock_in_words
from bevelbook.display.format import format_value
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.bench import TICKED_OFF
from bevelbook.facts.builds import last_build_sql
from bevelbook.facts.openings import FIRST_OPENING
from bevelbook.facts.standing import standing_sql
from bevelbook.plugin.registry import Registry
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.reports.bench import JobOnBench, job_on_bench, open_job_of, records_of_step
from bevelbook.reports.bench_waits import LID_UP
from bevelbook.reports.opening_of_job import kept_for_opening, kept_in_words, note_with_kept
from bevelbook.saving.record import WantedRecord
from bevelbook.store.ids import now_utc
from bevelbook.store.writing import Writer
from bevelbook.taking_back.words import when
from bevelbook.web.entry.as_usual import differing
from bevelbook.web.entry.bench_mass import ask_about_masses
from bevelbook.web.entry.bench_order import (
    AS_USUAL,
    PlacedStep,
    place_of_work,
    placed_steps,
    screen_of,
    still_to_do,
    ticked_with_the_list,
)
from bevelbook.web.entry.pouring_step import OF_ANOTHER_OIL
from bevelbook.web.entry.sent import Saver
from bevelbook.web.entry.steps.rest import MINUTES
from bevelbook.web.entry.steps.step_screen import THIS_BUILD, THIS_OPENING, StepCourse, Unwanted
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes

REST_AS_USUAL: Final = "The rest as usual"
"""In place of the title of the step that comes next, where all is done that is asked for."""
REST: Final = "rest"
"""The screen of the rest on paper."""
OPENED_ON: Final = "openings.opened_on"
"""What the step writes down that opens the diff."""
_JOB: Final = BY_NAME["bench_job"]
_STEP: Final = BY_NAME["bench_step"]
_BEFORE_DIGEST: Final = "."
_USUAL_REASON: Final = {OIL_CHANGE: "oil change", TOP_UP: "top-up"}
"""Why a diff is opened, where the kind of the job says it."""
_LIKE_BEFORE: Final = (OIL_CHANGE, TOP_UP)
"""Kinds in which most of what is in the diff stays in it, so that the new build has it from the one before."""


class JobBegun(NamedTuple):
    """What a person chose for a job; ``like`` is the build that it is done like, by name."""

    diff: str
    kind: str
    way: str
    like: str | None = None


class StepSavedMeanwhileError(InputError):
    """The step was saved by somebody else since its screen was drawn; ``stored`` are the words for what was."""

    def __init__(self, title: str, by: str | None, at: str, stored: str) -> None:
        self.stored = stored
        super().__init__(
            f"{title} was changed meanwhile{f' by {by}' if by else ''}{f' at {clock_in_words(at)}' if at else ''}",
            code="changed_meanwhile",
            remedy="Choose which is right. Nothing was stored yet.",
        )


class StepSent(NamedTuple):
    """A screen that came back: when it was drawn, and the version of the step that it was drawn with.

    ``is_over_theirs`` if the person saw that it was saved meanwhile and wants this stored all the same.
    """

    form: TypedForm
    begun_at: str
    seen: str
    is_over_theirs: bool = False


def step_version(connection: sqlite3.Connection, job: JobOnBench, key: str, step: ProcedureStep | None) -> str:
    """What is written down about a step, as a mark: its version, and a digest of what is stored for it, which another
    page may change too. Empty where nothing is written down yet; the list has no ``step``."""
    noted = job.steps.get(key)
    row = connection.execute("SELECT version FROM bench_steps WHERE id = ?", (noted.id,)).fetchone() if noted else None
    if row is None:
        return ""
    stored = stored_by_step(connection, job, step) if step else ""
    return f"{row[0]}{_BEFORE_DIGEST}{blake2b(stored.encode(), digest_size=8).hexdigest()}"


def stored_by_step(connection: sqlite3.Connection, job: JobOnBench, step: ProcedureStep) -> str:
    """What is stored for what a step writes down, in words: ``mass 14.20 g``."""
    listed = (one for one in step.write_down if " " not in one)
    columns = [one.partition(".")[::2] for one in dict.fromkeys((*listed, *screen_of(step).stores(step)))]
    noted = job.steps.get(step.key)
    note = kept_in_words(noted.note, job.opening is not None) if noted else ""
    said = [note] if note else []
    for table, name in columns:
        kind = BY_TABLE[table]
        field = kind.field(name)
        for row_id in _rows_of_step(connection, job, step.key, kind):
            value = shown_values(connection, kind, row_id).get(name)
            if value is not None:
                said.append(f"{field.words} {format_value(value, field)}")
    return "; ".join(said)


def _rows_of_step(connection: sqlite3.Connection, job: JobOnBench, key: str, kind: Kind) -> list[str]:
    """The records of a kind to which a step writes: opening, build, diff, or those that it stored itself."""
    if kind.name in ("opening", "build", "diff"):
        held = {"opening": job.opening, "build": job.build, "diff": job.diff}[kind.name]
        return [held] if held else []
    return records_of_step(connection, job, key, kind.table)[::-1] if "build" in kind.columns else []


class BenchWriter:
    """Writes the jobs of one transaction, in the name of ``by``."""

    def __init__(self, saver: Saver, registry: Registry, procedure: Procedure, by: str | None) -> None:
        self.connection = saver.connection
        self._saver = saver
        self._registry = registry
        self._procedure = procedure
        self._by = by
        self._now = now_utc()
        self._writer = Writer(self.connection, by)

    def begin(self, chosen: JobBegun) -> str:
        """Begin a job on a diff (by id); returns its id. Raises InputError if another goes on with that diff."""
        going_on = open_job_of(self.connection, chosen.diff)
        if going_on is not None:
            raise InputError(
                f"{going_on.diff_label} is on the bench already, since {clock_in_words(going_on.begun_at)}",
                code="already_there",
                remedy="Take that up, or give it up first. Nothing was stored.",
            )
        ends, opening = self.connection.execute(
            f"SELECT b.id, {FIRST_OPENING} FROM diffs d LEFT JOIN builds b ON b.id = {last_build_sql('d.id')} "
            "WHERE d.id = ?",
            (chosen.diff,),
        ).fetchone()
        if chosen.kind == NEW:
            ends = opening = None
        like = chosen.like if chosen.way == SAME_AGAIN else ends if chosen.kind in _LIKE_BEFORE else None
        if chosen.way == SAME_AGAIN and like is None:
            raise InputError(
                "there is no build yet that it could be done like",
                code="missing_input",
                remedy="Go step by step. Nothing was stored.",
            )
        values = {
            "diff": chosen.diff,
            "kind": chosen.kind,
            "way": chosen.way,
            "begun_at": self._now,
            "like": like,
            "ends": ends,
            "opening": opening,
            "person": self._person(),
        }
        job_id = self._writer.insert(_JOB, values)
        self._go_on(self._job(job_id))
        return job_id

    def save_step(self, job_id: str, key: str, sent: StepSent) -> None:
        """Save what a screen wants, with the step. Raises InputError, Question and what a Saver raises."""
        job, placed = self._placed(job_id, key)
        self._refuse_ended(job)
        meanwhile = self._saved_meanwhile(job, key, placed.step, sent)
        try:
            is_same = self._save_step(job, placed, sent)
        except InputError as fault:
            raise meanwhile or fault from fault.__cause__
        if meanwhile is not None and not is_same:
            raise meanwhile
        self._go_on(self._job(job_id))

    def _save_step(self, job: JobOnBench, placed: PlacedStep, sent: StepSent) -> bool:
        """Save what a screen wants; whether all of it was stored before, by another phone."""
        step, screen = placed.step, placed.screen
        noted, made = job.steps.get(step.key), (job.opening, job.build)
        saved_before = len(self._saver.saved)
        course = StepCourse()
        if screen.course is not None:
            course = screen.course(self.connection, self._registry, job, step, sent.form)
        wanted = screen.wanted(self.connection, job, step, sent.form)
        if job.build is None and any(map(_needs_build, wanted)):
            job = self._with_build(job)
            wanted = screen.wanted(self.connection, job, step, sent.form)
        kept = self._kept_until_opened(job, step, wanted)
        if kept is not None:
            course = course._replace(note=note_with_kept(course.note or (noted.note if noted else None), kept))
            wanted = [one for one in wanted if isinstance(one, Unwanted) or one.name != THIS_OPENING]
        job = self._save(job, wanted)
        is_same = (
            noted is not None
            and made == (job.opening, job.build)
            and all(one.done == "nothing" for one in self._saver.saved[saved_before:])
            and not any(isinstance(one, Unwanted) for one in wanted)
            and noted.left_out is None
            and course.is_over == noted.is_over
            and course.note in (None, noted.note)
        )
        if is_same and noted is not None:
            course = course._replace(until_at=noted.until_at)
        ask_about_masses(self.connection, job, self._saver.saved[saved_before:], sent.form)
        self._note(job, step, sent.begun_at, course)
        screen.after(self.connection, self._job(job.id), sent.form)
        return is_same

    def save_as_usual(self, job_id: str, sent: StepSent) -> None:
        """Make the build as the other one, with what differs in it, and tick off what comes before the list."""
        job = self._job(job_id)
        self._refuse_ended(job)
        texts = differing(self.connection, job, sent.form)
        meanwhile = self._saved_meanwhile(job, AS_USUAL, None, sent)
        if job.build is None:
            job = self._with_build(job, texts)
        elif texts:
            given = {**dict.fromkeys(OF_ANOTHER_OIL, ""), **texts} if "fluid" in texts else texts
            job = self._save(job, [WantedRecord(BY_NAME["build"], given, THIS_BUILD)])
        if meanwhile is not None and any(one.done != "nothing" for one in self._saver.saved):
            raise meanwhile
        self._tick_off(job, ticked_with_the_list(self.placed(job)), sent.begun_at)
        listed = ProcedureStep(AS_USUAL, f"As {job.like_label}", "")
        self._note(self._job(job_id), listed, sent.begun_at, StepCourse())
        self._go_on(self._job(job_id))

    def leave_out(self, job_id: str, key: str, sent: StepSent, why: str) -> None:
        """Leave a step out. Raises InputError where it was done meanwhile."""
        job, placed = self._placed(job_id, key)
        self._refuse_ended(job)
        meanwhile = self._saved_meanwhile(job, key, placed.step, sent)
        if meanwhile is not None and job.steps[key].left_out is None:
            raise meanwhile
        self._set_step(
            job,
            key,
            {"title": placed.step.title, "begun_at": sent.begun_at, "done_at": None, "until_at": None, "left_out": why},
        )
        self._go_on(self._job(job_id))

    def end(self, job_id: str) -> None:
        """End a job; of one made the same again all that is left on the list was done as usual."""
        job = self._job(job_id)
        self._refuse_ended(job)
        self._refuse_done(job)
        if job.build is None:
            raise InputError(
                "nothing of the new build is stored yet",
                code="missing_input",
                remedy="Go on with the next step, or give the job up. Nothing was stored.",
            )
        if job.way == SAME_AGAIN:
            waiting = (one for one in self.placed(job) if not one.is_asked and not one.screen.may_stay_open)
            self._tick_off(job, waiting, self._now)
            self._begin_rest(job)
        self._writer.update(_JOB, job_id, {"done_at": self._now, "at_step": None})

    def _begin_rest(self, job: JobOnBench) -> None:
        """Begin the rest on paper, so that somebody is reminded to turn the diff over."""
        for one in self.placed(job):
            if one.step.screen == REST and one.key not in job.steps:
                until = after_minutes(self._now, MINUTES)
                self._note(job, one.step, self._now, StepCourse(False, until, LID_UP))

    def give_up(self, job_id: str, why: str) -> None:
        """Give a job up; what it stored stays."""
        job = self._job(job_id)
        self._refuse_ended(job, f" What was typed here: {why}.")
        self._refuse_done(job, f" What was typed here: {why}.")
        self._writer.update(_JOB, job_id, {"given_up": why, "at_step": None})

    def placed(self, job: JobOnBench) -> tuple[PlacedStep, ...]:
        """The steps of a job with their screens."""
        return placed_steps(job, steps_of_job(self.connection, self._procedure, job))

    def _job(self, job_id: str) -> JobOnBench:
        found = job_on_bench(self.connection, job_id)
        if found is None:
            raise _gone("this job")
        return found

    def _placed(self, job_id: str, key: str) -> tuple[JobOnBench, PlacedStep]:
        job = self._job(job_id)
        found = next((one for one in self.placed(job) if one.key == key), None)
        if found is None:
            raise _gone("this step")
        return job, found

    def _refuse_ended(self, job: JobOnBench, kept: str = "") -> None:
        """Raise InputError for a job that was given up, or where the clock is behind its beginning.

        ``kept`` is what was typed, in a sentence, where the page has no field for it any more.
        """
        if job.given_up is not None:
            raise InputError(
                f"this job was given up{self._by_and_when(job)}: {job.given_up}",
                code="already_there",
                remedy=f"Begin another one at the bench. Nothing was stored.{kept}",
            )
        if self._now < job.begun_at:
            raise InputError(
                f"the laptop's clock says {when(self._now)}, and this job was begun at {when(job.begun_at)}",
                code="clock_behind",
                remedy="Set the laptop's clock right, and send it again. Nothing was stored.",
            )

    def _refuse_done(self, job: JobOnBench, kept: str = "") -> None:
        """Raise InputError for a job that is done; only its steps can still be corrected."""
        if job.done_at is not None:
            raise InputError(
                f"this job was ended{self._by_and_when(job)}",
                code="already_there",
                remedy=f"Correct a step of it, or begin another one at the bench. Nothing was stored.{kept}",
            )

    def _by_and_when(self, job: JobOnBench) -> str:
        """Who wrote the job last, and when."""
        row = self.connection.execute(
            "SELECT e.made_by, e.made_at FROM bench_jobs j JOIN entries e ON e.id = j.version WHERE j.id = ?", (job.id,)
        ).fetchone()
        if row is None:
            return ""
        return f"{f' by {row[0]}' if row[0] else ''} at {clock_in_words(row[1])}"

    def _saved_meanwhile(
        self, job: JobOnBench, key: str, step: ProcedureStep | None, sent: StepSent
    ) -> StepSavedMeanwhileError | None:
        """The error for a step, None for the list, that was saved since its screen was drawn; None where it was not."""
        now = step_version(self.connection, job, key, step)
        if now in ("", sent.seen) or sent.is_over_theirs:
            return None
        title = step.title if step else f"As {job.like_label}"
        stored = stored_by_step(self.connection, job, step) if step else ""
        version = now.partition(_BEFORE_DIGEST)[0]
        if version == sent.seen.partition(_BEFORE_DIGEST)[0]:
            return StepSavedMeanwhileError(title, None, "", stored)
        row = self.connection.execute("SELECT made_by, made_at FROM entries WHERE id = ?", (version,)).fetchone()
        return StepSavedMeanwhileError(title, row[0] if row else None, row[1] if row else "", stored)

    def _save(self, job: JobOnBench, wanted: Iterable[WantedRecord | Unwanted]) -> JobOnBench:
        """Save records, with the opening and the build of the job in place of what stands for them."""
        for one in wanted:
            if isinstance(one, Unwanted):
                self._writer.remove(one.kind, one.row_id)
                continue
            if _needs_opening(one) and job.opening is None:
                texts = one.texts if one.name == THIS_OPENING else {}
                job = self._with_opening(job, texts)
                if one.name == THIS_OPENING:
                    continue
            held = {THIS_BUILD: job.build or "", THIS_OPENING: job.opening or ""}
            texts = {name: held.get(text, text) for name, text in one.texts.items()}
            name = None if one.name is None else held.get(one.name, one.name)
            self._saver.save(one.kind.name, texts, name)
        return job

    def _kept_until_opened(
        self, job: JobOnBench, step: ProcedureStep, wanted: Iterable[WantedRecord | Unwanted]
    ) -> dict[str, str] | None:
        """What a step saw of a diff that is still closed, to be written into the opening once it is opened; None where
        that is not so. Raises InputError for what cannot be."""
        if job.opening is not None or job.ends is None:
            return None
        steps = [one.step for one in self.placed(job)]
        opens = next((place for place, one in enumerate(steps) if OPENED_ON in one.write_down), 0)
        if step.key not in [one.key for one in steps[:opens]]:
            return None
        texts: dict[str, str] = {}
        for one in wanted:
            if isinstance(one, WantedRecord) and one.name == THIS_OPENING:
                texts |= one.texts
        if not texts:
            return None
        kind = BY_NAME["opening"]
        for name, text in texts.items():
            if text:
                read(kind.field(name), text, BY_HAND)
        noted = job.steps.get(step.key)
        own = kept_for_opening(job._replace(steps={step.key: noted} if noted else {}))
        return {**own, **texts}

    def _with_opening(self, job: JobOnBench, texts: Mapping[str, str]) -> JobOnBench:
        """The job with the opening of the build that it ends."""
        if job.ends is None:
            raise InputError(
                "there is no build before that was opened",
                code="missing_input",
                remedy="Leave this step out. Nothing was stored.",
            )
        usual = {"opened_on": date.today().isoformat()}
        if job.kind in _USUAL_REASON:
            usual["reason"] = _USUAL_REASON[job.kind]
        given = {**kept_for_opening(job), **{name: text for name, text in texts.items() if text}}
        saved = self._saver.save("opening", {"build": job.ends, **usual, **given})
        self._writer.update(_JOB, job.id, {"opening": saved.row_id})
        return self._job(job.id)

    def _with_build(self, job: JobOnBench, differing_texts: Mapping[str, str] | None = None) -> JobOnBench:
        """The job with its build: begun today, with all that the build it is done like has but for what differs."""
        if job.ends is not None and job.opening is None:
            job = self._with_opening(job, {})
        texts = {"diff": job.diff, "built_on": date.today().isoformat(), "kind": job.kind}
        like = {"like": job.like} if job.like else {}
        saved = self._saver.save("build", {**texts, **like, **(differing_texts or {})})
        self._writer.update(_JOB, job.id, {"build": saved.row_id})
        return self._job(job.id)

    def _tick_off(self, job: JobOnBench, steps: Iterable[PlacedStep], begun_at: str) -> None:
        for one in steps:
            if one.key not in job.steps:
                self._note(job, one.step, begun_at, StepCourse(note=TICKED_OFF))

    def _note(self, job: JobOnBench, step: ProcedureStep, begun_at: str, course: StepCourse) -> None:
        """Write down that a step was done, or goes on; one that was left out first begins now."""
        noted = job.steps.get(step.key)
        done_at = (noted.done_at if noted and noted.done_at else self._now) if course.is_over else None
        values = {"title": step.title, "done_at": done_at, "until_at": course.until_at, "left_out": None}
        is_first = noted is None or noted.left_out is not None
        if step.waits or course.until_at or (noted is not None and noted.until_at):
            values["waits"] = "yes"
        elif is_first:
            values["waits"] = "no"
        note = course.note if course.note is not None or noted is None or noted.note == TICKED_OFF else noted.note
        began = begun_at if noted is None or is_first else noted.begun_at
        self._set_step(job, step.key, {**values, "note": note, "begun_at": began})

    def _set_step(self, job: JobOnBench, key: str, values: Mapping[str, Any]) -> None:
        noted = job.steps.get(key)
        if noted is None:
            self._writer.insert(_STEP, {"job": job.id, "step": key, **values})
        else:
            # A correction is a version of its step too: another phone sees by it that its screen is old.
            self._writer.update(_STEP, noted.id, values, even_if_equal=True)

    def _go_on(self, job: JobOnBench) -> None:
        """Set which step comes next; the job is done once all are over that do not stay open."""
        steps = self.placed(job)
        values: dict[str, object] = {}
        if job.is_open:
            following = place_of_work(job, steps)
            by_key: dict[str | None, str] = {one.key: one.step.title for one in steps}
            by_key[AS_USUAL] = f"As {job.like_label}"
            values["at_step"] = by_key.get(following)
            is_all_over = job.build is not None and next(still_to_do(job, steps), None) is None
            if is_all_over and job.way == SAME_AGAIN:
                values["at_step"] = REST_AS_USUAL
            elif is_all_over:
                values = {"done_at": self._now, "at_step": None}
        if values:
            self._writer.update(_JOB, job.id, values)

    def _person(self) -> str | None:
        if not self._by:
            return None
        rows = self.connection.execute(
            f"SELECT DISTINCT {standing_sql('person')} FROM people WHERE name = ? COLLATE NOCASE ORDER BY 1 LIMIT 2",
            (self._by,),
        ).fetchall()
        return str(rows[0][0]) if len(rows) == 1 else None


def _needs_build(one: WantedRecord | Unwanted) -> bool:
    return isinstance(one, WantedRecord) and (one.name == THIS_BUILD or THIS_BUILD in one.texts.values())


def _needs_opening(one: WantedRecord) -> bool:
    return one.name == THIS_OPENING or THIS_OPENING in one.texts.values()


def _gone(what: str) -> InputError:
    return InputError(
        f"{what} is not there any more: it was taken back or removed",
        code="removed_meanwhile",
        remedy="Go back to the bench. Nothing was stored.",
    )
