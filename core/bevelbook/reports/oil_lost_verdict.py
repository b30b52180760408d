"""What the weighings of a build say, in words: the verdict, the reasons, when it was good or bad, and the limit."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from bevelbook.facts.kept_facts import facts_of
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.formulas.oil_limits import limit_in_words
from bevelbook.formulas.oil_lost_words import turned_in_words
from bevelbook.records.facts import BuildFacts, DiffFacts


class LeakSaid(NamedTuple):
    """The verdict on the oil that a build lost, with the reasons for it."""

    verdict: str
    reasons: tuple[str, ...]


def leak_reasons(story: Leak, good_until_runs: float | None, bad_from_runs: float | None) -> Iterator[str]:
    """The reasons, and between which weighings it went bad, from the facts."""
    yield from (reason for reason in story.judgement.reasons if "doubtful" not in reason)
    if bad_from_runs is not None:
        yield turned_in_words(good_until_runs, bad_from_runs, story.weighed.limits)


def leak_said(connection: sqlite3.Connection, build: str) -> LeakSaid | None:
    """What the weighings of a build (by id) say; None where it was not weighed twice on one basis."""
    facts = facts_of(connection, BuildFacts, build)
    story = leaks_of(connection, [build]).get(build)
    if facts.leak is None or story is None:
        return None
    reasons = [*leak_reasons(story, facts.good_until_runs, facts.bad_from_runs)]
    if facts.leak != "stop" and facts.stop_g is not None:
        whose = "your limit" if facts.limit_from == "yours" else "our default limit"
        limit = limit_in_words(facts.stop_g, story.weighed.limits.typed_g)
        is_last = facts_of(connection, DiffFacts, facts.diff).current_build == build
        is_in_use = is_last and facts.opened_on is None
        reasons.append(f"open it at {limit} lost ({whose})" if is_in_use else f"{whose} is {limit}")
    return LeakSaid(facts.leak, tuple(reasons))
