"""Rebuilds of 2026 that the invented team did with the bench page: when each step was begun and done."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

from bevelbook_datasets.demo.stock import Rows
from bevelbook_datasets.demo.world import BUILDS, uniform


class TimedStep(NamedTuple):
    """A step as the procedure calls it, with the minutes that it takes about; ``waits`` if it goes on by itself."""

    key: str
    title: str
    minutes: float
    waits: bool = False


REBUILD_STEPS: Final = (
    TimedStep("weigh-closed-before", "Weigh it closed", 3),
    TimedStep("look-where-wet", "Where it was wet", 1),
    TimedStep("open", "Open it", 4),
    TimedStep("note-what-is-found", "Note what is found", 4),
    TimedStep("clean", "Clean it", 9),
    TimedStep("dry", "Let it dry", 25, waits=True),
    TimedStep("lay-out-and-count", "Lay the parts out and count them", 3),
    TimedStep("seals", "Judge and oil the seals", 4),
    TimedStep("shims", "Find the shims", 5),
    TimedStep("outdrives", "Oil the outdrives and fit their pins", 4),
    TimedStep("turn-each-side", "Turn each side by hand", 1),
    TimedStep("bevel-gears", "Small gears and shims on the cross", 3),
    TimedStep("gears-in", "Gears in before the oil", 2),
    TimedStep("weigh-dry", "Weigh it dry", 2),
    TimedStep("fill", "Fill to the stop mass", 5),
    TimedStep("draw-bubbles", "Draw the bubbles", 30, waits=True),
    TimedStep("weigh-again", "Weigh again", 2),
    TimedStep("lid-seal", "Look at the lid seal once more", 1),
    TimedStep("lid-on", "Lid on, and let the air out", 2),
    TimedStep("screws", "Screws", 4),
    TimedStep("turn-by-hand", "Turn it by hand", 1),
    TimedStep("wipe", "Wipe it", 2),
    TimedStep("weigh-closed-after", "Weigh it closed", 2),
    TimedStep("rest-on-paper", "Let it rest on paper", 122, waits=True),
)
"""Neither gears nor a gasket under the oil were new in any of them."""
LAST_NOTE: Final = {"rest-on-paper": "lid down"}


class TimedJob(NamedTuple):
    """A rebuild: the build that came of it, the one that ended, and the hour at which it was begun, UTC."""

    build: str
    ends: str
    hour: int

    @property
    def diff(self) -> str:
        return BUILDS[self.build].diff

    @property
    def begun_at(self) -> datetime:
        return datetime.fromisoformat(BUILDS[self.build].day).replace(hour=self.hour, minute=10, tzinfo=UTC)

    @property
    def name(self) -> str:
        return f"{self.diff} rebuild begun {BUILDS[self.build].day}"


TIMED_JOBS: Final = (
    TimedJob("rear-b/3", "rear-b/2", 9),
    TimedJob("front-a/3", "front-a/2", 8),
    TimedJob("rear-a/6", "rear-a/5", 14),
    TimedJob("rear-d/4", "rear-d/3", 13),
    TimedJob("front-b/4", "front-b/3", 9),
    TimedJob("rear-c/7", "rear-c/6", 14),
)


def _spans(job: TimedJob) -> list[tuple[TimedStep, datetime, datetime]]:
    """When each step was begun and done; hands are slower or quicker from day to day, and stop now and then."""
    found, now = [], job.begun_at
    pace = uniform(0.85, 1.3, "pace", job.build)
    for step in REBUILD_STEPS:
        minutes = step.minutes * (pace * uniform(0.7, 1.3, "step", step.key, job.build))
        if step.waits:
            minutes = step.minutes + uniform(0.0, 8.0, "wait", step.key, job.build)
        done = now + timedelta(seconds=round(60 * minutes))
        found.append((step, now, done))
        now = done + timedelta(seconds=round(uniform(0.0, 100.0, "between", step.key, job.build)))
    return found


def _stamp(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def bench_jobs() -> Rows:
    return [
        {
            "diff": job.diff,
            "kind": "rebuild",
            "way": "step by step",
            "begun_at": _stamp(job.begun_at),
            "ends": job.ends,
            "opening": f"opening of {job.ends}",
            "build": job.build,
            "person": BUILDS[job.build].builder,
            "done_at": _stamp(_spans(job)[-1][2]),
        }
        for job in TIMED_JOBS
    ]


def bench_steps() -> Rows:
    return [
        {
            "job": job.name,
            "step": step.key,
            "title": step.title,
            "begun_at": _stamp(begun),
            "done_at": _stamp(done),
            "note": LAST_NOTE.get(step.key),
            "waits": "yes" if step.waits else "no",
        }
        for job in TIMED_JOBS
        for step, begun, done in _spans(job)
    ]
