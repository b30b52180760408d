"""Reasons for what is due for a diff, beside those of the shelf's word (``facts.diffs``), by their keys."""

from __future__ import annotations

from typing import Final

WEIGHED_ONCE: Final = "weighed once, with nothing before to hold it against"
WEIGHINGS_DISAGREE: Final = "weighings disagree"
LIMIT_PASSED: Final = "the runs planned pass the limit of runs"
OIL_RUNS_OUT: Final = "the limit of oil lost is reached within the runs planned"
OIL_MAY_RUN_OUT: Final = "the limit of oil lost may be reached within the runs planned"
OIL_NOT_FORESEEN: Final = "oil was lost, and how fast is not known"
SEALS_AT_LAST_USE: Final = "seals are at their last use"
NOTHING_KNOWN: Final = "nothing is written down of what is in it"
OF_OIL_AHEAD: Final = frozenset({OIL_RUNS_OUT, OIL_MAY_RUN_OUT, OIL_NOT_FORESEEN})
"""Those that say how long the oil in it lasts."""
