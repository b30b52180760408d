"""What ``like=`` takes over from another build: what was decided, its parts, and its oil as the one to put in."""

from __future__ import annotations

import sqlite3
from collections.abc import Container, Iterator, Mapping
from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.facts.builds import newest_first
from bevelbook.facts.dry_mass import WITHOUT_OPENING_UP
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.records import BY_NAME, KINDS, Kind
from bevelbook.records.facts import BuildFacts
from bevelbook.store.schema import quoted

_OIL: Final = ("fluid", "bottle", "viscosity_cst")
"""Giving one of these sets the oil: then nothing of the other build's oil is carried over."""
_TARGET: Final = "target_oil_mass_g"


def carried_over(connection: sqlite3.Connection, kind: Kind, values: dict[str, Any]) -> dict[str, str]:
    """Add to the values of a new build those that ``like`` carries over; returns where each is from, by field.

    Where the other build has no target, its oil put in is the target. What was done is carried over only if the diff is
    taken apart for it: in a top-up or an oil change the old dry mass would go on holding.
    """
    if kind.name != "build" or not values.get("like"):
        return {}
    like = connection.execute("SELECT * FROM builds WHERE id = ?", (values["like"],)).fetchone()
    carried = {}
    kept_back = {*_OIL, "viscosity_from"} if sets_the_oil(values) else set()
    if like["kind"] in WITHOUT_OPENING_UP:
        kept_back.add("kind")
    for name in carried_fields(kind):
        if name not in kept_back and name not in values and like[name] is not None:
            values[name] = like[name]
            carried[name] = like["label"]
    if _TARGET not in values:
        facts = facts_of_some(connection, BuildFacts, (like["id"],)).get(like["id"])
        if facts is not None and facts.oil_in_g is not None and facts.oil_in_g > 0:
            values[_TARGET] = facts.oil_in_g
            carried[_TARGET] = f"{like['label']}, where it was the oil put in"
    return carried


def carried_fields(kind: Kind) -> list[str]:
    """The fields that ``like=`` takes over."""
    return [field.name for field in kind.fields if field.carried]


def sets_the_oil(typed: Container[str]) -> bool:
    """Whether a build names an oil of its own, by the names of its fields that were typed."""
    return any(name in typed for name in _OIL)


def pieces_carried(
    connection: sqlite3.Connection, values: Mapping[str, Any], typed: Container[str]
) -> list[tuple[Kind, dict[str, Any]]]:
    """The seals, shims, parts and parts of a blend that a new build takes over from the one that it is made ``like``.

    Whether one is new or used, and what was measured on it, is not. A blend stays behind where the build names an oil,
    and so does a marked piece that is in another diff: there is only one of it.
    """
    found = []
    for kind in KINDS:
        columns = carried_fields(kind)
        if not columns or "build" not in kind.columns or (kind.name == "blend_part" and sets_the_oil(typed)):
            continue
        rows = connection.execute(
            f"SELECT {', '.join(map(quoted, columns))} FROM {kind.table} WHERE build = ? ORDER BY id", (values["like"],)
        ).fetchall()
        pieces = [dict(zip(columns, row, strict=True)) for row in rows]
        found += [(kind, one) for one in pieces if _is_in(connection, kind, one, values) is None]
    return found


def _is_in(
    connection: sqlite3.Connection, kind: Kind, piece: Mapping[str, Any], values: Mapping[str, Any]
) -> str | None:
    """The diff that keeps a marked piece, by name; None where the piece goes along into the new build."""
    if kind.name != "build_part" or not piece["mark"]:
        return None
    last_noted, label = connection.execute(
        "SELECT b.diff, d.label FROM build_parts p JOIN builds b ON b.id = p.build JOIN diffs d ON d.id = b.diff "
        f"WHERE p.part = ? AND p.mark = ? ORDER BY {newest_first('b')} LIMIT 1",
        (piece["part"], piece["mark"]),
    ).fetchone()
    (of_like,) = connection.execute("SELECT diff FROM builds WHERE id = ?", (values["like"],)).fetchone()
    return None if values["diff"] == of_like == last_noted else str(label)


def pieces_in_words(
    connection: sqlite3.Connection, kind: Kind, values: Mapping[str, Any], typed: Container[str]
) -> tuple[str, ...]:
    """``Carried over from rear-a/1: 2 seal fittings, 1 build shim``, and the marked pieces that are not."""
    if kind.name != "build" or not values.get("like"):
        return ()
    counts: dict[str, int] = {}
    for piece, _ in pieces_carried(connection, values, typed):
        noun = piece.name.replace("_", " ").removeprefix("build ")
        counts[noun] = counts.get(noun, 0) + 1
    said = []
    if counts:
        (label,) = connection.execute("SELECT label FROM builds WHERE id = ?", (values["like"],)).fetchone()
        listed = ", ".join(counted(number, noun) for noun, number in counts.items())
        said.append(f"Carried over from {label}, for you to say what is new: {listed}.")
    return (*said, *_stay(connection, values))


def _stay(connection: sqlite3.Connection, values: Mapping[str, Any]) -> Iterator[str]:
    part = BY_NAME["build_part"]
    for name, mark in connection.execute(
        "SELECT part, mark FROM build_parts WHERE build = ? AND mark IS NOT NULL ORDER BY part, mark, id",
        (values["like"],),
    ).fetchall():
        diff = _is_in(connection, part, {"part": name, "mark": mark}, values)
        if diff is not None:
            yield f"The marked {name} {mark} stays in {diff}."
