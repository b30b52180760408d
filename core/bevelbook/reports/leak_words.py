"""What the weighings of a build say, in words: the verdict, why, from when it was good or bad, and the limit."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from bevelbook.facts.kept import facts_of
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.formulas.oil_limits import whose_limit
from bevelbook.records.facts import BuildFacts


class LeakSaid(NamedTuple):
    """The verdict on the oil that a build lost, with the reasons for it."""

    verdict: str
    reasons: tuple[str, ...]


def leak_reasons(story: Leak, good_until_runs: float | None, bad_from_runs: float | None) -> Iterator[str]:
    """Why, and between which weighings it went bad, by the facts."""
    yield from (reason for reason in story.judgement.reasons if "doubtful" not in reason)
    if bad_from_runs is not None:
        yield f"good at run {good_until_runs:g}, bad at run {bad_from_runs:g}"


def leak_said(connection: sqlite3.Connection, build: str) -> LeakSaid | None:
    """What the weighings of a build (by id) say; None where it was not weighed twice on one basis."""
    facts = facts_of(connection, BuildFacts, build)
    story = leaks_of(connection, [build]).get(build)
    if facts.leak is None or story is None:
        return None
    reasons = [*leak_reasons(story, facts.good_until_runs, facts.bad_from_runs)]
    if facts.leak != "stop" and facts.stop_g is not None:
        reasons.append(f"do not run it over {whose_limit(facts.limit_from, facts.stop_g)}")
    return LeakSaid(facts.leak, tuple(reasons))
