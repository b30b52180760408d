"""Where each diff stands: runs since it was open, runs of its parts, and runs left by limits, by mass and by feel."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.errors import InputError
from bevelbook.physics.oil_lost import STOP_SHARE
from bevelbook.records import BY_NAME
from bevelbook.registry import Offered, Registry
from bevelbook.store.counting import (
    PartCount,
    Seen,
    SinceOpened,
    count_of,
    found_at_openings,
    parts_in_use,
    runs_when_notchy,
    since_opened,
)
from bevelbook.tasks.calculate import Result, bind, clean, run
from bevelbook.tasks.keep import Subject, known_of

BETWEEN_OPENINGS: Final = "runs between openings"
SOUND: Final = frozenset({"ok", "new", "polished", "polished band"})
ROUGH_FEELS: Final = ("gritty", "notchy", "tight spot", "slipping")


class Left(NamedTuple):
    """Runs left by one measure. ``left`` is None where nothing tells; ``low`` and ``high`` are its 95 % interval."""

    by: str
    limit: float | None
    now: float | None
    left: float | None
    words: str
    low: float | None = None
    high: float | None = None


class Standing(NamedTuple):
    """One diff as it stands."""

    since: SinceOpened
    parts: tuple[PartCount, ...]
    left: tuple[Left, ...]
    worn: tuple[Seen, ...]
    """What openings of this diff found that is not as it should be, in the order of the days."""

    def lines(self) -> Iterator[str]:
        """The runs left and the runs of its parts, for people."""
        for one in self.left:
            yield f"{one.by}: {one.words}"
        for title, from_new in (("parts since new", True), ("parts since first noted, not as new", False)):
            told = [one.words for one in self.parts if one.from_new is from_new]
            if told:
                yield f"{title}: {'; '.join(told)}"
        found: dict[str, list[str]] = {}
        for seen in self.worn:
            runs = seen.build_runs if seen.part_runs is None else seen.part_runs
            found.setdefault(f"{seen.part} {seen.state}", []).append(f"{runs:g}")
        if found:
            yield "openings found: " + "; ".join(f"{what} after {', '.join(runs)} runs" for what, runs in found.items())

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            "build": self.since.build_label,
            "runs_since_opened": self.since.runs,
            "open": self.since.opened,
            "runs_left": [{name: clean(value) for name, value in one._asdict().items()} for one in self.left],
            "parts": [one._asdict() for one in self.parts],
            "openings_found": [one._asdict() for one in self.worn],
        }


def standings(connection: sqlite3.Connection, registry: Registry) -> list[Standing]:
    """Every diff that was built, by its label."""
    limits = _limits(connection)
    parts_by_build = parts_in_use(connection)
    notchy = runs_when_notchy(connection)
    worn = [one for one in found_at_openings(connection) if one.state not in SOUND]
    found = []
    for since in since_opened(connection):
        parts = tuple(parts_by_build.get(since.build, ()))
        own = {kind: value for (kind, diff), value in limits.items() if diff is None}
        own |= {kind: value for (kind, diff), value in limits.items() if diff == since.diff}
        left: list[Left] = []
        if not since.opened:
            left = [
                *_by_openings(since, own.get(BETWEEN_OPENINGS)),
                *_by_seals(parts, own.get("seal uses")),
                _by_mass(connection, registry, since, own),
                _by_feel(connection, since, notchy),
            ]
        own_worn = tuple(one for one in worn if one.diff == since.diff)
        found.append(Standing(since, parts, tuple(left), own_worn))
    return found


def _limits(connection: sqlite3.Connection) -> dict[tuple[str, str | None], float]:
    rows = connection.execute("SELECT kind, diff, value FROM limits WHERE value > 0 ORDER BY created_at, id")
    return {(row[0], row[1]): float(row[2]) for row in rows}


def runs_over_limit(connection: sqlite3.Connection, runs_by_diff: Mapping[str, float]) -> dict[str, str]:
    """The diffs (by id) that have reached the team's own limit of runs between openings, each with the words for it."""
    limits = {diff: value for (kind, diff), value in _limits(connection).items() if kind == BETWEEN_OPENINGS}
    found = {}
    for diff, runs in runs_by_diff.items():
        limit = limits.get(diff, limits.get(None))
        if limit is not None and runs >= limit:
            found[diff] = f"{count_of(runs)} since it was opened, {_against(limit, runs)}"
    return found


def _against(limit: float, runs: float) -> str:
    left = limit - runs
    told = f"{count_of(left)} left" if left > 0 else "reached" if left == 0 else f"{count_of(-left)} over"
    return f"your limit of {limit:g} runs: {told}"


def _by_openings(since: SinceOpened, limit: float | None) -> Iterator[Left]:
    if limit is None:
        return
    yield Left(BETWEEN_OPENINGS, limit, since.runs, max(limit - since.runs, 0.0), _against(limit, since.runs))


def _by_seals(parts: tuple[PartCount, ...], limit: float | None) -> Iterator[Left]:
    uses = [part.uses for part in parts if part.part == "seal"]
    if limit is None or not uses:
        return
    most = max(uses)
    if most > limit:
        told = f"{most:g} uses, {most - limit:g} over"
    else:
        told = f"{most:g} used; {limit - most:g} more after this one" if most < limit else f"{most:g}, this is the last"
    yield Left("seal uses", limit, float(most), None, f"your limit of {limit:g} uses of a seal: {told}")


def _by_mass(connection: sqlite3.Connection, registry: Registry, since: SinceOpened, limits: dict[str, float]) -> Left:
    """Runs left until the oil's limit: by the trend where there is one, else by the loss per run so far.

    left = (limit - loss) / loss per run - runs since the last weighing.
    """
    by = "oil lost"
    offered = registry.calculators.get("leak-trend")
    if offered is None:
        return Left(by, None, None, None, "unclear: no calculator leak-trend is loaded")
    result = _leak(connection, offered, since, limits)
    if result is None:
        return Left(by, None, None, None, "unclear: not weighed twice on one basis since it was filled")
    given, found = result.bound.given, result.found
    oil, loss = given.oil_mass_g, found.loss_g
    limit, whose = _limit_g(limits, oil)
    if found.loss_g <= found.smallest_loss_seen_g:
        seen = found.smallest_loss_seen_g
        told = f"no loss seen up to run {_last(given):g} (the scale tells {seen:.3f} g)"
        return Left(by, limit, max(loss, 0.0), None, told)
    if limit is None:
        return Left(by, None, loss, None, f"{loss:.2f} g lost; how much went in is not known, so no limit")
    so_far = f"{loss:.2f} g of {limit:.2f} g ({whose}) lost by run {_last(given):g}"
    if loss >= limit:
        return Left(by, limit, loss, 0.0, f"{so_far}: no runs left")
    if found.runs_to_limit is not None and oil is not None and abs(limit - given.stop_share * oil) < 1e-9:
        low, middle, high = (
            max(0.0, one - since.runs)
            for one in (found.runs_to_limit_low, found.runs_to_limit, found.runs_to_limit_high)
        )
        told = f"{so_far}: about {middle:.0f} runs left ({low:.0f} to {high:.0f}, 95 %)"
        return Left(by, limit, loss, middle, told, low, high)
    rate, spread = _rate(given, found)
    since_weighed = since.runs - _last(given)
    low, left, high = (
        max(0.0, (limit - loss) / one - since_weighed) if one > 0 else None
        for one in (rate + spread, rate, rate - spread)
    )
    span = f"at least {low:.0f}" if high is None else f"{low:.0f} to {high:.0f}"
    told = f"{so_far}: {span} runs left if it goes on at {rate:.4f} g per run (k = 2, from the scale alone)"
    return Left(by, limit, loss, left, told, low, high)


def _rate(given: Any, found: Any) -> tuple[float, float]:
    """Loss per run with its uncertainty (k = 2): over all weighings, or over the last stretch where that is faster."""
    over = _last(given) - min(one.runs for one in given.weighings)
    rate, spread = found.loss_g / over, (found.loss_high_g - found.loss_g) / over
    stretch = found.rows[-1]
    if stretch.detected == "yes" and stretch.loss_g_per_run > rate:
        return stretch.loss_g_per_run, stretch.uncertainty_g_per_run
    return rate, spread


def _last(given: Any) -> float:
    return float(max(one.runs for one in given.weighings))


def _limit_g(limits: dict[str, float], oil_g: float | None) -> tuple[float | None, str]:
    """The nearer of the team's own limits in grams; without one the proposed share of the oil."""
    share = limits.get("oil lost as a share")
    own = [one for one in (limits.get("oil lost in grams"), share * oil_g if share and oil_g else None) if one]
    if own:
        return min(own), "your limit"
    return (STOP_SHARE * oil_g if oil_g else None), f"{STOP_SHARE:.0%} of the oil, this project's proposal"


def _leak(
    connection: sqlite3.Connection, offered: Offered, since: SinceOpened, limits: dict[str, float]
) -> Result | None:
    known = known_of(connection, offered.calculator, [Subject(BY_NAME["build"], since.build, since.build_label)])
    texts: dict[str, str] = {}
    if share := limits.get("oil lost as a share"):
        texts["stop_share"] = f"{share}"
    oil = connection.execute(
        "SELECT filled_mass_g - dry_mass_g FROM builds WHERE id = ? AND oil_mass_g IS NULL", (since.build,)
    ).fetchone()
    if oil and oil[0] and oil[0] > 0:
        texts["oil_mass_g"] = f"{oil[0]:.4f}"
    try:
        return run(offered.calculator, bind(offered.calculator, texts, known))
    except InputError:
        return None


def _by_feel(connection: sqlite3.Connection, since: SinceOpened, notchy: list[tuple[str, float]]) -> Left:
    """Against the builds that were opened because they had become notchy: of this diff, else of all."""
    by = "feel"
    feel = connection.execute("SELECT hand_feel FROM builds WHERE id = ?", (since.build,)).fetchone()[0]
    if feel in ROUGH_FEELS:
        return Left(by, None, since.runs, 0.0, f"felt {feel} by hand when it was built: no runs left")
    for whose, runs in (
        (f"of {since.label}", [count for diff, count in notchy if diff == since.diff]),
        ("of all diffs", [count for _, count in notchy]),
    ):
        if runs:
            count = f"{len(runs)} build{'s' if len(runs) > 1 else ''} {whose}"
            spread = f"{runs[0]:g} to {runs[-1]:g}" if len(runs) > 1 else f"{runs[0]:g}"
            left = max(0.0, runs[0] - since.runs)
            told = f"{count} had become notchy after {spread} runs: {count_of(left)} left to the first of them"
            return Left(by, runs[0], since.runs, left, told)
    return Left(by, None, since.runs, None, "unclear: no build was ever opened because it had become notchy")
