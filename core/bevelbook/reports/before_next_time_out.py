"""What to do before the next time out, most urgent first: by the shelf, ideas, runs without a call, rejected rows."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Sequence
from statistics import median
from typing import Any, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.facts import diffs
from bevelbook.facts.ideas import last_venue, open_ideas
from bevelbook.facts.job_times import LOOK_OVER, REBUILD, WEIGH, TypedMinutes
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row
from bevelbook.formulas.oil_lost_words import state_of_loss
from bevelbook.reports import questions
from bevelbook.reports.oil_lost_line import disagreeing_said, is_unclear_by_weighings
from bevelbook.reports.put_by import PutByFindings, builds_with_lost_oil_put_by
from bevelbook.reports.shelf import reasons_in_words, shelf_rows, short_reason, short_words, with_advice
from bevelbook.reports.shelf_findings import shelf_findings

MOST: Final = 5
"""So many are on the first page, which leads to the others."""
MOST_LINES: Final = 12
"""So many are in the check, which has the findings behind them below."""
LONGEST_IDEA: Final = 120
Subject = Literal["diff", "idea", "runs without call", "rejected rows"]
WEIGHINGS_DISAGREE: Final = "weighings disagree"
NEXT_DAY_PASSES: Final = "the next day out passes the limit of runs"
"""Reasons beside those of the shelf's word."""
RUNS_OF_A_DAY: Final = 4.0
"""So many runs a diff is expected to do on a day where no day has runs to go by (our own figure)."""
_DAYS: Final = 10
"""Newest days from which the usual number of runs of a diff on a day is taken: the median."""
_NOTE_LETTERS: Final = 60


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
_LOOK_INSIDE: Final = _Act("open {} and look at it", REBUILD)
_PLAN_TO_OPEN: Final = _Act("plan to open {}", REBUILD)
BUILD_IT: Final = _Act("build {}", REBUILD)
_FINISH_IT: Final = _Act("finish {} on the bench", REBUILD)
_NEW_SEALS: Final = _Act("put new seals in {}", REBUILD)
_WEIGH_IT: Final = _Act("weigh {}", WEIGH)
_WEIGH_AGAIN: Final = _Act("weigh {} again", WEIGH)
_FIND_LEAK: Final = _Act("look where {} is wet", LOOK_OVER)
_TURN_IT: Final = _Act("turn {} by hand", LOOK_OVER)
_ACT_OF: Final = {
    diffs.LOST_TOO_MUCH: OPEN_IT,
    diffs.BROKE: OPEN_IT,
    diffs.NOTCHY: OPEN_IT,
    diffs.RUNS_REACHED: _LOOK_INSIDE,
    diffs.WET_ON_PAPER: _LOOK_INSIDE,
    diffs.LOST_SOME: _FIND_LEAK,
    diffs.CANNOT_TELL: _WEIGH_AGAIN,
    diffs.NOT_WEIGHED: _WEIGH_IT,
    diffs.WEIGHED_LONG_AGO: _WEIGH_IT,
    diffs.SEALS_OVER: _NEW_SEALS,
    diffs.TURNS_BADLY: _TURN_IT,
    WEIGHINGS_DISAGREE: _WEIGH_AGAIN,
    NEXT_DAY_PASSES: _PLAN_TO_OPEN,
    diffs.ON_THE_BENCH: _FINISH_IT,
    diffs.GIVEN_UP: BUILD_IT,
    diffs.OPENED: BUILD_IT,
}
"""What each reason asks for, the most urgent first; those of the shelf in its order, so that the word of a diff and the
first thing to do with it agree."""
_URGENCY: Final = tuple(_ACT_OF)
_OPENS: Final = (OPEN_IT, _LOOK_INSIDE)
_DONE_ON_THE_BENCH: Final = (*_OPENS, _NEW_SEALS, _TURN_IT, _FIND_LEAK)
"""What is seen to while a diff is open: where it is opened these need no line of their own, and a weighing none."""
_SIGNS: Final = (*_OPENS, _FIND_LEAK, _WEIGH_AGAIN)
"""What is done because something was seen, beside which the note of the last weighing is repeated."""
_OPENED_SINCE: Final = """
SELECT s.diff, k.opened_on || coalesce(', wet at ' || k.leak_place, '')
FROM diff_facts s JOIN build_facts k ON k.build = s.current_build
WHERE s.word = 'apart' AND k.opened_on >= coalesce((SELECT max(run_on) FROM runs), '')
"""
_RUNS_OF_A_DAY: Final = f"""
SELECT sum(n.runs_after - n.runs_before)
FROM (SELECT DISTINCT run_on FROM runs ORDER BY run_on DESC LIMIT {_DAYS}) d CROSS JOIN runs r ON r.run_on = d.run_on
JOIN run_diffs x ON x.run = r.id JOIN run_diff_facts n ON n.run_diff = x.id GROUP BY r.run_on, x.build
"""
_LAST_NOTE: Final = """
SELECT substr(note, 1, 200) FROM weighings WHERE build = ?
ORDER BY weighed_on IS NULL, weighed_on DESC, runs DESC, created_at DESC, id DESC LIMIT 1
"""


_LIMIT_NEAR_PUT_BY: Final = """
SELECT f.subject_id, f.words, k.runs FROM findings_put_by f JOIN build_facts k ON k.build = f.subject_id
WHERE f.code = 'limit_near'
"""


def lines_of_jobs(jobs: Sequence[Job]) -> Iterator[str]:
    """The first ``MOST_LINES`` of them for people, numbered, and how many more there are."""
    for number, job in enumerate(jobs[:MOST_LINES], start=1):
        yield f"{number}. {job.words}"
    if len(jobs) > MOST_LINES:
        yield f"and {len(jobs) - MOST_LINES} more"


def before_next_time_out(connection: sqlite3.Connection) -> tuple[Job, ...]:
    """All that is to be done, the most urgent first. What was put by is not in it, except a stop for a diff in use."""
    return (*jobs_on_shelf(connection, shelf_rows(connection)), *_besides_the_shelf(connection))


class MostUrgent(NamedTuple):
    """The most urgent of what is to be done, and how much more there is."""

    jobs: tuple[Job, ...]
    more: int


def most_urgent(connection: sqlite3.Connection, shelf: Sequence[Row], most: int = MOST) -> MostUrgent:
    """The first ``most`` of the same. ``shelf`` are all rows of the shelf, with or without advice: what it takes is
    worked out for these alone."""
    resting = _resting(connection)
    rows = {row["diff"]: row for row in shelf}
    put_by = {build for build, _ in resting}
    in_part = [row for row in shelf if row["build"] in put_by]
    rows |= {row["diff"]: row for row in with_advice(connection, in_part)}
    ranked = _ranked(connection, rows.values(), resting)
    chosen = {one.diff: rows[one.diff] for one in ranked[:most]}
    on_shelf = jobs_on_shelf(connection, with_advice(connection, list(chosen.values())))[:most]
    others = list(_besides_the_shelf(connection))
    jobs = (*on_shelf, *others)[:most]
    return MostUrgent(jobs, len(ranked) + len(others) - len(jobs))


class _Ranked(NamedTuple):
    """Something that a diff asks for: how urgent it is and by how much (less than 0, of one urgency the worst first),
    the diff's name and id, what to do, and the reasons for it."""

    urgency: int
    by: float
    label: str
    diff: str
    act: _Act
    reasons: tuple[str, ...]


def jobs_on_shelf(connection: sqlite3.Connection, shelf: Sequence[Row]) -> list[Job]:
    """What the rows of the shelf ask for, the most urgent first; a diff that is opened is not to be weighed as well.

    One that is apart is to be built if it was opened on the day of the last run or later.
    """
    minutes = TypedMinutes(connection)
    opened = _opened_since(connection)
    rows = {row["diff"]: row for row in shelf}
    usual_runs = _usual_runs(connection, shelf)
    words = {row["diff"]: dict(_in_short_words(row, opened.get(row["diff"]), usual_runs)) for row in shelf}
    return [
        Job(
            one.act.what,
            "diff",
            one.diff,
            rows[one.diff]["label"],
            (*(words[one.diff][reason] for reason in one.reasons), *_noted(connection, one.act, rows[one.diff])),
            minutes.of(one.act.job, one.diff),
        )
        for one in _ranked(connection, shelf, _resting(connection))
    ]


def _ranked(
    connection: sqlite3.Connection, shelf: Collection[Row], resting: frozenset[tuple[str, str]]
) -> list[_Ranked]:
    """What the rows of the shelf ask for by their reasons, the most urgent first."""
    opened = _opened_since(connection)
    put_by = {build for build, _ in resting}
    usual_runs = _usual_runs(connection, shelf)
    found = []
    for row in shelf:
        reasons = set(_reasons(row, opened.get(row["diff"]), usual_runs))
        if row["build"] in put_by:
            words = dict(reasons_in_words(row))
            reasons = {one for one in reasons if not resting & {(row["build"], one), (row["build"], words.get(one))}}
        opening = next((act for reason, act in _ACT_OF.items() if reason in reasons and act in _OPENS), None)
        by_act: dict[_Act, list[str]] = {}
        for reason in sorted(reasons, key=_URGENCY.index):
            act = _ACT_OF[reason]
            if opening is None or act in _DONE_ON_THE_BENCH or (reason == diffs.CANNOT_TELL and _is_loss_seen(row)):
                by_act.setdefault(opening or act, []).append(reason)
        for act, why in by_act.items():
            urgency = _URGENCY.index(why[0])
            found.append(_Ranked(urgency, -_how_much(why[0], row), row["label"], row["diff"], act, tuple(why)))
    return sorted(found, key=lambda one: one[:4])


def _how_much(reason: str, row: Row) -> float:
    """How much speaks for a reason: grams lost, runs over the limit or since the last weighing; 0 where none is
    counted."""
    match reason:
        case diffs.LOST_TOO_MUCH | diffs.LOST_SOME | diffs.CANNOT_TELL:
            return float(row["loss_g"] or 0.0)
        case diffs.RUNS_REACHED:
            return float(row["runs"] - row["limit_runs"])
        case diffs.NOT_WEIGHED | diffs.WEIGHED_LONG_AGO:
            return float(row["runs"] - (row["weighed_at_runs"] or 0.0))
        case _:
            return 0.0


def _is_loss_seen(row: Row) -> bool:
    return state_of_loss(row["loss_g"], row["loss_uncertainty_g"], row["oil_in_g"]) == "lost"


def _usual_runs(connection: sqlite3.Connection, shelf: Iterable[Row]) -> float:
    """How many runs a diff usually does on a day of this team; asked of the records only where a limit is ahead."""
    if not any(row["limit_runs"] is not None and row["word"] != "apart" for row in shelf):
        return RUNS_OF_A_DAY
    of_each = [row[0] for row in connection.execute(_RUNS_OF_A_DAY)]
    return float(median(of_each)) if of_each else RUNS_OF_A_DAY


def _noted(connection: sqlite3.Connection, act: _Act, row: Row) -> Iterator[str]:
    """What somebody wrote beside the last weighing, quoted."""
    note = connection.execute(_LAST_NOTE, (row["build"],)).fetchone() if act in _SIGNS else None
    if note is not None and (line := " ".join((note[0] or "").split())):
        cut = line if len(line) <= _NOTE_LETTERS else f"{line[:_NOTE_LETTERS].rstrip()}…"
        yield f"noted at its last weighing: “{cut}”"


def _opened_since(connection: sqlite3.Connection) -> dict[str, str]:
    """The diffs (by id) that were opened on the day of the last run or later, with the day."""
    return dict(tuple(row) for row in connection.execute(_OPENED_SINCE))


def _reasons(row: Row, opened_on: str | None, usual_runs: float) -> Iterator[str]:
    """The reasons of a row of the shelf that ask for something."""
    if row["word"] == "apart":
        if row["reasons"] in (diffs.ON_THE_BENCH, diffs.GIVEN_UP):
            yield row["reasons"]
        elif opened_on is not None:
            yield diffs.OPENED
        return
    yield from filter(None, (row["reasons"] or "").split(diffs.BETWEEN_REASONS))
    if row["weighings_apart"] and not is_unclear_by_weighings(row):
        yield WEIGHINGS_DISAGREE
    if row["limit_runs"] is not None and row["runs"] < row["limit_runs"] < row["runs"] + usual_runs:
        yield NEXT_DAY_PASSES


def _in_short_words(row: Row, opened_on: str | None, usual_runs: float) -> Iterator[tuple[str, str]]:
    """The same reasons, each in short words."""
    words = dict(reasons_in_words(row))
    for reason in _reasons(row, opened_on, usual_runs):
        if reason == diffs.OPENED:
            yield reason, f"opened {opened_on}"
        elif reason in (diffs.ON_THE_BENCH, diffs.GIVEN_UP):
            yield reason, next(short_words(row), "").removeprefix("on the bench ")
        elif reason == NEXT_DAY_PASSES:
            left = count_of(row["limit_runs"] - row["runs"])
            yield reason, f"{left} left of your {row['limit_runs']:g}; a day usually has {usual_runs:g}"
        elif reason == WEIGHINGS_DISAGREE:
            yield reason, next(disagreeing_said(row, in_use=False), "")
        else:
            yield reason, short_reason(reason, row, words[reason])


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
    resting = {(build, reason) for build in lost for reason in (diffs.LOST_SOME, diffs.CANNOT_TELL)}
    near = {
        (build, NEXT_DAY_PASSES)
        for build, words, runs in connection.execute(_LIMIT_NEAR_PUT_BY)
        if words.startswith(f"{count_of(runs)} since it was filled")
    }
    return frozenset(said | resting | near)


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
