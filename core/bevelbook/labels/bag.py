"""The label of the bag or the place in the box in which a diff lies: what is in it, what it weighed, runs left."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from math import floor
from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.display.format import format_figure
from bevelbook.facts.limits import TeamLimits
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import Row, rows
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.labels.contents import Boxes, LabelRow, PaperLabel, ToWrite, Words
from bevelbook.labels.oil_on_label import cst_words

MOST_BOXES: Final = 24
"""Boxes of runs at most: more are not counted at a glance."""
BOXES_WITHOUT_LIMIT: Final = 10
_BUILDS: Final = """
SELECT b.id, b.label, d.mark, b.diff, b.built_on, p.name AS builder, f.label AS fluid,
       b.closed_mass_g, k.viscosity_cst, k.viscosity_from, k.runs, k.weighed_as, k.first_mass_g,
       (SELECT group_concat(part, ' + ') FROM (
            SELECT coalesce(pf.label, bf.label, printf('%.10g cSt', x.viscosity_cst)) || ' '
                   || printf('%.10g', x.mass_g) || ' g' AS part
            FROM blend_parts x LEFT JOIN fluids pf ON pf.id = x.fluid
            LEFT JOIN bottles bo ON bo.id = x.bottle LEFT JOIN fluids bf ON bf.id = bo.fluid
            WHERE x.build = b.id ORDER BY x.mass_g DESC, x.id)) AS oils_blended
FROM builds b JOIN diffs d ON d.id = b.diff
LEFT JOIN people p ON p.id = b.builder LEFT JOIN fluids f ON f.id = b.fluid
LEFT JOIN build_facts k ON k.build = b.id
WHERE b.id = ?
"""
_IN_USE: Final = f"""
SELECT s.current_build FROM diff_facts s JOIN diffs d ON d.id = s.diff JOIN build_facts k ON k.build = s.current_build
WHERE k.opened_on IS NULL AND {stands_alone_sql("diff", "d.id")} ORDER BY d.label, d.id
"""


def builds_in_bags(connection: sqlite3.Connection) -> list[str]:
    """The ids of the builds in use: the last one of each diff, unless it was opened since."""
    return [str(row[0]) for row in connection.execute(_IN_USE)]


def bag_labels(connection: sqlite3.Connection, builds: Iterable[str]) -> Iterator[PaperLabel]:
    """The label of each build, by their ids."""
    limits = TeamLimits(connection)
    for build in builds:
        for row in rows(connection, _BUILDS, (build,)):
            limit = limits.of(row["diff"]).runs
            yield PaperLabel("bag", row["label"], row["label"], tuple(_rows(row, limit)), _LEAST)


_LEAST: Final = (
    "mark", "runs left", "day and builder", "second weighing", "weighing", "oil", "closed mass", "where it goes"
)  # fmt: skip
"""Where the label goes, and where never, is the last to be left out."""


def _rows(row: Row, limit: float | None) -> Iterator[LabelRow]:
    if row["mark"]:
        yield Words("mark", f"its case: {row['mark']}")
    yield Words("oil", _oil(row))
    yield Words("day and builder", f"built {row['built_on']}, {_by(row['builder'])}")
    yield _closed_mass(row)
    yield _runs_left(row["runs"] or 0.0, limit)
    for part in ("weighing", "second weighing"):
        yield ToWrite(part, ("weighed", "g at run"), (1.5, 1.0))
    yield Words("where it goes", "On the bag or its place in the box, never on the diff.")


def _by(builder: str | None) -> str:
    return f"by {builder}" if builder else "builder not noted"


def _oil(row: Row) -> str:
    name = row["fluid"] or (f"blend of {row['oils_blended']}" if row["oils_blended"] else "oil not noted")
    return f"{name}: {cst_words(row['viscosity_cst'], row['viscosity_from'])}"


def _closed_mass(row: Row) -> LabelRow:
    """What the closed diff weighed, to compare with; where nobody weighed it, a line to write it on."""
    mass_g: Any = row["closed_mass_g"]
    if mass_g is None and row["weighed_as"] == "closed":
        mass_g = row["first_mass_g"]
    if mass_g is None:
        return ToWrite("closed mass", ("closed mass not weighed yet:",), (1.0,), "g")
    return Words("closed mass", f"closed mass {format_figure(mass_g, 'g')} g, to compare with")


def _runs_left(runs: float, limit: float | None) -> LabelRow:
    if limit is None:
        done = f"{count_of(runs)} done" if runs else "not run yet"
        return Boxes("runs left", f"no limit of runs is set; {done}, the next:", BOXES_WITHOUT_LIMIT)
    left = floor(limit - runs + 1e-6)
    if left <= 0:
        return Words("runs left", f"no runs left: {runs:g} of your limit of {limit:g} are done")
    first = f", the next {MOST_BOXES}" if left > MOST_BOXES else ""
    return Boxes("runs left", f"{counted(left, 'run')} left of {limit:g}{first}:", min(left, MOST_BOXES))
