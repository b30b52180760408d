"""Why a diff is not ready, as findings of the check: each reason of the shelf in the shelf's own words.

What the weighings say of the oil needs more words and is in ``leak_findings``, which starts with the same ones.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final

from bevelbook.declare.in_command import in_command
from bevelbook.facts import diffs
from bevelbook.facts.diffs import WORD_OF
from bevelbook.facts.parts import parts_of_build
from bevelbook.plugin.check import Finding, about_build
from bevelbook.records import BY_NAME
from bevelbook.reports.leak_found import place_in_words
from bevelbook.reports.shelf import reasons_in_words, shelf_rows
from bevelbook.store.lookup import label_of

SEVERITY_OF: Final = {"open it": "stop", "look at it": "caution", "weigh it": "worth a look"}
"""How bad a reason is, by the shelf word that it gives."""
FELT: Final = {
    "gritty": "dirt or a burr: look at teeth and oil",
    "notchy": "teeth or cross pin: open it and look at them before it runs",
    "tight spot": "a bent or chipped part: turn it slowly and find where",
    "stiff all round": "too many shims, or thicker oil than was meant",
    "loose": "a shim left out or a worn gear: count and measure",
    "slipping": "thin oil, or gears that climb over each other: look at the float",
}
"""What a feel points to (common practice, no source)."""
_WEIGH_IT: Final = "Weigh it with the same parts on the scale: 'bevelbook record weighing'."
_NOT_PLACED: Final = """
SELECT id, mass_basis IS NULL AS no_basis, weighed_on IS NULL AND runs IS NULL AS no_time
FROM weighings WHERE build = ? AND (mass_basis IS NULL OR weighed_on IS NULL AND runs IS NULL) ORDER BY created_at, id
"""
_CODE_AND_REMEDY: Final = {
    diffs.BROKE: (
        "broke",
        "Open it and look at gears, cross pin and shafts. If something else in the car broke, correct the call of "
        "that run.",
    ),
    diffs.NOTCHY: ("turns_badly", "Open it and look at teeth and cross pin before it runs."),
    diffs.RUNS_REACHED: (
        "limit_passed",
        "Open it, look at shafts, gears and seals, and note what you find: 'bevelbook record opening'.",
    ),
    diffs.WET_ON_PAPER: ("leak_found", "Open it and look where it was wet."),
    diffs.SEALS_OVER: ("limit_passed", "Put new seals in when it is next opened."),
    diffs.TURNS_BADLY: ("turns_badly", "Turn it slowly by hand and find where before it runs."),
    diffs.NOT_WEIGHED: ("not_weighed", _WEIGH_IT),
    diffs.WEIGHED_LONG_AGO: ("weighed_long_ago", _WEIGH_IT),
}


def severity_of(reason: str) -> str:
    """How bad a reason of the shelf is (any but those for apart)."""
    return SEVERITY_OF[WORD_OF[reason]]


def shelf_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """Each reason for which a diff is not ready, except what the weighings say of the oil."""
    for row in shelf_rows(connection):
        for reason, words in reasons_in_words(row):
            if reason not in _CODE_AND_REMEDY:
                continue
            code, remedy = _CODE_AND_REMEDY[reason]
            if reason in (diffs.TURNS_BADLY, diffs.NOTCHY) and row["hand_feel"] in FELT:
                remedy = f"{FELT[row['hand_feel']].capitalize()}."
            elif reason == diffs.WET_ON_PAPER:
                remedy = f"Open it and look at {place_in_words(row['paper_wet_at'])}."
            elif reason == diffs.SEALS_OVER:
                remedy = f"Put new seals in when it is next opened: {_worn(connection, row)}."
            elif reason in (diffs.NOT_WEIGHED, diffs.WEIGHED_LONG_AGO):
                remedy = f"{remedy}{_missing(connection, row)}"
            yield about_build(
                {"build": row["build"], "label": row["build_label"]}, code, severity_of(reason), words, remedy
            )


def _missing(connection: sqlite3.Connection, row: Mapping[str, Any]) -> str:
    """What a weighing of a build lacks, so that it is compared with nothing; empty where none lacks anything."""
    for weighing, no_basis, no_time in connection.execute(_NOT_PLACED, (row["build"],)).fetchall():
        lacks = " ".join(["mass_basis=..."] * no_basis + ["weighed_on=..."] * no_time)
        name = label_of(connection, BY_NAME["weighing"], weighing)
        what = " and ".join(["what was on the scale"] * no_basis + ["when it was"] * no_time)
        return f" Of {name} it is not said {what}: 'bevelbook record weighing {in_command(name)} {lacks}'."
    return ""


def _worn(connection: sqlite3.Connection, row: Mapping[str, Any]) -> str:
    """The seals in a build that were used more often than the team's limit says."""
    return "; ".join(
        one.words
        for one in parts_of_build(connection, row["build"])
        if one.part == "seal" and one.uses > row["limit_seal_uses"]
    )
