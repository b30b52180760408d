"""What each diff needs next: runs since it was open, runs of its parts, runs left by limits, by mass and by feel."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import NOT_TO_RUN, is_sound
from bevelbook.display.hand_feel import turned_in_words
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.facts.leak import Leak, leaks_of
from bevelbook.facts.openings import Seen, SinceOpened, found_at_openings, runs_when_notchy, since_opened
from bevelbook.facts.parts import PartCount, parts_in_use
from bevelbook.facts.runs import count_of
from bevelbook.formulas.leak import (
    NEVER_CHECKED,
    assumed_from_day_to_day,
    is_scale_checked,
    reached_of,
)
from bevelbook.formulas.oil_limits import limit_in_words
from bevelbook.formulas.oil_lost_words import loss_in_words, state_of_loss
from bevelbook.formulas.runs_left_words import (
    NONE_LEFT,
    UNCLEAR_IF_ANY,
    is_limit_undecided,
    left_by_trend_in_words,
    left_in_words,
)
from bevelbook.physics.weighing import ASSUMED_BETWEEN_DAYS
from bevelbook.records.facts import DiffFacts
from bevelbook.reports.due import BETWEEN_OPENINGS, BY_OIL_LOST
from bevelbook.reports.shelf import runs_against_limit

BY_FEEL: Final = "feel"
LOST_STANDING: Final = "it was lost without a run, so how many runs are left is not known"


class RunsLeft(NamedTuple):
    """Runs left by one measure. ``left`` is None where unknown; ``low`` and ``high`` are its 95 % interval."""

    by: str
    limit: float | None
    now: float | None
    left: float | None
    words: str
    low: float | None = None
    high: float | None = None


class ServiceState(NamedTuple):
    """One diff with its runs, its parts and the runs left."""

    since: SinceOpened
    parts: tuple[PartCount, ...]
    left: tuple[RunsLeft, ...]
    worn: tuple[Seen, ...]
    """Faults found when this diff was opened, by day."""

    def lines(self) -> Iterator[str]:
        """The runs left, the runs of its parts and what its openings found, for people."""
        yield from (f"{one.by}: {one.words}" for one in self.left)
        yield from self.lines_of_parts()

    def lines_of_runs_left(self) -> Iterator[str]:
        """The runs left alone, for people; not by feel where that gives no number."""
        yield from (f"{one.by}: {one.words}" for one in self.left if one.by != BY_FEEL or one.left is not None)

    def lines_of_parts(self) -> Iterator[str]:
        """The runs of its parts and what its openings found, for people."""
        for title, from_new in (("parts since new", True), ("parts since first noted, not as new", False)):
            parts = [one.words for one in self.parts if one.from_new is from_new]
            if parts:
                yield f"{title}: {'; '.join(parts)}"
        found: dict[str, list[str]] = {}
        for seen in self.worn:
            runs = seen.build_runs if seen.part_runs is None else seen.part_runs
            found.setdefault(f"{seen.part} {seen.state}", []).append(f"{runs:g}")
        if found:
            yield "openings found: " + "; ".join(
                f"{what} after {', '.join(runs)} {'run' if runs == ['1'] else 'runs'}" for what, runs in found.items()
            )

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "build": self.since.build_label,
            "runs_since_opened": self.since.runs,
            "open": self.since.opened,
            "runs_left": [{name: _plain(value) for name, value in one._asdict().items()} for one in self.left],
            "parts": [one._asdict() for one in self.parts],
            "openings_found": [one._asdict() for one in self.worn],
        }


def service_states(connection: sqlite3.Connection) -> list[ServiceState]:
    """Every diff that was built, by its label."""
    parts_by_build = parts_in_use(connection)
    notchy = runs_when_notchy(connection)
    worn: dict[str, list[Seen]] = {}
    for one in found_at_openings(connection):
        if not is_sound(one.state):
            worn.setdefault(one.diff, []).append(one)
    diffs = since_opened(connection)
    facts = facts_of_some(connection, DiffFacts, [one.diff for one in diffs])
    leaks = leaks_of(connection, [one.build for one in diffs if one.is_closed])
    feels = dict(
        connection.execute("SELECT b.id, b.hand_feel FROM diff_facts s JOIN builds b ON b.id = s.current_build")
    )
    found = []
    for since in diffs:
        parts = tuple(parts_by_build.get(since.build, ()))
        own = facts[since.diff]
        left: tuple[RunsLeft, ...] = ()
        if since.is_closed:
            left = (
                *_by_openings(since, own.limit_runs),
                *_by_seals(own),
                _by_mass(since, leaks.get(since.build)),
                _by_feel(since, feels[since.build], notchy),
            )
        found.append(ServiceState(since, parts, left, tuple(worn.get(since.diff, ()))))
    return found


def _by_openings(since: SinceOpened, limit: float | None) -> Iterator[RunsLeft]:
    if limit is not None:
        words = runs_against_limit(limit, since.runs)
        yield RunsLeft(BETWEEN_OPENINGS, limit, since.runs, max(limit - since.runs, 0.0), words)


def _by_seals(own: DiffFacts) -> Iterator[RunsLeft]:
    most, limit = own.seal_uses, own.limit_seal_uses
    if limit is None or most is None:
        return
    if most > limit:
        said = f"{most} uses, {most - limit:g} over"
    else:
        said = f"{most} used; {limit - most:g} more after this one" if most < limit else f"{most}, this is the last"
    yield RunsLeft("seal uses", limit, float(most), None, f"your limit of {limit:g} uses of a seal: {said}")


def _by_mass(since: SinceOpened, leak: Leak | None) -> RunsLeft:
    """Runs left until the oil's limit: by the trend where there is one, else by the loss per run so far.

    None are left where the weighings say stop; where the scale cannot decide whether the limit is reached, no number is
    given.
    Only whole runs count: the one that would pass the limit is not left.

    left = (limit - loss) / loss per run - runs since the last weighing.
    """
    by = BY_OIL_LOST
    if leak is None:
        unknown = "not known: not weighed twice the same way since it was filled"
        return RunsLeft(by, None, None, None, unknown if since.runs else "not run yet")
    found, limits, last = leak.found, leak.weighed.limits, leak.loss.last_runs
    if found is None:
        return RunsLeft(by, limits.stop_g, None, None, f"not known: {leak.judgement.reasons[0]}")
    loss, limit, oil = found.loss_g, limits.stop_g, leak.weighed.oil_in_g
    if leak.is_unclear_by_weighings:
        return RunsLeft(by, limit, None, None, f"not known: {leak.judgement.reasons[0]}")
    state = state_of_loss(loss, leak.loss.uncertainty_g, oil, is_apart=leak.is_unclear_without_runs)
    is_wet = leak.is_wet
    said = loss_in_words(loss, leak.loss.uncertainty_g, oil, f"by run {last:g}", is_wet=is_wet)
    assumed = assumed_from_day_to_day(leak.given)
    match state:
        case "weighings apart":
            return RunsLeft(by, limit, None, None, f"not known: {leak.judgement.reasons[0]}")
        case "none seen":
            return RunsLeft(by, limit, max(loss, 0.0), None, said if assumed is None else f"{said}; {assumed}")
        case "heavier":
            return RunsLeft(by, limit, None, None, f"not known: {said}")
    if limit is None:
        return RunsLeft(by, None, loss, None, f"{said}; how much went in is not known, so no limit")
    whose = "your limit" if limits.owner == "yours" else "our default limit"
    so_far = f"{said}, {whose} is {limit_in_words(limit, limits.typed_g)}"
    if assumed is not None:
        so_far = f"{so_far}, {ASSUMED_BETWEEN_DAYS}"
    if leak.loss.verdict == "stop":
        return RunsLeft(by, limit, loss, 0.0, f"{so_far}: {NONE_LEFT}")
    if is_limit_undecided(loss, leak.loss.uncertainty_g, limit):
        return RunsLeft(by, limit, loss, None, f"{so_far}: {UNCLEAR_IF_ANY}")
    reached = reached_of(found)
    if reached is None and not is_scale_checked(leak.given):
        return RunsLeft(by, limit, loss, None, f"{so_far}: how many runs are left is not known, {NEVER_CHECKED}")
    stop = leak.weighed.runs_to_stop(leak.loss)
    if stop is None:
        return RunsLeft(by, limit, loss, None, f"{so_far}: {LOST_STANDING}")
    low, middle, high = (
        None if one is None else max(0.0, one - since.runs) for one in (stop.low, stop.runs, stop.high)
    )
    if reached is not None:
        said = left_by_trend_in_words(reached, since.runs)
    else:
        said = f"{left_in_words(low or 0.0, high)} left if it goes on like this"
    return RunsLeft(by, limit, loss, middle, f"{so_far}: {said}", low, high)


def _by_feel(since: SinceOpened, feel: str | None, notchy: list[tuple[str, float]]) -> RunsLeft:
    """Compared with builds that were opened because they had become notchy: of this diff, else of all."""
    felt = f"turned {turned_in_words(feel)} by hand when it was built"
    if feel in NOT_TO_RUN:
        return RunsLeft(BY_FEEL, None, since.runs, 0.0, f"{felt}: {NONE_LEFT}")
    if not is_sound(feel):
        return RunsLeft(BY_FEEL, None, since.runs, None, f"{felt}: how many runs are left is not known")
    for whose, runs in (
        (f"of {since.label}", [count for diff, count in notchy if diff == since.diff]),
        ("of all diffs", [count for _, count in notchy]),
    ):
        if runs:
            count = f"{counted(len(runs), 'build')} {whose}"
            spread = f"{runs[0]:g} to {runs[-1]:g}" if len(runs) > 1 else f"{runs[0]:g}"
            left = max(0.0, runs[0] - since.runs)
            said = f"{count} had become notchy after {spread} runs: {count_of(left)} left to the first of them"
            return RunsLeft(BY_FEEL, runs[0], since.runs, left, said)
    return RunsLeft(BY_FEEL, None, since.runs, None, "not known: no build was ever opened because it had become notchy")


def _plain(value: Any) -> Any:
    """A float without rounding noise in its last digits."""
    return float(f"{value:.12g}") + 0.0 if isinstance(value, float) else value
