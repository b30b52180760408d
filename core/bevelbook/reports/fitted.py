"""What is noted as fitted in a build: its seals, parts and shims, one by one; and what usually sits in its diff."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import SEAL_PLACES
from bevelbook.display.days import built_in_words
from bevelbook.facts.parts import parts_of_build
from bevelbook.facts.runs import count_of
from bevelbook.facts.sql import rows
from bevelbook.kept_json import texts_in


class SealFitted(NamedTuple):
    """A seal in its place; ids of the fitting and of its kind, None where a kind is only usual there or not noted."""

    place: str
    fitting: str | None = None
    seal: str | None = None
    label: str | None = None
    condition: str | None = None
    state: str | None = None
    measured_inside_diameter_mm: float | None = None
    measured_section_mm: float | None = None
    measured_outside_diameter_mm: float | None = None


class PartFitted(NamedTuple):
    """A part in its place; ``row_id`` is that of the record in this build, None for one carried on from an earlier
    one."""

    part: str
    place: str | None = None
    mark: str | None = None
    row_id: str | None = None
    condition: str | None = None
    counted: str = ""
    """Its runs and builds so far, in words."""

    @property
    def words(self) -> str:
        """``outdrive lid side, dot of paint``."""
        named = " ".join(filter(None, (self.part, self.place if self.place != "both" else None)))
        return f"{named}, {self.mark}" if self.mark else named


class ShimFitted(NamedTuple):
    """Shims of one size in one place; a negative thickness is material taken away."""

    row_id: str
    place: str
    thickness_mm: float
    pieces: int
    bore_mm: float | None = None
    outside_diameter_mm: float | None = None
    note: str | None = None

    @property
    def words(self) -> str:
        """``0.2 mm, 5 x 7 mm``."""
        size = f"{abs(self.thickness_mm):g} mm{' taken away' if self.thickness_mm < 0 else ''}"
        if self.bore_mm is None or self.outside_diameter_mm is None:
            return size
        return f"{size}, {self.bore_mm:g} x {self.outside_diameter_mm:g} mm"


class BuildNamed(NamedTuple):
    """A build by id and label, with its day in words."""

    row_id: str
    label: str
    day: str

    @property
    def words(self) -> str:
        """``rear-a/11, built on 5 Sep 2026``."""
        return f"{self.label}, {self.day}"


USUAL_PARTS: Final = (
    PartFitted("side gear", "both"),
    PartFitted("small gear"),
    PartFitted("outdrive", "case side"),
    PartFitted("outdrive", "lid side"),
    PartFitted("cross pin"),
    PartFitted("gasket"),
    PartFitted("screw"),
)
"""The parts of a diff of which none was ever noted."""
_SEAL: Final = "seal"


def build_named(connection: sqlite3.Connection, build: str | None) -> BuildNamed | None:
    """A build by its id; None without one."""
    row = connection.execute("SELECT id, label, built_on FROM builds WHERE id = ?", (build,)).fetchone()
    return None if row is None else BuildNamed(row[0], row[1], built_in_words(row[2]))


def seals_fitted(connection: sqlite3.Connection, build: str | None) -> dict[str, SealFitted]:
    """The seals noted in a build by their place, in the order of places; of two in one place the later."""
    found = {
        row["place"]: SealFitted(**row)
        for row in rows(
            connection,
            "SELECT n.place, n.id AS fitting, n.seal, s.label, n.condition, n.state, n.measured_inside_diameter_mm, "
            "n.measured_section_mm, n.measured_outside_diameter_mm "
            "FROM seal_fittings n LEFT JOIN seals s ON s.id = n.seal WHERE n.build = ? ORDER BY n.created_at, n.id",
            (build,),
        )
    }
    return {place: found[place] for place in SEAL_PLACES if place in found}


def usual_seals(connection: sqlite3.Connection, diff: str) -> dict[str, SealFitted]:
    """The kinds of seal that usually sit in a diff, at every place of one."""
    row = connection.execute(
        "SELECT d.joint_seal, j.label, d.shaft_seal, s.label FROM diffs d LEFT JOIN seals j ON j.id = d.joint_seal "
        "LEFT JOIN seals s ON s.id = d.shaft_seal WHERE d.id = ?",
        (diff,),
    ).fetchone()
    if row is None:
        return {}
    joint, joint_label, shaft, shaft_label = row
    return {
        place: SealFitted(place, None, joint, joint_label)
        if place == SEAL_PLACES[0]
        else SealFitted(place, None, shaft, shaft_label)
        for place in SEAL_PLACES
    }


def parts_fitted(connection: sqlite3.Connection, build: str | None) -> list[PartFitted]:
    """The parts noted in a build itself."""
    return [
        PartFitted(**row)
        for row in rows(
            connection,
            "SELECT part, place, mark, id AS row_id, condition FROM build_parts WHERE build = ? "
            "ORDER BY part, place, mark, id",
            (build,),
        )
    ]


def parts_held(connection: sqlite3.Connection, build: str | None) -> list[PartFitted]:
    """The parts in a build, those among them that were noted in an earlier one, with their runs; without seals."""
    if build is None:
        return []
    places = ("case side", "lid side", "both")
    return [
        PartFitted(
            one.part,
            one.place if one.place in places else None,
            _mark_alone(one.mark, one.place),
            counted=f"{count_of(one.runs)}, {counted(one.uses, 'build')}",
        )
        for one in parts_of_build(connection, build)
        if one.part != _SEAL
    ]


def _mark_alone(mark: str | None, place: str) -> str | None:
    """The mark of a part, without the side that counting parts puts behind it."""
    return mark.removesuffix(f", {place}") if mark else None


def shims_fitted(connection: sqlite3.Connection, build: str | None) -> list[ShimFitted]:
    """The shims noted in a build, by place and thickness."""
    return [
        ShimFitted(**row)
        for row in rows(
            connection,
            "SELECT id AS row_id, place, thickness_mm, coalesce(pieces, 1) AS pieces, bore_mm, outside_diameter_mm, "
            "note FROM build_shims WHERE build = ? ORDER BY place, thickness_mm, id",
            (build,),
        )
    ]


def verdicts_kept(connection: sqlite3.Connection, table: str, row_id: str) -> list[str]:
    """What was worked out for a record and kept, a line each: ``seal swell: stop: do not put it back; the
    change of volume is ...``."""
    found = rows(
        connection,
        "SELECT calculator, verdict, reasons FROM latest_calculations "
        "WHERE subject_table = ? AND subject_id = ? ORDER BY calculator",
        (table, row_id),
    )
    return [
        f"{row['calculator'].replace('-', ' ')}: {row['verdict']}: {'; '.join(reasons[:2])}"
        for row in found
        if (reasons := texts_in(row["reasons"]))
    ]
