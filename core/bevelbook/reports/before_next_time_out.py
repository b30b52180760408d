"""What to do before the next time out, most urgent first: for the diffs, ideas, runs without a call, rejected rows.

What is due for a diff is decided in ``due``.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import CHANGE_THE_OIL, LEAVE_IT, LOOK_AT_IT, REBUILD_IT, WEIGH_IT
from bevelbook.facts import diffs
from bevelbook.facts.ideas import last_venue, open_ideas
from bevelbook.facts.job_times import LOOK_OVER, OIL_CHANGE, REBUILD, WEIGH, TypedMinutes
from bevelbook.facts.runs import SAYS_SOMETHING
from bevelbook.facts.sql import Row
from bevelbook.reports import questions
from bevelbook.reports.due import (
    PHRASE_OF,
    URGENCY,
    Decided,
    Due,
    decided,
    due_in_words,
)
from bevelbook.reports.due_reasons import WEIGHINGS_DISAGREE
from bevelbook.reports.shelf import shelf_rows, with_advice

MOST: Final = 5
"""So many are on the first page, which leads to the others."""
MOST_LINES: Final = 12
"""So many are in the check, which has the findings behind them below."""
LONGEST_IDEA: Final = 120
Subject = Literal["diff", "idea", "runs without call", "rejected rows"]
HEADING: Final = "Before the next time out"
_NOTE_LETTERS: Final = 60
_JOB_OF: Final = {REBUILD_IT: REBUILD, CHANGE_THE_OIL: OIL_CHANGE, LOOK_AT_IT: LOOK_OVER, WEIGH_IT: WEIGH}
"""Under which job the team types its minutes."""
_SIGNS: Final = frozenset(
    {
        diffs.LOST_TOO_MUCH,
        diffs.BROKE,
        diffs.NOTCHY,
        diffs.RUNS_REACHED,
        diffs.WET_ON_PAPER,
        diffs.LOST_SOME,
        diffs.CANNOT_TELL,
        WEIGHINGS_DISAGREE,
    }
)
"""Reasons beside which the note of the last weighing is repeated."""
_OPENED_SINCE: Final = f"""
SELECT s.diff FROM diff_facts s JOIN build_facts k ON k.build = s.current_build
WHERE s.word = 'apart' AND k.opened_on >= coalesce((SELECT max(r.run_on) FROM runs r WHERE {SAYS_SOMETHING}), '')
"""
"""Diffs that were opened on the day of the last run that says more than that, or later."""
_LAST_NOTE: Final = """
SELECT substr(note, 1, 200) FROM weighings WHERE build = ?
ORDER BY weighed_on IS NULL, weighed_on DESC, runs DESC, created_at DESC, id DESC LIMIT 1
"""


class Job(NamedTuple):
    """Something to do: ``what`` is a sentence with ``{}`` for the name of what it is about, ``why`` the reasons.

    ``row_id`` is the id of the diff or the idea; None where it is about several rows. ``minutes`` are the team's own
    figure, None where it typed none. ``act`` is what is due for a diff, one of ``PLAN_ACTS``, and ``settle`` what
    settles it or goes with it.
    """

    what: str
    subject: Subject
    row_id: str | None
    name: str
    why: tuple[str, ...]
    minutes: float | None = None
    act: str | None = None
    settle: tuple[str, ...] = ()

    @property
    def after(self) -> str:
        """The reasons, what settles it and the minutes, as they follow what is to be done."""
        why = f"{self.after_in_short}: {'; '.join(self.settle)}" if self.settle else self.after_in_short
        return why if self.minutes is None else f"{why}, about {self.minutes:g} min, your figure"

    @property
    def after_in_short(self) -> str:
        """The reasons alone, for a list that leads to the rest."""
        return f" ({'; '.join(self.why)})" if self.why else ""

    @property
    def words(self) -> str:
        """What to do and why, in one line.

        >>> Job("weigh {}", "diff", "1", "rear-b", ("7 runs since",), 5.0).words
        'weigh rear-b (7 runs since), about 5 min, your figure'
        """
        return f"{self.what.format(self.name)}{self.after}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {**self._asdict(), "words": self.words}


class ToDo(NamedTuple):
    """What is to be done, the most urgent first; the diffs that may stay as they are; and those that are apart, without
    which others ran since."""

    jobs: tuple[Job, ...]
    left: tuple[Due, ...]
    apart: tuple[Due, ...]

    def of(self, diff: str | None) -> ToDo:
        """What is about one diff, by its id; all of it for None."""
        if diff is None:
            return self
        jobs = tuple(one for one in self.jobs if one.row_id == diff)
        return ToDo(jobs, *(tuple(one for one in all_of if one.diff == diff) for all_of in (self.left, self.apart)))

    def lines(self) -> Iterator[str]:
        """The same for people: the first ``MOST_LINES`` numbered, then the diffs that are left as they are."""
        yield from lines_of_jobs(self.jobs)
        if self.left:
            yield f"leave as {'it is' if len(self.left) == 1 else 'they are'}: {_named(self.left)}"
        opened = [one for one in self.apart if one.build is not None]
        if opened:
            yield f"apart, rebuild before {'it runs' if len(opened) == 1 else 'they run'}: {_named(opened)}"
        never_built = [one for one in self.apart if one.build is None]
        if never_built:
            it, runs = ("it", "it runs") if len(never_built) == 1 else ("them", "they run")
            yield f"not built yet, build {it} before {runs}: {_named(never_built)}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "jobs": [one.as_dict() for one in self.jobs],
            "left": [one.as_dict() for one in self.left],
            "apart": [one.as_dict() for one in self.apart],
        }


def _named(some: Sequence[Due]) -> str:
    """The diffs by name, each with its runs left."""
    named = [
        f"{one.label} ({one.runs_left.words})" if one.runs_left is not None else one.label for one in some[:MOST_LINES]
    ]
    more = [f"{len(some) - MOST_LINES} more"] if len(some) > MOST_LINES else []
    return ", ".join((*named, *more))


def lines_of_jobs(jobs: Sequence[Job]) -> Iterator[str]:
    """The first ``MOST_LINES`` of them for people, numbered, and how many more there are."""
    for number, job in enumerate(jobs[:MOST_LINES], start=1):
        yield f"{number}. {job.words}"
    if len(jobs) > MOST_LINES:
        yield f"and {len(jobs) - MOST_LINES} more"


def to_do(connection: sqlite3.Connection) -> ToDo:
    """All that is to be done. What was put by is not in it, except a stop for a diff in use."""
    shelf = shelf_rows(connection)
    found = decided(connection, shelf)
    jobs = _jobs(connection, _ranked(connection, found))
    left = [one for one in found if one.decision.act == LEAVE_IT]
    apart = [one for one in found if one not in left and not _is_to_do(one, _opened_since(connection))]
    return ToDo(
        (*jobs, *_besides_the_shelf(connection)), tuple(map(due_in_words, left)), tuple(map(due_in_words, apart))
    )


def before_next_time_out(connection: sqlite3.Connection) -> tuple[Job, ...]:
    """The same, without what is left as it is."""
    return to_do(connection).jobs


class MostUrgent(NamedTuple):
    """The most urgent of what is to be done, and how much more there is."""

    jobs: tuple[Job, ...]
    more: int


def most_urgent(connection: sqlite3.Connection, shelf: Sequence[Row], most: int = MOST) -> MostUrgent:
    """The first ``most`` of the same. ``shelf`` are all rows of the shelf, with or without advice: the words of these
    alone are made."""
    ranked = _ranked(connection, decided(connection, shelf))
    chosen = {row["diff"]: row for row in with_advice(connection, [one.row for one in ranked[:most]])}
    on_shelf = _jobs(connection, [one._replace(row=chosen[one.row["diff"]]) for one in ranked[:most]])
    others = list(_besides_the_shelf(connection))
    jobs = (*on_shelf, *others)[:most]
    return MostUrgent(jobs, len(ranked) + len(others) - len(jobs))


def jobs_on_shelf(connection: sqlite3.Connection, shelf: Sequence[Row]) -> list[Job]:
    """What is due for the rows of the shelf, which have their advice, the most urgent first."""
    return _jobs(connection, _ranked(connection, decided(connection, shelf)))


def _ranked(connection: sqlite3.Connection, found: Sequence[Decided]) -> list[Decided]:
    """Those of them for which something is to be done, the most urgent first, of one reason the worst first."""
    opened = _opened_since(connection)
    listed = [one for one in found if one.decision.act != LEAVE_IT and _is_to_do(one, opened)]
    return sorted(listed, key=lambda one: (one.decision.urgency, -_how_much(one), one.row["label"], one.row["diff"]))


def _is_to_do(one: Decided, opened: frozenset[str]) -> bool:
    """Whether it is to be done now: a diff that is apart is to be built if it is on the bench, or was opened on the day
    of the last run or later."""
    if not one.state.is_apart or one.row["reasons"] in (diffs.ON_THE_BENCH, diffs.GIVEN_UP):
        return True
    return one.row["diff"] in opened


def _opened_since(connection: sqlite3.Connection) -> frozenset[str]:
    return frozenset(row[0] for row in connection.execute(_OPENED_SINCE))


def _jobs(connection: sqlite3.Connection, ranked: Sequence[Decided]) -> list[Job]:
    """What is due in words, with the minutes and what was noted at the last weighing."""
    minutes = TypedMinutes(connection)
    found = []
    for one in ranked:
        due = due_in_words(one)
        typed = minutes.of(_JOB_OF[due.act], due.diff) if due.act in _JOB_OF else None
        why = (*due.reasons, *_noted(connection, one))
        found.append(Job(PHRASE_OF[due.act], "diff", due.diff, due.label, why, typed, due.act, due.settle))
    return found


def _how_much(one: Decided) -> float:
    """How much speaks for the most urgent reason: grams lost, runs over the limit or since the last weighing; 0 where
    none is counted."""
    row = one.row
    match URGENCY[one.decision.urgency]:
        case diffs.LOST_TOO_MUCH | diffs.LOST_SOME | diffs.CANNOT_TELL:
            return float(row["loss_g"] or 0.0)
        case diffs.RUNS_REACHED:
            return float(row["runs"] - row["limit_runs"])
        case diffs.NOT_WEIGHED | diffs.WEIGHED_LONG_AGO:
            return float(row["runs"] - (row["weighed_at_runs"] or 0.0))
        case _:
            return 0.0


def _noted(connection: sqlite3.Connection, one: Decided) -> Iterator[str]:
    """What somebody wrote beside the last weighing, quoted."""
    is_sign = not _SIGNS.isdisjoint(one.decision.reasons)
    note = connection.execute(_LAST_NOTE, (one.row["build"],)).fetchone() if is_sign else None
    if note is not None and (line := " ".join((note[0] or "").split())):
        cut = line if len(line) <= _NOTE_LETTERS else f"{line[:_NOTE_LETTERS].rstrip()}…"
        yield f"noted at its last weighing: “{cut}”"


def _besides_the_shelf(connection: sqlite3.Connection) -> Iterator[Job]:
    yield from _ideas(connection)
    yield from _runs_without_call(connection)
    yield from _rejected_rows(connection)


def _ideas(connection: sqlite3.Connection) -> Iterator[Job]:
    """Ideas for the venue of the latest run and for any venue."""
    venue = last_venue(connection)
    for idea in open_ideas(connection, venue[0] if venue else None):
        where = f"at {idea.venue}" if idea.venue else ""
        yield Job("try: {}", "idea", idea.id, _cut(idea.text), (where,) if where else ())


def _cut(text: str) -> str:
    line = " ".join(text.split())
    return line if len(line) <= LONGEST_IDEA else f"{line[:LONGEST_IDEA].rstrip()}…"


def _runs_without_call(connection: sqlite3.Connection) -> Iterator[Job]:
    without = questions.count_without_call(connection)
    if without.notes:
        what = "give {} of the newest a call" if without.is_of_newest else "give {} a call"
        yield Job(what, "runs without call", None, without.how_many, ("keep, change or undecided",))


def _rejected_rows(connection: sqlite3.Connection) -> Iterator[Job]:
    rejected = questions.rejected_rows(connection)
    if rejected:
        each = "each with what settles it" if rejected > 1 else "with what settles it"
        why = (f"rejected by the import, {each}",)
        yield Job("correct {} of notes", "rejected rows", None, counted(rejected, "row"), why)
