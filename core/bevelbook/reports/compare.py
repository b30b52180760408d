"""Two builds side by side: only what differs, numbers with sign and unit, and their runs in turn."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import clean
from bevelbook.declare.fields import UNIT_OF_SUFFIX, fields_of, suffix_of
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.display.format import SHOWN_UNIT, format_figure, is_noise
from bevelbook.display.table import table_lines
from bevelbook.facts.answered_results import answered_sql
from bevelbook.facts.car_values import values_in_runs
from bevelbook.facts.in_turn import InTurn, in_turn
from bevelbook.facts.kept_facts import facts_of
from bevelbook.facts.oil_days import days_kept_of
from bevelbook.facts.parts import parts_of_build
from bevelbook.facts.runs import count_of, runs_of_row
from bevelbook.facts.sql import rows
from bevelbook.formulas.lap_standing import ASK
from bevelbook.formulas.oil_days import DECIDED
from bevelbook.kept_json import object_in
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.facts import BuildFacts
from bevelbook.reports.oil_lost_line import loss_said
from bevelbook.reports.runs_in_turn import OnTrack, on_track
from bevelbook.store.lookup import find_id, label_of

_APART: Final = frozenset({"label", "fluid", "bottle", "viscosity_cst", "viscosity_from"})
"""Shown under the oil, or the heading itself."""


class Difference(NamedTuple):
    """One thing that differs. ``change`` is b minus a, for numbers; ``unit`` is empty for words and bare numbers."""

    group: str
    what: str
    a: Any
    b: Any
    change: float | None
    unit: str

    def cells(self) -> tuple[str, str, str, str]:
        """What, a, b and the signed change, for a table."""
        return (self.what, self._shown(self.a), self._shown(self.b), "" if self.change is None else self._signed())

    def _shown(self, value: Any) -> str:
        if value is None:
            return "-"
        return self._number(value) if _is_number(value) else str(value)

    def _signed(self) -> str:
        return self._number(self.change or 0.0, "+")

    def _number(self, value: float, sign: str = "") -> str:
        shown = SHOWN_UNIT.get(self.unit, self.unit)
        return f"{format_figure(value, self.unit or '1', sign=sign)} {shown}".strip()


class Comparison(NamedTuple):
    """Two builds by label and id, what differs between them group by group, and what their runs say."""

    a: str
    b: str
    build_a: str
    build_b: str
    differences: tuple[Difference, ...]
    on_track: OnTrack | None

    @property
    def same(self) -> bool:
        """Whether both names mean the same build."""
        return self.build_a == self.build_b

    def as_dict(self) -> dict[str, Any]:
        """The comparison for programs."""
        return {
            "a": self.a,
            "b": self.b,
            "same_build": self.same,
            "differences": [one._asdict() for one in self.differences],
            "on_track": self.on_track.as_dict() if self.on_track else None,
        }

    def lines(self) -> Iterator[str]:
        """The comparison for people."""
        yield from self._differing_lines()
        if self.on_track:
            yield ""
            yield "Run in turn"
            yield from self.on_track.lines()

    def _differing_lines(self) -> Iterator[str]:
        if not self.differences:
            yield (
                f"{self.a} is one build: nothing to compare."
                if self.same
                else f"{self.a} and {self.b}: no differences noted."
            )
            return
        cells = [difference.cells() for difference in self.differences]
        headings, *lines = table_lines(cells, headings=("", self.a, self.b, "change"), indent="  ")
        yield headings
        group = ""
        for difference, line in zip(self.differences, lines, strict=True):
            if difference.group != group:
                group = difference.group
                yield group
            yield line
        yield ""
        yield f"Change: {self.b} minus {self.a}. What is the same in both, or noted in neither, is left out."


Noted = dict[str, tuple[Any, str]]
"""What is noted of a build: value and unit by name."""


def compare(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None, odd_times: str = ASK
) -> Comparison:
    """Compare two builds, named by label or id; a diff's name means its last build. Raises UnknownNameError.

    ``odd_times`` says whether a time far off the others is asked about, counted or left out. The registry gives the
    units of calculator outputs that do not have them in their names.
    """
    comparison, runs = side_by_side(connection, a, b, registry)
    return comparison._replace(on_track=on_track(runs, odd_times)) if runs else comparison


def side_by_side(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None
) -> tuple[Comparison, InTurn | None]:
    """What the database has on both: what differs, and the runs in turn, not yet compared."""
    kind = BY_NAME["build"]
    build_a, build_b = (find_id(connection, kind, one) for one in (a, b))
    label_a, label_b = (label_of(connection, kind, one) for one in (build_a, build_b))
    found = differences(connection, build_a, build_b, registry)
    runs = None if build_a == build_b else in_turn(connection, build_a, build_b)
    return Comparison(label_a, label_b, build_a, build_b, found, None), runs


def differences(
    connection: sqlite3.Connection, a: str, b: str, registry: Registry | None = None
) -> tuple[Difference, ...]:
    """What differs between two builds, given by their ids."""
    kind = BY_NAME["build"]
    groups = [_groups(connection, registry, kind, one) for one in (a, b)]
    return tuple(one for name in groups[0] for one in _differing(name, groups[0][name], groups[1][name]))


def _differing(group: str, a: Noted, b: Noted) -> Iterator[Difference]:
    for what in dict.fromkeys((*a, *b)):
        (left, unit), (right, other_unit) = a.get(what, (None, "")), b.get(what, (None, ""))
        if left == right:
            continue
        change = clean(float(right - left)) if _is_number(left) and _is_number(right) else None
        if change is not None and is_noise(change):
            continue
        yield Difference(group, what, left, right, change, unit or other_unit)


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _groups(connection: sqlite3.Connection, registry: Registry | None, kind: Kind, build: str) -> dict[str, Noted]:
    row = connection.execute("SELECT * FROM builds WHERE id = ?", (build,)).fetchone()
    masses: Noted = {}
    build_noted: Noted = {}
    for field in kind.fields:
        value = row[field.name]
        if field.name in _APART or value is None:
            continue
        if field.kind == "reference" and field.target:
            value = label_of(connection, BY_NAME[field.target], value)
        into = masses if field.unit == "g" else build_noted
        into[field.words] = (value, _unit(field.unit))
    return {
        "Build": build_noted,
        "Masses": masses,
        "Oil": _oil(connection, build),
        "Blend": _blend(connection, build),
        "Seals": _seals(connection, build),
        "Shims": _shims(connection, build),
        "Parts": _parts(connection, build),
        "Calculations": _calculations(connection, registry, build),
        "Car in its runs": _car(connection, build),
        "Runs and outcome": _outcome(connection, build),
    }


def _unit(unit: str | None) -> str:
    return "" if unit in (None, "1") else str(unit)


def _oil(connection: sqlite3.Connection, build: str) -> Noted:
    row = connection.execute(
        "SELECT f.label, bo.lot, k.viscosity_cst, k.viscosity_from FROM builds b JOIN build_facts k ON k.build = b.id "
        "LEFT JOIN fluids f ON f.id = b.fluid LEFT JOIN bottles bo ON bo.id = b.bottle WHERE b.id = ?",
        (build,),
    ).fetchone()
    noted: Noted = {"fluid": (row["label"], ""), "bottle": (row["lot"], "")}
    if row["viscosity_cst"] is not None:
        noted["viscosity at 25 °C"] = (row["viscosity_cst"], "cSt")
        noted["viscosity from"] = (row["viscosity_from"], "")
    return noted


def _blend(connection: sqlite3.Connection, build: str) -> Noted:
    rows = connection.execute(
        "SELECT f.label, p.viscosity_cst, sum(p.mass_g) FROM blend_parts p LEFT JOIN fluids f ON f.id = p.fluid "
        "WHERE p.build = ? GROUP BY f.label, p.viscosity_cst ORDER BY p.viscosity_cst, f.label",
        (build,),
    )
    return {f"{label or 'oil'}, {viscosity:,.0f} cSt": (clean(mass), "g") for label, viscosity, mass in rows}


def _seals(connection: sqlite3.Connection, build: str) -> Noted:
    rows = connection.execute(
        "SELECT f.place, s.label, f.condition, f.state, f.measured_outside_diameter_mm AS outside, "
        "f.measured_inside_diameter_mm AS inside, f.measured_section_mm AS section "
        "FROM seal_fittings f LEFT JOIN seals s ON s.id = f.seal WHERE f.build = ? ORDER BY f.place, f.id",
        (build,),
    )
    noted: Noted = {}
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
                noted[f"{row['place']}{words}"] = (row[name], unit)
    return noted


def _shims(connection: sqlite3.Connection, build: str) -> Noted:
    """The stack of each place: its sum and the single pieces."""
    stacks: dict[str, list[tuple[float, int]]] = {}
    for place, thickness, pieces in connection.execute(
        "SELECT place, thickness_mm, coalesce(pieces, 1) FROM build_shims WHERE build = ? "
        "ORDER BY place, thickness_mm DESC",
        (build,),
    ):
        stacks.setdefault(place, []).append((thickness, pieces))
    noted: Noted = {}
    for place, pieces in stacks.items():
        noted[place] = (clean(sum(thickness * count for thickness, count in pieces)), "mm")
        noted[f"{place}, pieces"] = (" + ".join(f"{count} x {thickness:g}" for thickness, count in pieces), "")
    return noted


def _parts(connection: sqlite3.Connection, build: str) -> Noted:
    noted: dict[str, list[str]] = {}
    for row in connection.execute(
        "SELECT part, place, condition, mark, note FROM build_parts WHERE build = ? ORDER BY part, place, mark, id",
        (build,),
    ):
        name = f"{row['part']}, {row['place']}" if row["place"] else row["part"]
        words = [word for word in (row["condition"], row["mark"], row["note"]) if word]
        noted.setdefault(name, []).append(", ".join(words) or "noted")
    found: Noted = {name: ("; ".join(words), "") for name, words in noted.items()}
    for part in parts_of_build(connection, build):
        place = "" if part.place == NOT_SAID else f", {part.place}"
        found[f"{part.part}{place}, runs at its end"] = (part.runs, "runs")
    return found


def _calculations(connection: sqlite3.Connection, registry: Registry | None, build: str) -> Noted:
    """The outputs of the latest calculation of each calculator; for one that is gone, the unit comes from the name.

    Left out: calculators whose result describes a pair of builds, those whose question the facts answer, and kept
    results that are damaged, which ``check`` reports.
    """
    noted: Noted = {}
    for row in connection.execute(
        "SELECT calculator, found, verdict FROM latest_calculations c "
        f"WHERE subject_table = 'builds' AND subject_id = ? AND NOT {answered_sql()} ORDER BY calculator",
        (build,),
    ):
        offered = registry.calculators.get(row["calculator"]) if registry else None
        if offered and offered.calculator.of_a_pair:
            continue
        found = object_in(row["found"])
        if found is None:
            continue
        units = {field.name: field.unit for field in offered.calculator.outputs} if offered else {}
        noted[f"{row['calculator']}: verdict"] = (row["verdict"], "")
        for name, value in found.items():
            suffix = suffix_of(name) or ""
            unit = _unit(units.get(name) or UNIT_OF_SUFFIX.get(suffix))
            what = f"{row['calculator']}: {name.removesuffix(suffix).replace('_', ' ')}"
            if value is not None:
                noted[f"{what} [{unit}]" if what in noted else what] = (value, unit)
    return noted


def _car(connection: sqlite3.Connection, build: str) -> Noted:
    """Motor, springs and the like of the car in the runs of the build; several values if they changed meanwhile."""
    return {what: (", ".join(values), "") for what, values in values_in_runs(connection, build).items()}


def _outcome(connection: sqlite3.Connection, build: str) -> Noted:
    facts = facts_of(connection, BuildFacts, build)
    noted: Noted = {"runs": (facts.runs, "runs")}
    if facts.loss_g is not None and facts.weighed_at_runs is not None:
        row = {field.name: getattr(facts, field.name) for field in fields_of(BuildFacts)}
        said = loss_said(row)
        noted["mass lost"] = (facts.loss_g, "g") if said.startswith("lost ") else (said, "")
        if facts.weighings_apart is not None:
            noted["weighings that disagree"] = (facts.weighings_apart, "")
        noted["weighed last"] = (f"after {count_of(facts.weighed_at_runs)}", "")
        noted["oil lost"] = (facts.leak, "")
    called = rows(
        connection,
        "SELECT r.run_on, r.call, r.runs, b.diff, b.fluid, k.viscosity_cst, "
        "coalesce(n.fill_state IN ('doubtful', 'lost oil'), 0) AS lost_oil "
        "FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build "
        "JOIN build_facts k ON k.build = b.id LEFT JOIN run_diff_facts n ON n.run_diff = x.id "
        "WHERE x.build = ? AND r.call IS NOT NULL ORDER BY r.call",
        (build,),
    )
    by_day = days_kept_of(row for row in called if not row["lost_oil"])
    if by_day.days:
        noted["kept"] = (by_day.words.removeprefix("kept "), "")
    lost = sum(runs_of_row(row) for row in called if row["lost_oil"] and row["call"] in DECIDED)
    if lost:
        noted["not counted for that"] = (f"{count_of(lost)} that had lost oil, or may have", "")
    for call in dict.fromkeys(row["call"] for row in called if row["call"] not in DECIDED):
        noted[f"call {call}"] = (count_of(sum(runs_of_row(row) for row in called if row["call"] == call)), "")
    kind = BY_NAME["opening"]
    opening = connection.execute(
        "SELECT * FROM openings WHERE build = ? ORDER BY opened_on, id LIMIT 1", (build,)
    ).fetchone()
    if opening:
        for field in kind.fields:
            value = opening[field.name]
            if value is not None and field.kind in ("choice", "date"):
                noted["opened on" if field.kind == "date" else f"found: {field.words}"] = (value, "")
    return noted
