"""A wait at the bench as its screen shows it: the clock time at which it ends, and the minutes that are left."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import ceil
from typing import Final, NamedTuple

from bevelbook.display.clock import clock_in_words, local_time
from bevelbook.reports.bench_waits import LID_DOWN, LID_UP, OpenWait

WHAT_THEN: Final = {LID_UP: "turn it over", LID_DOWN: "look at the paper"}
"""What is to be done when a rest on paper is over."""


class WaitShown(NamedTuple):
    """The end of a wait: as a clock time, in UTC for a machine, and the seconds that are left, 0 where it is over."""

    until: str
    until_at: str
    left_s: int

    @property
    def is_over(self) -> bool:
        """Whether the time has come."""
        return self.left_s <= 0

    @property
    def minutes_left(self) -> int:
        """The minutes that are left, begun ones counted."""
        return ceil(self.left_s / 60)


def after_minutes(now: str, minutes: float) -> str:
    """The instant that is so many minutes after another, as the database stores it.

    >>> after_minutes("2026-05-03T12:10:00.000Z", 60)
    '2026-05-03T13:10:00.000Z'
    """
    later = datetime.fromisoformat(now) + timedelta(minutes=minutes)
    return later.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def wait_shown(until_at: str | None, now: str) -> WaitShown | None:
    """The end of a wait at an instant; None where there is no such end.

    >>> wait_shown("2026-05-03T13:10:00.000Z", "2026-05-03T13:08:30.000Z").minutes_left
    2
    """
    ends = local_time(until_at) if until_at else None
    if until_at is None or ends is None:
        return None
    left = (ends - datetime.fromisoformat(now)).total_seconds()
    return WaitShown(clock_in_words(until_at), until_at, max(0, ceil(left)))


def wait_line(wait: OpenWait, now: str) -> str:
    """What goes on, for a list: ``rear-a: turn it over at 15:10``, or, once it is time, ``now, since 15:10``."""
    ends = wait_shown(wait.until_at, now)
    what = WHAT_THEN.get(wait.note, wait.title[:1].lower() + wait.title[1:])
    if ends is None:
        return f"{wait.diff_label}: {what}"
    if ends.is_over:
        return f"{wait.diff_label}: {what} now, since {ends.until}"
    when = "at" if wait.note in WHAT_THEN else "until"
    return f"{wait.diff_label}: {what} {when} {ends.until}"
