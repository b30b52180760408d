"""A leak that was found when a build was opened: what the eye saw goes before what the scale did not see."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final

from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.facts.openings import FIRST_OPENING
from bevelbook.facts.sql import rows
from bevelbook.plugin.check import Finding, about_build
from bevelbook.reports.oil_lost_line import loss_said
from bevelbook.reports.water_in_housings import with_water

FOUND: Final = "leak found when it was opened"
_WET: Final = ("damp", "drops", "empty")
_OPENED_LAST: Final = f"""
SELECT b.id, b.diff, k.*, b.label, o.opened_on, o.reason, o.leak_place, o.leak_amount
FROM diffs d CROSS JOIN openings o ON o.id = (
    SELECT x.id FROM builds y CROSS JOIN openings x ON x.build = y.id WHERE y.diff = d.id
    ORDER BY x.opened_on DESC, x.id DESC LIMIT 1)
CROSS JOIN builds b ON b.id = o.build CROSS JOIN build_facts k ON k.build = b.id
WHERE o.id = {FIRST_OPENING} AND coalesce(k.leak, '') NOT IN ('caution', 'stop') ORDER BY d.id
"""


def leak_found(place: str | None, amount: str | None, reason: str | None) -> str:
    """The leak that an opening found, with where and how much as far as noted; empty where it found none.

    >>> leak_found("joint", "drops", "leak"), leak_found(None, None, "routine"), leak_found("joint", "dry", "routine")
    ('leak found when it was opened (joint, drops)', '', '')
    """
    if amount == "dry" or not (place or amount in _WET or reason == "leak"):
        return ""
    where = ", ".join(word for word in (place, amount) if word)
    return f"{FOUND} ({where})" if where else FOUND


def of_opening(opening: Mapping[str, Any]) -> str:
    """The same of the row of an opening."""
    return leak_found(opening["leak_place"], opening["leak_amount"], opening["reason"])


def leak_found_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """The last opening of each diff, where it found a leak and the weighings of the build say nothing of lost oil."""
    for row in with_water(connection, (row for row in rows(connection, among(_OPENED_LAST)) if of_opening(row))):
        said = f"{of_opening(row)}, {row['opened_on']}; by the scale {loss_said(row, when=True)}"
        where = place_in_words(row["leak_place"])
        remedy = f"Look at {where} before it is closed, and weigh the next build after its first run."
        yield about_build(row | {"build": row["id"]}, "leak_found", "worth a look", said, remedy)


def place_in_words(place: str | None) -> str:
    """A place of a leak in a sentence.

    >>> place_in_words("joint"), place_in_words("both shafts"), place_in_words(None)
    ('the joint', 'both shafts', 'joint, shafts and screw holes')
    """
    if place in (None, "unknown"):
        return "joint, shafts and screw holes"
    return place if place == "both shafts" else f"the {place}"
