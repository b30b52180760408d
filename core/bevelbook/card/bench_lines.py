"""What calculators say of the build on the bench, a line each.

A calculator with a place on the card (``card=``) has such a line by itself: what is worth printing on the card is worth
knowing before the card is printed, and nothing more has to be declared. One that a step of the job names is on the
screen of that step instead.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from typing import Final, NamedTuple

from bevelbook.calculating.known import Subject
from bevelbook.card.build_card import BUILD, oil_known_on_card
from bevelbook.card.calculators import answer_words, attempt_for_card
from bevelbook.card.more_parts import about
from bevelbook.card.steps import shortened
from bevelbook.plugin.registry import Registry
from bevelbook.plugin.where_shown import CARD_PARTS
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench
from bevelbook.store.lookup import label_of

LONGEST_LINE: Final = 160
_WORST_FIRST: Final = ("stop", "caution", "unclear", "ok")


class BenchLine(NamedTuple):
    """A line: the calculator's title and its name, its verdict, and its answer with the first reason.

    ``is_urgent``: it says stop, so it stands above the steps.
    """

    title: str
    name: str
    verdict: str
    words: str
    is_urgent: bool


def bench_lines(
    connection: sqlite3.Connection, registry: Registry, job: JobOnBench, named: Collection[str]
) -> list[BenchLine]:
    """The lines for a job, the worst first; nothing of a calculator that is ``named`` by a step, or that still lacks an
    input: the card asks for that."""
    offered = [
        one
        for part in CARD_PARTS
        for one in registry.on_card(part)
        if not {one.name, one.replaces} & {*named} and one.of != "seal_fitting"
    ]
    if not offered:
        return []
    subjects = {"diff": Subject(BY_NAME["diff"], job.diff, job.diff_label)}
    more = {}
    if job.build is not None:
        build = Subject(BUILD, job.build, label_of(connection, BUILD, job.build))
        row = connection.execute("SELECT * FROM builds WHERE id = ?", (job.build,)).fetchone()
        subjects |= about(connection, build, row)
        _, known = oil_known_on_card(connection, registry, job.build)
        more = dict(known)
    found = []
    for one in offered:
        if one.of not in subjects:
            continue
        done = attempt_for_card(connection, one, subjects[one.of], more)
        if done.answer is not None:
            judged = done.answer.judgement
            name, value = answer_words(one, done.answer)
            words = f"{name} {value}: {judged.reasons[0]}" if value else judged.reasons[0]
            is_stop = judged.verdict == "stop"
            found.append(BenchLine(one.title, one.name, judged.verdict, shortened(words, LONGEST_LINE), is_stop))
        elif done.refused:
            found.append(BenchLine(one.title, one.name, "unclear", shortened(done.refused, LONGEST_LINE), False))
    return sorted(found, key=lambda line: (_WORST_FIRST.index(line.verdict), line.title, line.name))
