"""What is said of a weighing that compares with nothing: what to write beside it so that it counts."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.facts.uncompared import Uncompared, uncompared
from bevelbook.findings import Finding, about_build
from bevelbook.vocabulary import NOT_SAID

_IN_USE = "SELECT current_build FROM diff_facts WHERE word <> 'apart' AND current_build IS NOT NULL"


def what_to_say(one: Uncompared) -> str:
    """What is missing, as fields of the record."""
    asked = []
    if one.runs is None:
        asked.append("runs= or weighed_on=")
    if one.mass_basis == NOT_SAID and one.is_alone:
        asked.append(f"mass_basis={' or '.join(one.other_bases) or 'closed'}")
    elif one.is_alone and one.other_bases:
        asked.append(f"mass_basis={' or '.join(one.other_bases)} if that was on the scale, or weigh it that way too")
    return f"say {' and '.join(asked)}" if asked else "weigh it the same way again after some runs"


def uncompared_line(connection: sqlite3.Connection, weighing: str) -> str | None:
    """What to say of one weighing, by its id; None where it compares with another mass."""
    build, mass_g, day, basis = connection.execute(
        "SELECT build, mass_g, weighed_on, coalesce(mass_basis, ?) FROM weighings WHERE id = ?", (NOT_SAID, weighing)
    ).fetchone()
    for one in uncompared(connection, (build,)):
        if (one.mass_g, one.day, one.mass_basis) == (mass_g, day, basis):
            return f"This mass compares with nothing yet: {what_to_say(one)} (bevelbook record weighing {weighing} ...)"
    return None


def uncompared_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """Weighings of the diffs in use that compare with nothing."""
    for one in uncompared(connection, [row[0] for row in connection.execute(_IN_USE)]):
        when = "" if one.day is None else f" on {one.day}"
        yield about_build(
            one._asdict(),
            "weighing_uncompared",
            "worth a look",
            f"the mass of {one.mass_g:.2f} g{when} compares with nothing yet",
            f"{what_to_say(one).capitalize()}: bevelbook record weighing.",
        )
