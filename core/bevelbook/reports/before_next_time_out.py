"""What to do before the next time out, most urgent first: by the shelf, ideas, runs without a call, rejected rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.facts import diffs
from bevelbook.facts.ideas import last_venue, open_ideas
from bevelbook.facts.job_times import LOOK_OVER, REBUILD, WEIGH, TypedMinutes
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.reports import questions
from bevelbook.reports.oil_lost_line import disagreeing_said, is_unclear_by_weighings, loss_said
from bevelbook.reports.put_by import PutByFindings, builds_with_lost_oil_put_by
from bevelbook.reports.shelf import reasons_in_words, shelf_rows
from bevelbook.reports.shelf_findings import shelf_findings

MOST: Final = 5
"""So many are on the first page, which leads to the others."""
MOST_LINES: Final = 12
"""So many are in the check, which has the findings behind them below."""
LONGEST_IDEA: Final = 120
Subject = Literal["diff", "idea", "runs without call", "rejected rows"]
WEIGHINGS_DISAGREE: Final = "weighings disagree"
"""A reason that the shelf has beside those of its word."""


class Job(NamedTuple):
    """Something to do: ``what`` is a sentence with ``{}`` for the name of what it is about, ``why`` the reasons.

    ``row_id`` is the id of the diff or the idea; None where it is about several rows. ``minutes`` are the team's own
    figure, None where it typed none.
    """

    what: str
    subject: Subject
    row_id: str | None
    name: str
    why: tuple[str, ...]
    minutes: float | None = None

    @property
    def after(self) -> str:
        """The reasons and the minutes, as they follow what is to be done."""
        why = f" ({'; '.join(self.why)})" if self.why else ""
        return why if self.minutes is None else f"{why}, about {self.minutes:g} min, your figure"

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


class _Act(NamedTuple):
    """What a reason of the shelf asks for, and under which job the team typed its minutes."""

    what: str
    job: str


OPEN_IT: Final = _Act("open {}", REBUILD)
BUILD_IT: Final = _Act("build {}", REBUILD)
_NEW_SEALS: Final = _Act("put new seals in {}", REBUILD)
_WEIGH_IT: Final = _Act("weigh {}", WEIGH)
_WEIGH_AGAIN: Final = _Act("weigh {} again", WEIGH)
_FIND_LEAK: Final = _Act("look where {} is wet", LOOK_OVER)
_TURN_IT: Final = _Act("turn {} by hand", LOOK_OVER)
_ACT_OF: Final = {
    diffs.LOST_TOO_MUCH: OPEN_IT,
    diffs.BROKE: OPEN_IT,
    diffs.NOTCHY: OPEN_IT,
    diffs.NOT_WEIGHED: _WEIGH_IT,
    diffs.CANNOT_TELL: _WEIGH_AGAIN,
    diffs.WEIGHED_LONG_AGO: _WEIGH_IT,
    diffs.RUNS_REACHED: OPEN_IT,
    diffs.LOST_SOME: _FIND_LEAK,
    diffs.SEALS_OVER: _NEW_SEALS,
    diffs.TURNS_BADLY: _TURN_IT,
    WEIGHINGS_DISAGREE: _WEIGH_AGAIN,
    diffs.OPENED: BUILD_IT,
}
"""What each reason asks for, the most urgent first."""
_URGENCY: Final = tuple(_ACT_OF)
_DONE_ON_THE_BENCH: Final = (OPEN_IT, _NEW_SEALS, _TURN_IT, _FIND_LEAK)
"""What is seen to while a diff is open: where it is opened these need no line of their own, and a weighing none."""
_OPENED_SINCE: Final = """
SELECT s.diff, k.opened_on FROM diff_facts s JOIN build_facts k ON k.build = s.current_build
WHERE s.word = 'apart' AND k.opened_on >= coalesce((SELECT max(run_on) FROM runs), '')
"""


def lines_of_jobs(jobs: Sequence[Job]) -> Iterator[str]:
    """The first ``MOST_LINES`` of them for people, numbered, and how many more there are."""
    for number, job in enumerate(jobs[:MOST_LINES], start=1):
        yield f"{number}. {job.words}"
    if len(jobs) > MOST_LINES:
        yield f"and {len(jobs) - MOST_LINES} more"


def before_next_time_out(connection: sqlite3.Connection, shelf: Sequence[Row] | None = None) -> tuple[Job, ...]:
    """All that is to be done, the most urgent first. What was put by is not in it, except a stop for a diff in use.

    ``shelf`` are the rows of the shelf, where they were read already.
    """
    return (
        *jobs_on_shelf(connection, shelf_rows(connection) if shelf is None else shelf),
        *_ideas(connection),
        *_runs_without_call(connection),
        *_rejected_rows(connection),
    )


def jobs_on_shelf(connection: sqlite3.Connection, shelf: Sequence[Row]) -> list[Job]:
    """What the rows of the shelf ask for, the most urgent first; a diff that is opened is not to be weighed as well.

    One that is apart is to be built if it was opened on the day of the last run or later.
    """
    minutes = TypedMinutes(connection)
    resting = _resting(connection)
    opened = dict(tuple(row) for row in connection.execute(_OPENED_SINCE))
    found: list[tuple[int, str, Job]] = []
    for row in shelf:
        reasons = dict(_asked_for(row, resting, opened.get(row["diff"])))
        is_opened = any(_ACT_OF[reason] == OPEN_IT for reason in reasons)
        by_act: dict[_Act, list[str]] = {}
        for reason in sorted(reasons, key=_URGENCY.index):
            act = _ACT_OF[reason]
            if not is_opened or act in _DONE_ON_THE_BENCH:
                by_act.setdefault(OPEN_IT if is_opened else act, []).append(reason)
        for act, why in by_act.items():
            said = tuple(reasons[reason] for reason in why)
            job = Job(act.what, "diff", row["diff"], row["label"], said, minutes.of(act.job, row["diff"]))
            found.append((_URGENCY.index(why[0]), row["label"], job))
    return [job for _, _, job in sorted(found, key=lambda one: one[:2])]


def _asked_for(row: Row, resting: frozenset[tuple[str, str]], opened_on: str | None) -> Iterator[tuple[str, str]]:
    """The reasons of a row of the shelf that ask for something, each in short words."""
    if row["word"] == "apart":
        if opened_on is not None:
            yield diffs.OPENED, f"opened {opened_on}"
        return
    for reason, words in reasons_in_words(row):
        if (row["build"], words) not in resting and (row["build"], reason) not in resting:
            yield reason, _short(reason, row, words)
    if row["weighings_apart"] and not is_unclear_by_weighings(row):
        yield WEIGHINGS_DISAGREE, next(disagreeing_said(row, in_use=False), "")


def _short(reason: str, row: Row, words: str) -> str:
    """A reason of the shelf as short as it can be beside what is to be done."""
    match reason:
        case diffs.LOST_TOO_MUCH | diffs.LOST_SOME:
            return loss_said(row)
        case diffs.WEIGHED_LONG_AGO:
            return f"{count_of(row['runs'] - (row['weighed_at_runs'] or 0.0))} since"
        case diffs.NOT_WEIGHED if row["runs"]:
            return f"{count_of(row['runs'])} since it was filled"
        case diffs.CANNOT_TELL:
            said = next(disagreeing_said(row, in_use=False), "") if is_unclear_by_weighings(row) else ""
            return said or f"{loss_said(row)}: unclear"
        case diffs.SEALS_OVER:
            return f"closed in {row['seal_uses']} times, your limit is {row['limit_seal_uses']:g}"
        case diffs.TURNS_BADLY:
            return f"it turned {row['hand_feel']}"
        case _:
            return words


def _resting(connection: sqlite3.Connection) -> frozenset[tuple[str, str]]:
    """What was put by of the shelf: builds, each with the words of a finding or with a reason."""
    if connection.execute("SELECT 1 FROM findings_put_by LIMIT 1").fetchone() is None:
        return frozenset()
    put_by = PutByFindings(connection)
    said = {
        (one.subject_id, one.words)
        for one in shelf_findings(connection)
        if one.severity != "stop" and put_by.of(one) is not None
    }
    lost = builds_with_lost_oil_put_by(connection)
    return frozenset(said | {(build, reason) for build in lost for reason in (diffs.LOST_SOME, diffs.CANNOT_TELL)})


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
    if without.runs:
        what = "give {} of the newest a call" if without.is_of_newest else "give {} a call"
        yield Job(what, "runs without call", None, counted(without.runs, "run"), ("keep, change or undecided",))


def _rejected_rows(connection: sqlite3.Connection) -> Iterator[Job]:
    rejected = questions.rejected_rows(connection)
    if rejected:
        each = "each with what settles it" if rejected > 1 else "with what settles it"
        why = (f"rejected by the import, {each}",)
        yield Job("correct {} of notes", "rejected rows", None, counted(rejected, "row"), why)
