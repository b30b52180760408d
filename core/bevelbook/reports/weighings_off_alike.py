"""Two diffs weighed on one day and off by the same amount: something else was on the scale, or it was zeroed so."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.facts.near_masses import weighed_off_alike
from bevelbook.plugin.check import Finding, about_build


def off_alike_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """One finding for each such pair, about the build that was weighed later."""
    for one, other in weighed_off_alike(connection):
        over = one.offset.offset_g > 0
        thing = "a lid or a tray may have been on the scale" if over else "the scale may have been zeroed wrongly"
        yield about_build(
            {"build": other.build, "label": other.label},
            "weighings_off_alike",
            "worth a look",
            f"{other.mass_g:.2f} g on {other.day} is {other.offset.words}, and {one.diff_label} on the same day is "
            f"{one.offset.words}: {thing}",
            "Weigh both again with nothing else on the scale, and correct or remove these two weighings.",
        )
