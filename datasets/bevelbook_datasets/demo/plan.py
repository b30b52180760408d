"""What the invented team did in its two seasons: who filled what and when, and the runs. Nobody here is real."""

from __future__ import annotations

from typing import Final, NamedTuple

INVENTED: Final = "Invented data of a team that does not exist, written by make_demo.py. No real build, person or oil."

TARGET_G: Final = 1.86
PEOPLE: Final = ("ana", "bo", "cy", "dee")
CAR_OF: Final = {"ana": "red", "bo": "red", "cy": "blue", "dee": "blue"}
"""Two cars each season; those who share one take turns."""

DRY_G: Final = {
    "rear-a": 12.42,
    "rear-b": 12.38,
    "rear-c": 12.45,
    "rear-d": 12.40,
    "front-a": 12.51,
    "front-b": 12.48,
}
LID_G: Final = {"rear-a": 8.12, "rear-b": 8.18, "rear-c": 8.07, "rear-d": 8.09, "front-a": 8.05, "front-b": 8.11}
"""Lid, its screws, gear and outdrive."""
HEAVIER_LID_G: Final = {"rear-b/4": 0.03}
"""A new outdrive on the lid side."""
FREE_VOLUME_CM3: Final = {"rear-a": 2.24, "rear-b": 2.26, "rear-c": 2.27, "rear-d": 2.29}
"""Known for these only."""
OLD_OIL_G: Final = {"rear-a/9": 0.09}
"""Left in a diff that was drained and not washed."""
TARED: Final = ("front-b/4",)
"""Filled with the dry diff tared off: the scale showed the oil alone."""
RAN_OUT_G: Final = {"front-b/3": 0.12}
"""Overfilled: this much ran out when the lid went on, and was wiped away."""

LITERAL_G: Final = {
    "rear-b/2": {0: 22.41, 6: 22.28, 12: 22.16, 18: 22.03, 25: 21.89},
    "rear-b/3": {0: 22.39, 6: 22.26, 12: 22.14, 18: 22.01},
    "rear-d/4": {0: 22.34, 6: 22.33, 13: 22.04, 17: 21.87},
}
"""Closed readings that are set, not drawn."""
SLOW_WEEP_G_PER_RUN: Final = {"rear-b/2": 0.021, "rear-b/3": 0.021}
CURED_G_PER_RUN: Final = {"rear-b/4": 0.0006}
STRIPPED_AFTER_RUNS: Final = 6
STRIPPED_G_PER_RUN: Final = 0.042

LABEL_CST: Final = {
    "club 3000": 3000.0,
    "club 5000": 5000.0,
    "club 7000": 7000.0,
    "club 10000": 10000.0,
    "club 15000": 15000.0,
    "7k": 6150.0,
    "60 wt": 4800.0,
    "blend": 7000.0,
}
"""The true viscosity of each oil at 25 °C in this world; the 60 wt is never written down."""

BASE_LAP_S: Final = {"Tannery Hall": 15.60, "North Quay": 18.90, "Brickfield": 17.20}
DRIVER_S: Final = {"ana": 0.0, "bo": 0.10, "cy": 0.18, "dee": 0.30}
BEST_CST: Final = {"low": 4500.0, "medium": 6000.0, "high": 8500.0}

RACE_DAYS: Final = {
    "2025-04-06": "Tannery Hall",
    "2025-05-04": "North Quay",
    "2025-05-25": "Brickfield",
    "2025-06-22": "North Quay",
    "2025-07-20": "Brickfield",
    "2025-08-31": "North Quay",
    "2025-10-12": "Tannery Hall",
    "2026-04-12": "Tannery Hall",
    "2026-05-03": "North Quay",
    "2026-05-24": "Brickfield",
    "2026-06-14": "North Quay",
    "2026-07-05": "Brickfield",
    "2026-08-09": "North Quay",
    "2026-09-06": "Tannery Hall",
}
PRACTICE_DAYS: Final = {"2025-06-04": "Tannery Hall", "2026-04-22": "Tannery Hall", "2026-05-13": "Tannery Hall"}
VENUE_OF: Final = {**RACE_DAYS, **PRACTICE_DAYS}
LAST_RACE: Final = "hall race"
"""The event of the last race day."""


class PlannedBuild(NamedTuple):
    """One build. ``kept`` is the note file it is in, or ``records``; ``weighed`` the runs at which the closed diff
    was weighed; ``masses`` which masses the builder wrote down; ``joined`` puts it in the row of its first run."""

    label: str
    day: str
    builder: str
    oil: str
    kept: str
    weighed: tuple[int, ...] = ()
    scale: str = "bench"
    poured_g: float | None = None
    masses: str = "all"
    joined: bool = False
    light_g: float = 0.0

    @property
    def diff(self) -> str:
        return self.label.partition("/")[0]


class Stint(NamedTuple):
    """Runs of one car with one diff (or one build of it, where two ran on that day), noted in rows of this many runs
    each."""

    day: str
    sheet: str
    driver: str
    diff: str
    rows: tuple[int, ...]
    front: str | None = None
    position: str = "rear"
    event: str = "club race"


PLANNED_BUILDS: Final = (
    PlannedBuild("rear-a/1", "2025-04-05", "bo", "club 10000", "season_1"),
    PlannedBuild("front-a/1", "2025-04-05", "ana", "club 10000", "season_1", (0, 6, 14, 23), masses="oil"),
    PlannedBuild("front-b/1", "2025-04-05", "cy", "club 10000", "cy", (0, 5, 11), masses="oil"),
    PlannedBuild("rear-c/1", "2025-04-06", "cy", "club 10000", "cy", masses="none", joined=True),
    PlannedBuild("rear-b/1", "2025-05-03", "bo", "club 7000", "season_1", (0, 4), "pocket"),
    PlannedBuild("rear-d/1", "2025-05-03", "cy", "club 7000", "cy", (0, 4, 8), masses="oil"),
    PlannedBuild("rear-a/2", "2025-05-04", "ana", "club 7000", "season_1", (0, 4), "kitchen", joined=True),
    PlannedBuild("rear-b/2", "2025-05-24", "bo", "club 7000", "season_1", (0, 6, 12, 18, 25), "pocket", 1.86),
    PlannedBuild("rear-a/3", "2025-05-25", "ana", "club 5000", "season_1", (0, 3, 8), "kitchen", joined=True),
    PlannedBuild("rear-c/2", "2025-05-24", "cy", "club 5000", "cy", (0, 3), masses="oil"),
    PlannedBuild("rear-c/3", "2025-06-21", "cy", "60 wt", "cy"),
    PlannedBuild("rear-a/4", "2025-07-19", "ana", "club 5000", "season_1", (0, 9), "kitchen"),
    PlannedBuild("front-a/2", "2025-07-19", "bo", "club 7000", "season_1"),
    PlannedBuild("front-b/2", "2025-07-19", "dee", "club 7000", "cy", (0, 11), masses="oil"),
    PlannedBuild("rear-d/2", "2025-07-20", "cy", "club 5000", "cy", joined=True),
    PlannedBuild("rear-c/4", "2025-08-30", "cy", "7k", "cy", (0, 6), masses="oil"),
    PlannedBuild("rear-a/5", "2025-10-11", "ana", "club 10000", "season_1"),
    PlannedBuild("rear-c/5", "2025-10-11", "cy", "club 10000", "cy", (0, 4), masses="oil"),
    PlannedBuild("rear-a/6", "2026-04-11", "bo", "club 10000", "season_2", (0, 9), "pocket", 1.76),
    PlannedBuild("front-a/3", "2026-04-11", "bo", "club 7000", "season_2", (0, 5, 14), "pocket", masses="oil"),
    PlannedBuild("rear-b/3", "2026-04-11", "dee", "club 7000", "records", (0, 6, 12, 18), poured_g=1.86),
    PlannedBuild("front-b/3", "2026-04-11", "cy", "club 10000", "records", (0, 14), poured_g=2.13),
    PlannedBuild("rear-d/3", "2026-05-02", "cy", "7k", "records"),
    PlannedBuild("rear-a/7", "2026-05-03", "bo", "club 7000", "season_2", joined=True),
    PlannedBuild("rear-a/8", "2026-05-24", "bo", "club 5000", "season_2", (0, 5), "pocket", joined=True),
    PlannedBuild("rear-a/9", "2026-06-13", "bo", "club 7000", "season_2"),
    PlannedBuild("rear-b/4", "2026-06-14", "dee", "club 10000", "records", (0, 3, 5)),
    PlannedBuild("rear-a/10", "2026-07-04", "ana", "club 5000", "records", (0, 4)),
    PlannedBuild("rear-c/6", "2026-07-04", "ana", "club 15000", "records", (0, 4)),
    PlannedBuild("rear-d/4", "2026-07-04", "dee", "club 7000", "records", (0, 6, 13, 17), poured_g=1.86),
    PlannedBuild("front-a/4", "2026-07-04", "bo", "blend", "records", (0, 16)),
    PlannedBuild("front-b/4", "2026-07-04", "cy", "club 3000", "records", (0, 6, 13, 17)),
    PlannedBuild("rear-a/11", "2026-08-08", "ana", "club 7000", "records", (0, 4)),
    PlannedBuild("rear-c/7", "2026-08-08", "bo", "club 10000", "records", (0, 2, 4)),
    PlannedBuild("rear-a/12", "2026-09-05", "bo", "club 10000", "records", (0, 2), light_g=0.03),
)

STINTS: Final = (
    Stint("2025-04-06", "season_1", "ana", "rear-a", (1, 2, 1, 2)),
    Stint("2025-04-06", "season_1", "ana", "front-a", (6,), position="front"),
    Stint("2025-04-06", "cy", "cy", "rear-c", (2, 2)),
    Stint("2025-04-06", "cy", "cy", "front-b", (5,), position="front"),
    Stint("2025-05-04", "season_1", "ana", "rear-b", (2, 2)),
    Stint("2025-05-04", "season_1", "bo", "rear-a", (1, 2, 1)),
    Stint("2025-05-04", "season_1", "ana", "front-a", (8,), position="front"),
    Stint("2025-05-04", "cy", "cy", "rear-d", (2, 2)),
    Stint("2025-05-04", "cy", "dee", "rear-c", (2,)),
    Stint("2025-05-04", "cy", "cy", "front-b", (6,), position="front"),
    Stint("2025-05-25", "season_1", "ana", "rear-b", (2, 2, 2)),
    Stint("2025-05-25", "season_1", "bo", "rear-a", (1, 2)),
    Stint("2025-05-25", "season_1", "ana", "front-a", (9,), position="front"),
    Stint("2025-05-25", "cy", "cy", "rear-d", (2, 2)),
    Stint("2025-05-25", "cy", "dee", "rear-c", (1, 2)),
    Stint("2025-06-04", "season_1", "ana", "rear-a", (2,), event="practice"),
    Stint("2025-06-22", "season_1", "ana", "rear-b", (2, 2, 2)),
    Stint("2025-06-22", "season_1", "bo", "rear-a", (2, 1)),
    Stint("2025-06-22", "cy", "cy", "rear-c", (2, 2, 1)),
    Stint("2025-07-20", "season_1", "ana", "rear-a", (2, 2)),
    Stint("2025-07-20", "season_1", "bo", "rear-b", (2, 2, 2)),
    Stint("2025-07-20", "season_1", "ana", "front-a", (10,), position="front"),
    Stint("2025-07-20", "cy", "cy", "rear-d", (2, 2, 2)),
    Stint("2025-07-20", "cy", "cy", "front-b", (6,), position="front"),
    Stint("2025-08-31", "season_1", "ana", "rear-b", (2, 2)),
    Stint("2025-08-31", "season_1", "bo", "rear-a", (2, 1, 2)),
    Stint("2025-08-31", "cy", "cy", "rear-d", (2, 2, 1)),
    Stint("2025-08-31", "cy", "dee", "rear-c", (2, 2, 2), position="front"),
    Stint("2025-10-12", "season_1", "ana", "rear-b", (3,)),
    Stint("2025-10-12", "season_1", "bo", "rear-a", (2, 2, 1)),
    Stint("2025-10-12", "cy", "cy", "rear-c", (2, 2)),
    Stint("2025-10-12", "cy", "dee", "front-b", (5,), position="front"),
    Stint("2026-04-12", "season_2", "bo", "rear-a", (1, 2, 2)),
    Stint("2026-04-12", "season_2", "bo", "front-a", (5,), position="front"),
    Stint("2026-04-12", "records", "cy", "rear-b", (3, 3), "front-b"),
    Stint("2026-04-22", "season_2", "bo", "rear-a", (2, 2), event="practice"),
    Stint("2026-04-22", "season_2", "bo", "front-a", (4,), position="front", event="practice"),
    Stint("2026-05-03", "season_2", "bo", "rear-a", (1, 2, 2)),
    Stint("2026-05-03", "season_2", "ana", "front-a", (5,), position="front"),
    Stint("2026-05-03", "records", "dee", "rear-b", (3, 3), "front-b"),
    Stint("2026-05-03", "records", "cy", "rear-d", (2,), "front-b"),
    Stint("2026-05-13", "season_2", "bo", "rear-a", (2, 2), event="practice"),
    Stint("2026-05-24", "season_2", "bo", "rear-a", (2, 2, 1)),
    Stint("2026-05-24", "records", "dee", "rear-b", (2, 2)),
    Stint("2026-05-24", "records", "cy", "rear-d", (2,)),
    Stint("2026-06-14", "season_2", "bo", "rear-a", (2, 2, 1)),
    Stint("2026-06-14", "records", "dee", "rear-b/3", (1, 1), "front-b"),
    Stint("2026-06-14", "records", "dee", "rear-b/4", (1, 1, 1), "front-b"),
    Stint("2026-07-05", "records", "dee", "rear-d", (3, 3), "front-b"),
    Stint("2026-08-09", "records", "cy", "rear-d", (2, 3, 2), "front-b"),
    Stint("2026-09-06", "records", "ana", "rear-a", (1, 1), "front-a", event=LAST_RACE),
    Stint("2026-09-06", "records", "ana", "rear-b", (1, 1), "front-a", event=LAST_RACE),
    Stint("2026-09-06", "records", "dee", "rear-d", (2, 2), "front-b", event=LAST_RACE),
)


class Test(NamedTuple):
    """One driver, one car, two rear diffs in turn: which of them in which run."""

    day: str
    driver: str
    thin: str
    thick: str
    order: str
    front: str = "front-a"


TESTS: Final = (
    Test("2026-07-05", "ana", "rear-a/10", "rear-c/6", "abbaabba"),
    Test("2026-08-09", "bo", "rear-a/11", "rear-c/7", "abbaabba"),
)

THICKER: Final = ("2026-06-14", "rear-b/3", "rear-b/4")
"""The day the team went thicker on a diff that had lost 20 % of its oil."""
CHANGED: Final = {
    ("2026-05-03", "blue", 3): "rear-d in for rear-b, cy drives",
    ("2026-05-24", "blue", 1): "spool in front for today, front-b stays in the box",
    ("2026-05-24", "blue", 3): "rear-d in for rear-b, cy drives",
    ("2026-06-14", "blue", 1): "front-b in front again",
    ("2026-06-14", "blue", 3): "rear-b from 7000 to 10000, new outdrive",
    ("2026-09-06", "red", 3): "rear-b in for rear-a",
}
"""What was changed before a recorded run, by day, car and place in the day: swaps during a day, a spool day."""
WRITTEN_LATE: Final = {("2026-05-03", "bo", 3): "2026-05-13"}
"""A run of the note files, and the day somebody remembered to write it down."""


class Opened(NamedTuple):
    """What was found when a build ended; anything not named was fine."""

    build: str
    day: str
    reason: str
    person: str
    note: str = ""
    leak_place: str = ""
    leak_amount: str = "dry"
    oil: str = "grey"
    side_gears: str = "ok"
    shafts: str = "ok"
    seals: str = "ok"
    screws: str = "ok"


REBUILT_UNWRITTEN: Final = "rear-d/2"
"""Its diff was opened, filled again and run, and nobody wrote the new build down."""
OPENED: Final = (
    Opened("front-a/1", "2025-07-19", "routine", "bo", side_gears="polished"),
    Opened("front-b/1", "2025-07-19", "oil change", "dee"),
    Opened("rear-a/1", "2025-05-04", "oil change", "ana", "still clear", oil="clear"),
    Opened("rear-a/3", "2025-07-19", "oil change", "ana"),
    Opened("rear-a/4", "2025-10-11", "oil change", "ana", seals="flattened", side_gears="polished"),
    Opened("rear-a/5", "2026-04-11", "routine", "bo", "stood all winter"),
    Opened("rear-a/6", "2026-05-03", "oil change", "bo", "less in it than it should be: 1.76 g were poured"),
    Opened("rear-a/7", "2026-05-24", "oil change", "bo", oil="clear"),
    Opened("rear-a/8", "2026-06-13", "oil change", "bo", "drained only, not washed", oil="clear"),
    Opened("rear-a/9", "2026-07-04", "oil change", "ana", side_gears="polished"),
    Opened("rear-a/10", "2026-08-08", "oil change", "ana", oil="clear"),
    Opened("rear-a/11", "2026-09-05", "oil change", "bo", oil="clear"),
    Opened("rear-b/1", "2025-05-24", "routine", "bo", oil="clear"),
    Opened(
        *("rear-b/2", "2026-04-11", "leak", "dee", "new rings on both shafts; the outdrive has a groove, put back"),
        *("lid-side shaft", "damp", "black", "polished", "grooved", "flattened"),
    ),
    Opened(
        *("rear-b/3", "2026-06-14", "leak", "dee", "new rings did not cure it: the ring runs in the groove"),
        *("lid-side shaft", "damp", "grey", "polished", "grooved"),
    ),
    Opened("rear-c/1", "2025-05-24", "oil change", "cy"),
    Opened("rear-c/3", "2025-08-30", "oil change", "cy", "feels thinner than the 5000 did"),
    Opened("rear-c/4", "2025-10-11", "oil change", "cy", "back to the rear"),
    Opened("rear-c/5", "2026-07-04", "routine", "ana", "lay in the box since autumn", oil="clear"),
    Opened("rear-c/6", "2026-08-08", "oil change", "bo", oil="clear"),
    Opened("rear-d/1", "2025-07-20", "oil change", "cy"),
    Opened("rear-d/2", "2025-08-30", "routine", "cy", "washed, filled again for tomorrow", side_gears="polished"),
    Opened("rear-d/3", "2026-07-04", "oil change", "dee"),
    Opened(
        *("rear-d/4", "2026-09-06", "leak", "dee", "one screw of the lid turns without rising"),
        *("joint", "drops", "grey", "polished", "ok", "ok", "stripped"),
    ),
    Opened("front-a/2", "2026-04-11", "routine", "bo", side_gears="worn"),
    Opened("front-a/3", "2026-07-04", "oil change", "bo"),
    Opened("front-b/2", "2026-04-11", "routine", "cy", shafts="polished band"),
    Opened("front-b/3", "2026-07-04", "oil change", "cy", "was filled to the rim, oil ran out when the lid went on"),
)
