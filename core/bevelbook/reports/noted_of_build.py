"""What is noted of one build, group by group: oil, masses, shims, seals, parts, feel, and what came of it."""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.calculating.calculate import clean
from bevelbook.declare.known_units import suffix_of, unit_said_by
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.answered_results import answered_sql
from bevelbook.facts.car_values import values_in_runs
from bevelbook.facts.oil import FILL_G
from bevelbook.facts.parts import parts_of_build
from bevelbook.kept_json import object_in
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.build_difference import (
    BLEND,
    BUILD,
    CALCULATIONS,
    CAR,
    FEEL,
    MASSES,
    OIL,
    OUTCOME,
    PARTS,
    SEALS,
    SHIMS,
    Noted,
    NotedValues,
)
from bevelbook.reports.build_outcome import BuildOutcome
from bevelbook.store.lookup import label_of

_APART: Final = frozenset({"label", "fluid", "bottle", "viscosity_cst", "viscosity_from"})
"""Shown under the oil, or the heading itself."""
_GROUP_OF: Final = {
    "hand_feel": FEEL,
    "against_last": FEEL,
    "squeeze_out": FEEL,
    "paper_wet_at": FEEL,
    "note": FEEL,
    "gasket": PARTS,
    "grease": PARTS,
    "seals": PARTS,
    "screw_torque_nm": PARTS,
}
"""The group of a field of a build; masses are under theirs, and what is not here is about how it was built."""
FITTED: Final = "part fitted"
"""The thing that a part is, which is written down where one was changed."""
OIL_FROM: Final = "oil mass from"
"""The name under which it is noted whether the oil in a build is written or follows from its masses."""
PART_RUNS: Final = "runs of its parts"
"""The thing that the runs of the single parts describe."""


def noted_of_build(
    connection: sqlite3.Connection, registry: Registry | None, build: str, outcome: BuildOutcome
) -> dict[str, NotedValues]:
    """What is noted of a build, by its id: first what a person changes, then its outcome, last what is computed.

    The registry gives the units of calculator outputs that do not have them in their names.
    """
    of_fields = _of_fields(connection, build)
    return {
        OIL: _oil(connection, build),
        BLEND: _blend(connection, build),
        MASSES: of_fields[MASSES],
        SHIMS: _shims(connection, build),
        SEALS: _seals(connection, build),
        PARTS: {**of_fields[PARTS], **_parts(connection, build)},
        FEEL: of_fields[FEEL],
        CAR: _car(connection, build),
        BUILD: of_fields[BUILD],
        OUTCOME: outcome.noted(),
        CALCULATIONS: _calculations(connection, registry, build),
    }


def _of_fields(connection: sqlite3.Connection, build: str) -> dict[str, NotedValues]:
    row = connection.execute(
        f"SELECT b.*, round({FILL_G}, 6) AS fill_g FROM builds b WHERE b.id = ?", (build,)
    ).fetchone()
    noted: dict[str, NotedValues] = {MASSES: {}, PARTS: {}, FEEL: {}, BUILD: {}}
    for field in BY_NAME["build"].fields:
        value = row[field.name]
        if field.name in _APART or value is None:
            continue
        if field.kind == "reference" and field.target:
            value = label_of(connection, BY_NAME[field.target], value)
        group = MASSES if field.unit == "g" else _GROUP_OF.get(field.name, BUILD)
        noted[group][field.words] = Noted(value, _unit(field.unit))
    _with_oil_that_follows(noted[MASSES], row["oil_mass_g"], row["fill_g"])
    return noted


def _with_oil_that_follows(masses: NotedValues, oil_g: float | None, fill_g: float | None) -> None:
    """Put the oil that follows from dry and filled mass beside them where none is written, and say where it is from."""
    if fill_g is None or fill_g <= 0:
        return
    oil = BY_NAME["build"].field("oil_mass_g")
    masses.setdefault(oil.words, Noted(fill_g, _unit(oil.unit)))
    masses[OIL_FROM] = Noted("written" if oil_g is not None else "filled less dry mass")


def _unit(unit: str | None) -> str:
    return "" if unit in (None, "1") else str(unit)


def _oil(connection: sqlite3.Connection, build: str) -> NotedValues:
    row = connection.execute(
        "SELECT f.label, bo.lot, k.viscosity_cst, k.viscosity_from FROM builds b JOIN build_facts k ON k.build = b.id "
        "LEFT JOIN fluids f ON f.id = b.fluid LEFT JOIN bottles bo ON bo.id = b.bottle WHERE b.id = ?",
        (build,),
    ).fetchone()
    noted: NotedValues = {"fluid": Noted(row["label"]), "bottle": Noted(row["lot"])}
    if row["viscosity_cst"] is not None:
        noted["viscosity at 25 °C"] = Noted(row["viscosity_cst"], "cSt")
        noted["viscosity from"] = Noted(row["viscosity_from"])
    return noted


def _blend(connection: sqlite3.Connection, build: str) -> NotedValues:
    rows = connection.execute(
        "SELECT f.label, p.viscosity_cst, sum(p.mass_g) FROM blend_parts p LEFT JOIN fluids f ON f.id = p.fluid "
        "WHERE p.build = ? GROUP BY f.label, p.viscosity_cst ORDER BY p.viscosity_cst, f.label",
        (build,),
    )
    return {f"{label or 'oil'}, {viscosity:,.0f} cSt": Noted(clean(mass), "g") for label, viscosity, mass in rows}


def _seals(connection: sqlite3.Connection, build: str) -> NotedValues:
    rows = connection.execute(
        "SELECT f.place, s.label, f.condition, f.state, f.measured_outside_diameter_mm AS outside, "
        "f.measured_inside_diameter_mm AS inside, f.measured_section_mm AS section "
        "FROM seal_fittings f LEFT JOIN seals s ON s.id = f.seal WHERE f.build = ? ORDER BY f.place, f.id",
        (build,),
    )
    noted: NotedValues = {}
    for row in rows:
        for name, words, unit in (
            ("label", "", ""),
            ("condition", " new or used", ""),
            ("state", " state", ""),
            ("outside", " outside diameter", "mm"),
            ("inside", " inside diameter", "mm"),
            ("section", " section", "mm"),
        ):
            if row[name] is not None:
                noted[f"{row['place']}{words}"] = Noted(row[name], unit, row["place"])
    return noted


def _shims(connection: sqlite3.Connection, build: str) -> NotedValues:
    """The stack of each place: its sum and the single pieces."""
    stacks: dict[str, list[tuple[float, int]]] = {}
    for place, thickness, pieces in connection.execute(
        "SELECT place, thickness_mm, coalesce(pieces, 1) FROM build_shims WHERE build = ? "
        "ORDER BY place, thickness_mm DESC, id",
        (build,),
    ):
        stacks.setdefault(place, []).append((thickness, pieces))
    noted: NotedValues = {}
    for place, pieces in stacks.items():
        noted[place] = Noted(clean(sum(thickness * count for thickness, count in pieces)), "mm", place)
        single = " + ".join(f"{count} x {thickness:g}" for thickness, count in pieces)
        noted[f"{place}, pieces"] = Noted(single, thing=place)
    return noted


def _parts(connection: sqlite3.Connection, build: str) -> NotedValues:
    noted: dict[str, list[str]] = {}
    for row in connection.execute(
        "SELECT part, place, condition, mark, note FROM build_parts WHERE build = ? ORDER BY part, place, mark, id",
        (build,),
    ):
        name = f"{row['part']}, {row['place']}" if row["place"] else row["part"]
        words = [word for word in (row["condition"], row["mark"], row["note"]) if word]
        noted.setdefault(name, []).append(", ".join(words) or "noted")
    found = {name: Noted("; ".join(words), thing=FITTED) for name, words in noted.items()}
    for part in parts_of_build(connection, build):
        place = "" if part.place == NOT_SAID else f", {part.place}"
        found[f"{part.part}{place}, runs at its end"] = Noted(part.runs, "runs", PART_RUNS)
    return found


def _calculations(connection: sqlite3.Connection, registry: Registry | None, build: str) -> NotedValues:
    """The outputs of the latest calculation of each calculator; for one that is gone, the unit comes from the name.

    Left out: calculators whose result describes a pair of builds, those whose question the facts answer, and kept
    results that are damaged, which ``check`` reports.
    """
    noted: NotedValues = {}
    for row in connection.execute(
        "SELECT calculator, found, verdict FROM latest_calculations c "
        f"WHERE subject_table = 'builds' AND subject_id = ? AND NOT {answered_sql()} ORDER BY calculator",
        (build,),
    ):
        offered = registry.declared(row["calculator"]) if registry else None
        if offered and offered.calculator.of_a_pair:
            continue
        found = object_in(row["found"])
        if found is None:
            continue
        units = {field.name: field.unit for field in offered.calculator.outputs} if offered else {}
        title = offered.calculator.title if offered else row["calculator"]
        noted[f"{row['calculator']}: verdict"] = Noted(row["verdict"], thing=title)
        for name, value in found.items():
            suffix = suffix_of(name) or ""
            unit = _unit(units.get(name) or unit_said_by(name))
            what = f"{row['calculator']}: {name.removesuffix(suffix).replace('_', ' ')}"
            if value is not None:
                noted[f"{what} [{unit}]" if what in noted else what] = Noted(value, unit, title)
    return noted


def _car(connection: sqlite3.Connection, build: str) -> NotedValues:
    """Motor, springs and the like of the car in the runs of the build; several values if they changed meanwhile."""
    return {what: Noted(", ".join(values)) for what, values in values_in_runs(connection, build).items()}
