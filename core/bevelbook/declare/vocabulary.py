"""The words that records choose from, as ``bevelbook.vocabulary`` lists them: plugins can use them without importing a
record."""

from __future__ import annotations

from typing import Final

YES_NO: Final = ("yes", "no")
SURFACES: Final = ("carpet", "asphalt", "concrete", "artificial turf", "clay", "dirt", "wood", "other")

POSITIONS: Final = ("front", "centre", "rear")
"""Where a diff sits in the car."""
INSTEAD_OF_A_DIFF: Final = ("spool", "one-way", "slipper", "none")
"""What may sit in a car where a gear diff could."""
SEAL_PLACES: Final = ("joint", "case-side shaft", "lid-side shaft")
WET_PLACES: Final = ("joint", "case-side shaft", "lid-side shaft", "both shafts", "screw hole")
"""Where oil comes out of a diff."""
SHAFT_SEAL_PLACES: Final = SEAL_PLACES[1:]
SHIM_PLACES: Final = ("behind case-side gear", "behind lid-side gear", "small gears")
SCREW_HOLES: Final = ("blind", "through")
RUBBERS: Final = ("NBR", "HNBR", "FKM", "EPDM", "VMQ", "FVMQ", "TPU", "paper", "other", "unknown")
MASS_BASES: Final = ("all parts on the pan", "open half", "closed", "closed with bearings and crown gear")
"""What was on the scale; only equal ones are compared."""
CLOSED: Final = "closed"
"""The basis of a mass that was noted as that of the closed diff."""
WRITTEN: Final = "written"
CLOSED_MASS: Final = "closed mass"
CLOSED_MASS_WRITTEN: Final = "closed mass, written"
BASIS_ORIGINS: Final = (WRITTEN, CLOSED_MASS, CLOSED_MASS_WRITTEN)
"""What in a note row said what was on the scale: its own column, the column of closed masses, or both."""
NOT_SAID: Final = "not said"
"""Used for what nobody wrote down: a mass basis, the place of a part, what an entry was asked for."""

GRIPS: Final = ("low", "medium", "high")
BROKE_CALL: Final = "broke"
CALLS: Final = ("keep", "change", "undecided", BROKE_CALL)
"""What was decided after a run."""
NOTHING: Final = "nothing"
"""Written of a run before which nothing was changed, or in which nothing happened: not the same as not said."""
CHANGED_SINCE: Final = ("tyres", "oil", "springs")
"""What is changed most between two runs; anything else is written in words."""
HAPPENED: Final = ("hit", "traction roll", BROKE_CALL)
"""What happens most in a run; anything else is written in words."""

NEW: Final = "new"
TOP_UP: Final = "top-up"
OIL_CHANGE: Final = "oil change"
REBUILD: Final = "rebuild"
BUILD_KINDS: Final = (NEW, REBUILD, OIL_CHANGE, TOP_UP)
STEP_BY_STEP: Final = "step by step"
SAME_AGAIN: Final = "same again"
BENCH_WAYS: Final = (STEP_BY_STEP, SAME_AGAIN)
"""How a job is done at the bench: a screen for each step, or only for those that take a number or a decision."""
CLOSED_AGAIN: Final = "closed again"
"""Typed as the day of a build of which nobody wrote anything down: it was found closed when it ran or was weighed."""
VISCOSITY_ORIGINS: Final = ("note", "own measurement", "label's source", "blend")
SQUEEZE_OUT: Final = ("none", "trace", "runs out")

FEELS: Final = ("smooth", "gritty", "notchy", "tight spot", "stiff all round", "loose", "slipping")
"""How a diff turns by hand."""
SEAL_STATES: Final = ("ok", "flattened", "nicked", "swollen", "hard", "missing")
GEAR_STATES: Final = ("new", "ok", "polished", "worn", "pitted", "chipped", "teeth missing")
SHAFT_STATES: Final = ("ok", "polished band", "grooved", "scratched")
CROSS_PIN_STATES: Final = ("ok", "polished", "worn", "bent", "broken")
BORE_STATES: Final = ("ok", "worn", "oval", "scratched")
SCREW_STATES: Final = ("ok", "recess worn", "turns without rising", "stripped", "one stopped early")
SCREWS_THAT_DO_NOT_HOLD: Final = ("turns without rising", "stripped")
"""States of screws whose thread in the housing is gone."""

PHOTO_PIECES: Final = (
    "outdrive",
    "seal",
    "side gear",
    "small gear",
    "cross pin",
    "bearing",
    "gasket",
    "screw",
    "case",
    "oil",
    "whole diff",
    "label",
    "other",
)
"""What a photograph shows."""
PHOTO_SIDES: Final = ("case side", "lid side", "both", "joint")
"""On which side of the diff that is."""

SOUND: Final = frozenset({"smooth", "new", "ok", "polished", "polished band"})
"""The feels and states with which a diff may run on.

Another feel puts it on "look at it", one of ``NOT_TO_RUN`` on "open it".
A part in another state is listed in the service of its diff.
"""

NOT_TO_RUN: Final = frozenset({"notchy"})
"""The feels with which a diff is opened before it runs again."""

VERDICTS: Final = ("ok", "caution", "stop", "unclear")
FILL_STATES: Final = ("full", "unknown", "doubtful", "lost oil")
"""Whether a diff was full in a run: a good weighing afterwards; no weighing that decides it; between the last good and
the first bad weighing; after the first bad one."""
SHELF_WORDS: Final = ("ready", "look at it", "weigh it", "open it", "apart")
LIMIT_KINDS: Final = ("runs between openings", "oil lost in grams", "oil lost as a share", "seal uses", "fill window")
SHARE_LIMITS: Final = ("oil lost as a share",)
"""The kinds of limit that are a share of the oil put in, from 0 to 1."""
LIMIT_UNITS: Final = {
    "runs between openings": "runs",
    "oil lost in grams": "g",
    "oil lost as a share": "of the oil put in",
    "seal uses": "uses",
    "fill window": "g either way",
}
"""The unit of each kind of limit; of a share, what it is a share of."""
JOBS: Final = ("rebuild", "weigh", "look over", "oil change", "out of the car and in again")
"""Jobs on a diff whose minutes the team may type."""
LEAVE_IT: Final = "leave it"
UNCLEAR_WHAT: Final = "unclear"
WEIGH_IT: Final = "weigh it"
LOOK_AT_IT: Final = "look at it"
CHANGE_THE_OIL: Final = "change the oil"
REBUILD_IT: Final = "rebuild"
SECOND_ONE: Final = "build a second one"
PLAN_ACTS: Final = (LEAVE_IT, UNCLEAR_WHAT, WEIGH_IT, LOOK_AT_IT, CHANGE_THE_OIL, REBUILD_IT, SECOND_ONE)
"""What a plan says of a diff, the least work first; unclear is what the records cannot tell."""
STOCKED_PARTS: Final = (
    "seal",
    "gasket",
    "outdrive",
    "cross pin",
    "side gear",
    "small gear",
    "bearing",
    "screw",
    "shim",
    "other",
)
"""Parts of which a team counts how many it has."""
PART_SIDES: Final = ("case side", "lid side")
COUNTED: Final = "counted"
DELIVERED: Final = "delivered"
TAKEN_OUT: Final = "taken out"
STOCK_CHANGES: Final = (COUNTED, DELIVERED, TAKEN_OUT)
BOTTLE_LEVELS: Final = ("full", "about half", "nearly empty")
"""How full a bottle looks."""
LIMIT_OWNERS: Final = ("yours", "proposal")
"""The owner of a limit: the team, or our own figure."""


def is_sound(word: str | None) -> bool:
    """Whether a feel or state lets the diff run on; nothing written down counts as sound.

    >>> is_sound("polished band"), is_sound("loose"), is_sound(None)
    (True, False, True)
    """
    return word is None or word in SOUND
