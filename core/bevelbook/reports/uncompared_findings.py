"""Weighings that cannot be compared with another, and what to write down so that they can."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.declare.in_command import command_of
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.display.begun import begun
from bevelbook.facts.uncompared_weighings import Uncompared, uncompared
from bevelbook.plugin.check import Finding, about_build
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import label_of

_WEIGHING = BY_NAME["weighing"]
_IN_USE = "SELECT current_build FROM diff_facts WHERE word <> 'apart' AND current_build IS NOT NULL"


def what_to_do(one: Uncompared, weighing: str) -> str:
    """What is missing and the command that adds it to that weighing (by name); if nothing is, the next weighing.

    The next weighing is a new record: its command names the build, so that this one is not changed.
    """
    of_this = command_of("record", "weighing", weighing)
    of_the_next = command_of("record", "weighing", f"build={one.label}")
    when = "runs= or weighed_on=" if one.runs is None else ""
    bases = " or ".join(one.other_bases)
    if one.mass_basis == NOT_SAID and one.is_alone:
        asked = " and ".join(filter(None, (when, f"mass_basis={bases or 'closed'}")))
        otherwise = ", or remove it if something else was on the scale" if one.is_off else ""
        return f"say {asked} ({of_this} ...){otherwise}"
    if one.is_alone and bases:
        asked = " and ".join(filter(None, (when, f"mass_basis={bases}")))
        return f"say {asked} if that was on the scale ({of_this} ...), or weigh it that way too ({of_the_next} ...)"
    if when:
        return f"say {when} ({of_this} ...)"
    return f"weigh it the same way again after some runs ({of_the_next} ...)"


def uncompared_line(connection: sqlite3.Connection, weighing: str) -> str | None:
    """The hint for one weighing, by its id; None where it compares with another mass."""
    build, mass_g, day, basis = connection.execute(
        "SELECT build, mass_g, weighed_on, coalesce(mass_basis, ?) FROM weighings WHERE id = ?", (NOT_SAID, weighing)
    ).fetchone()
    for one in uncompared(connection, (build,)):
        if (one.mass_g, one.day, one.mass_basis) == (mass_g, day, basis):
            return f"This mass compares with nothing yet: {what_to_do(one, label_of(connection, _WEIGHING, weighing))}"
    return None


def uncompared_findings(connection: sqlite3.Connection) -> Iterator[Finding]:
    """Weighings of the diffs in use that compare with nothing."""
    for one in uncompared(connection, [row[0] for row in connection.execute(_IN_USE)]):
        when = "" if one.day is None else f" on {one.day}"
        asked = what_to_do(one, _weighing_of(connection, one))
        yield about_build(
            one._asdict(),
            "weighing_uncompared",
            "worth a look",
            f"the mass of {one.mass_g:.2f} g{when} compares with nothing yet",
            f"{begun(asked)}.",
        )


def _weighing_of(connection: sqlite3.Connection, one: Uncompared) -> str:
    """The name of this weighing; of equal ones the last one written."""
    (found,) = connection.execute(
        "SELECT max(id) FROM weighings WHERE build = ? AND mass_g = ? AND weighed_on IS ? "
        "AND coalesce(mass_basis, ?) = ?",
        (one.build, one.mass_g, one.day, NOT_SAID, one.mass_basis),
    ).fetchone()
    return "NAME" if found is None else label_of(connection, _WEIGHING, found)
