"""The card of a build: one sheet with the team's own numbers, and boxes for what is still to be measured."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from math import floor, log10
from typing import Any, Final, NamedTuple

from bevelbook.fields import Field
from bevelbook.records import BY_NAME, Kind
from bevelbook.reference import RULES_FIRST
from bevelbook.registry import Registry
from bevelbook.store.about import is_invented
from bevelbook.store.binding import bound_rows
from bevelbook.store.finding import label_of
from bevelbook.tasks.card_steps import CardStep, card_steps, caution_texts, shortened
from bevelbook.tasks.keep import Subject
from bevelbook.tasks.procedure import Procedure, bundled_procedure
from bevelbook.tasks.record import shown_values
from bevelbook.tasks.running import GIVEN_ON, Attempt, PutIn, attempt
from bevelbook.tasks.wording import number_text, value_text

BUILD: Final = BY_NAME["build"]
NOTE_LENGTH: Final = 200
LABEL_LENGTH: Final = 40
LONGEST_REASON: Final = 400
FROM_BLEND: Final = "computed from its blend"
DYNAMIC_PLACES: Final = ("case-side shaft", "lid-side shaft")


class Line(NamedTuple):
    """A value with its name and where it came from; without a value it is a box to fill in.

    ``column`` is the column of the database that holds it, where there is one.
    """

    name: str
    value: str | None = None
    note: str = ""
    unit: str = ""
    column: str = ""


class Told(NamedTuple):
    """What a calculator says: its verdict, why, and what is worth a look; or what it lacks, or why it refused.

    ``given`` tells which inputs a person gave for it on an earlier day.
    """

    title: str
    verdict: str | None = None
    reasons: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    refused: str | None = None
    given: str = ""


class Part(NamedTuple):
    """One part of the card: lines, what calculators say of them, and passes or pieces one after the other."""

    key: str
    title: str
    lines: tuple[Line, ...] = ()
    told: tuple[Told, ...] = ()
    listed: tuple[str, ...] = ()
    picture: str | None = None
    picture_words: str = ""


class StopMass(NamedTuple):
    """The one number of the card: where to stop pouring, and the readings that are as good."""

    mass_g: str | None
    low_g: str | None
    high_g: str | None
    told: Told


class Card(NamedTuple):
    """All that the sheet of a build shows."""

    build_id: str
    build: str
    diff: str
    head: tuple[Line, ...]
    note: str
    stop: StopMass
    parts: tuple[Part, ...]
    procedure: str
    steps: tuple[CardStep, ...]
    cautions: tuple[str, ...]
    rule: str = RULES_FIRST
    invented: bool = False

    @property
    def verdicts(self) -> tuple[str, ...]:
        told = [self.stop.told, *(one for part in self.parts for one in part.told)]
        return tuple(one.verdict for one in told if one.verdict)

    def as_dict(self) -> dict[str, Any]:
        """The card for programs; the picture is left out."""

        def plain(one: Any) -> Any:
            if hasattr(one, "_asdict"):
                return {key: plain(value) for key, value in one._asdict().items() if key != "picture"}
            return [plain(item) for item in one] if isinstance(one, tuple) else one

        found: dict[str, Any] = plain(self)
        return found


def card_of(
    connection: sqlite3.Connection, registry: Registry, build_id: str, procedure: Procedure | None = None
) -> Card:
    """The card of one build, from its records and from the calculators that the registry offers.

    ``procedure`` gives the steps, the bundled one where it is None.
    """
    return _Maker(connection, registry, build_id).card(procedure or bundled_procedure())


class _Maker:
    """Gathers what is known of one build."""

    def __init__(self, connection: sqlite3.Connection, registry: Registry, build_id: str) -> None:
        self.connection = connection
        self.registry = registry
        self.subject = Subject(BUILD, build_id, label_of(connection, BUILD, build_id))
        row = connection.execute("SELECT * FROM builds WHERE id = ?", (build_id,)).fetchone()
        self.row = row
        self.entered: Mapping[str, str] = json.loads(row["entered"] or "{}")
        self.build = shown_values(connection, BUILD, build_id)
        self.diff = self._pointed("diff")
        self.scale = self._pointed("scale")
        self.more: dict[str, tuple[Any, str]] = {}
        self.viscosity = Line("Viscosity at 25 °C", unit="cSt", column="builds.viscosity_cst")

    def card(self, procedure: Procedure) -> Card:
        """Everything stands once: a box where a step asks for it, a value where it is known."""
        head, oil, stop = self._head(), self._oil(), self._stop()
        all_parts = (oil, self._masses(), self._heat(), self._bubbles(), self._shims(), self._seals(), self._screws())
        asked = {one for step in procedure.steps for one in step.write_down}
        parts = tuple(
            part._replace(lines=tuple(one for one in part.lines if one.value is not None or one.column not in asked))
            for part in all_parts
        )
        parts = tuple(part for part in parts if part.lines or part.told)
        lines = [*head, *(line for part in parts for line in part.lines)]
        shown = {line.column for line in lines if line.value is not None and line.column}
        if self.viscosity.column in shown:
            shown.add("builds.viscosity_from")
        return Card(
            self.subject.row_id,
            shortened(self.subject.label, LABEL_LENGTH),
            shortened(self.build["diff"], LABEL_LENGTH),
            head,
            shortened(str(self.build.get("note", "")), NOTE_LENGTH),
            stop,
            parts,
            procedure.title,
            card_steps(self.connection, self.registry, self.subject, procedure, _answers(stop, parts), shown),
            caution_texts(procedure),
            invented=is_invented(self.connection),
        )

    def _head(self) -> tuple[Line, ...]:
        return (
            self._of_build("built_on", "Day"),
            self._of_build("kind", "Kind"),
            self._of_build("builder", "By"),
            _line(
                "For", BY_NAME["diff"].field("usual_position"), self.diff.get("usual_position"), "where it usually runs"
            ),
        )

    def _oil(self) -> Part:
        parts = self.connection.execute(
            "SELECT viscosity_cst, mass_g FROM blend_parts WHERE build = ? ORDER BY viscosity_cst", (self.row["id"],)
        ).fetchall()
        lines, told = [], []
        if parts:
            blend = " + ".join(f"{mass_g:g} g of {viscosity_cst:,.0f} cSt" for viscosity_cst, mass_g in parts)
            lines.append(Line("Blend", blend))
        if not parts or "fluid" in self.build:
            lines.append(self._of_build("fluid", "Oil"))
        bottle = self._pointed("bottle")
        if bottle:
            lines.append(Line("Bottle", shortened(bottle.get("lot") or bottle["fluid"]), column="builds.bottle"))
        column = "builds.viscosity_cst"
        known = dict(bound_rows(self.connection, BUILD, [column], self.row["id"]))[self.row["id"]].get(column)
        if known is not None:
            self.viscosity = self._known_viscosity(*known, bottle)
        elif parts:
            blended = self._attempt("blend")
            told.append(_told(blended))
            value = blended.result.outputs.get("viscosity_blend_cst") if blended.result else None
            if value is not None:
                self.more[column] = (value, FROM_BLEND)
                self.viscosity = self.viscosity._replace(value=f"{value:,.0f} cSt", note=FROM_BLEND)
        return Part("oil", "Oil", (*lines, self.viscosity), tuple(told))

    def _known_viscosity(self, value: float, origin: str, bottle: Mapping[str, Any]) -> Line:
        text = f"{value:,.0f} cSt"
        if origin == "own measurement of the bottle":
            doubt = bottle.get("viscosity_uncertainty_cst")
            text = f"{value:,.0f} ± {doubt:,.0f} cSt (k = 1)" if doubt else text
            told = [origin, bottle.get("measured_on")]
        elif origin == "the build":
            told = [self.row["viscosity_from"] or origin, self._carried("viscosity_cst")]
        else:
            fluid = self.connection.execute(
                "SELECT viscosity_source FROM fluids WHERE id = ?", (self.row["fluid"],)
            ).fetchone()
            told = [fluid["viscosity_source"] if fluid and fluid["viscosity_source"] else origin]
        return self.viscosity._replace(value=text, note=shortened(", ".join(one for one in told if one)))

    def _stop(self) -> StopMass:
        done = self._attempt("fill-target")
        if done.result is None:
            return StopMass(None, None, None, _told(done))
        outputs = done.result.outputs
        oil = outputs.get("oil_mass_g")
        if oil is not None and self.row["oil_mass_g"] is None:
            share = done.result.inputs.get("fill_fraction")
            self.more["builds.oil_mass_g"] = (oil, f"{share:.0%} of the room" if share else "fill target")
        step = done.result.inputs.get("scale_step_g") or 0.01
        decimals = max(0, -floor(log10(step) + 1e-9))
        stop, low, high = (
            None if outputs.get(name) is None else f"{outputs[name]:.{decimals}f}"
            for name in ("stop_mass_g", "stop_low_g", "stop_high_g")
        )
        return StopMass(stop, low, high, _told(done))

    def _masses(self) -> Part:
        oil = self._of_build("oil_mass_g", "Oil to put in")
        if oil.value is None and "builds.oil_mass_g" in self.more:
            value, origin = self.more["builds.oil_mass_g"]
            oil = oil._replace(value=f"{value:.2f} g", note=origin)
        scale = Line("Scale", "steps of 0.01 g", "taken, as no scale is named")
        if self.scale:
            scale = Line(
                "Scale", f"{shortened(self.build['scale'])}, steps of {self.scale['step_g']:g} g", column="builds.scale"
            )
        lines = (
            self._of_build("dry_mass_g", "Dry mass"),
            oil,
            self._of_build("filled_mass_g", "Filled mass"),
            self._of_build("closed_mass_g", "Closed mass"),
            self._of_build("mass_basis", "On the pan"),
            scale,
        )
        return Part("masses", "Masses", lines)

    def _heat(self) -> Part:
        done = self._attempt("headspace")
        room = Line("Room for oil", unit="cm³")
        if "free_volume_cm3" in self.diff:
            origin = shortened(self.diff.get("free_volume_from") or "the diff")
            room = Line("Room for oil", f"{self.diff['free_volume_cm3']:g} cm³", origin)
        lines = [room]
        if done.result:
            inputs = done.result.inputs
            for name, words in (("hot_temperature_c", "Hot"), ("closing_temperature_c", "Closed at")):
                if name in inputs:
                    lines.append(Line(words, f"{inputs[name]:g} °C", _taken(done, name)))
        return Part("heat", done.title if done.result else "Room for heat", tuple(lines), (_told(done),))

    def _bubbles(self) -> Part:
        done = self._attempt("degas")
        lines = [self._of_build("degassing", "How")]
        if done.result and done.result.inputs.get("gauge_kpa") is done.result.inputs.get("absolute_kpa"):
            lines.append(Line("Vacuum gauge", unit="kPa"))
        return Part("bubbles", "Bubbles", tuple(lines), (_told(done),))

    def _shims(self) -> Part:
        rows = self.connection.execute(
            "SELECT * FROM build_shims WHERE build = ? ORDER BY place, thickness_mm DESC, id", (self.row["id"],)
        ).fetchall()
        lines = []
        for place in BY_NAME["build_shim"].field("place").choices:
            here = [row for row in rows if row["place"] == place]
            name = place[0].upper() + place[1:]
            if not here:
                lines.append(Line(name, unit="mm"))
                continue
            stack = " + ".join(map(_shims_in_words, here))
            total = sum(row["thickness_mm"] * (row["pieces"] or 1) for row in here)
            known = all(row["pieces"] for row in here) and (len(here) > 1 or here[0]["pieces"] > 1)
            lines.append(Line(name, f"{stack} mm", f"= {total:g} mm" if known else ""))
        done = self._attempt("shims")
        if done.result is None and not done.refused:
            return Part("shims", "Shims", (*lines, Line("Float without shims", unit="mm")))
        return Part("shims", "Shims", tuple(lines), (_told(done),))

    def _seals(self) -> Part:
        kind = BY_NAME["seal_fitting"]
        lines, told = [], []
        rows = self.connection.execute(
            "SELECT id, place FROM seal_fittings WHERE build = ? ORDER BY place, id", (self.row["id"],)
        ).fetchall()
        for place in kind.field("place").choices:
            name = place[0].upper() + place[1:]
            here = [row["id"] for row in rows if row["place"] == place]
            for row_id in here:
                lines.append(_fitted(name, shown_values(self.connection, kind, row_id)))
                told += self._seal_verdicts(kind, row_id, place)
            if not here:
                usual = self.diff.get("joint_seal" if place == "joint" else "shaft_seal")
                lines.append(Line(name, None, shortened(f"usually {usual}") if usual else ""))
        return Part("seals", "Seals", tuple(lines), _said_once(told))

    def _seal_verdicts(self, kind: Kind, row_id: str, place: str) -> list[Told]:
        """Swell, where it was measured or has to be because the seal is a used one; and the groove on a shaft."""
        fitting = Subject(kind, row_id, f"{place} of {self.subject.label}")
        used = self.connection.execute("SELECT condition FROM seal_fittings WHERE id = ?", (row_id,)).fetchone()[0]
        swell = attempt(self.connection, self.registry, "seal-swell", fitting)
        duty = {"duty": PutIn("dynamic", "it sits on a shaft")} if place in DYNAMIC_PLACES else {}
        groove = attempt(self.connection, self.registry, "gland", fitting, put_in=duty)
        wanted = [(swell, used == "used"), (groove, False)]
        return [
            _told(done)._replace(title=f"{place[0].upper()}{place[1:]}, {done.title[0].lower()}{done.title[1:]}")
            for done, needed in wanted
            if done.result or needed or (done.refused and done.name in self.registry.calculators)
        ]

    def _screws(self) -> Part:
        torque = self.row["screw_torque_nm"]
        put_in = {} if torque is None else {"target_torque_nm": PutIn(f"{torque:.12g}", "the build")}
        done = self._attempt("tightening", put_in=put_in, never_default=("screw_count",))
        of_diff = [
            self._of_diff(name, words)
            for name, words in (("screw_count", "Screws"), ("screw_size", "Thread"), ("screw_hole", "Holes"))
        ]
        known = ", ".join(line.value for line in of_diff if line.value is not None)
        lines = [Line("Screws", known)] if known else []
        lines += [line for line in of_diff if line.value is None]
        lines.append(self._of_build("screw_torque_nm", "Final torque"))
        picture = words = None
        if done.result:
            calculator = done.result.calculator
            words = str(done.result.outputs.get("order_of_screws", ""))
            if calculator.picture:
                picture = calculator.picture(done.result.bound.given, done.result.found)
        return Part("screws", "Screws", tuple(lines), (_told(done),), _passes(done), picture, words or "")

    def _attempt(self, name: str, **more: Any) -> Attempt:
        return attempt(self.connection, self.registry, name, self.subject, more=self.more, **more)

    def _pointed(self, name: str) -> dict[str, Any]:
        """The values of the record that a field of the build points to; none where it points nowhere."""
        target = BUILD.field(name).target
        if target is None or self.row[name] is None:
            return {}
        return shown_values(self.connection, BY_NAME[target], self.row[name])

    def _of_build(self, name: str, words: str) -> Line:
        line = _line(words, BUILD.field(name), self.build.get(name), self._carried(name))
        return line._replace(column=f"builds.{name}")

    def _of_diff(self, name: str, words: str) -> Line:
        return _line(words, BY_NAME["diff"].field(name), self.diff.get(name), "")

    def _carried(self, name: str) -> str:
        text = str(self.entered.get(name, ""))
        return text if text.startswith("carried over from ") else ""


def _line(words: str, field: Field, value: Any, note: str) -> Line:
    unit = field.unit if field.kind == "quantity" and field.unit else ""
    return Line(
        words, None if value is None else shortened(value_text(value, field)), note if value is not None else "", unit
    )


def _shims_in_words(row: sqlite3.Row) -> str:
    size = number_text(row["thickness_mm"], BY_NAME["build_shim"].field("thickness_mm"))
    size = f"({size})" if row["thickness_mm"] < 0 else size
    return f"{row['pieces'] or '?'} × {size}"


def _fitted(name: str, values: Mapping[str, Any]) -> Line:
    told = [str(values[one]) for one in ("seal", "condition", "state") if one in values]
    return Line(name, shortened(", ".join(told)) or None)


def _passes(done: Attempt) -> tuple[str, ...]:
    if done.result is None:
        return ()
    passes = {row["pass_number"]: row["words"] for row in done.result.rows if "pass_number" in row and "words" in row}
    return tuple(shortened(str(words), LONGEST_REASON) for words in passes.values())


def _taken(done: Attempt, name: str) -> str:
    """Where an input came from, for the card: a default is said to be one."""
    assert done.result is not None
    origin = done.result.bound.origins[name]
    return "taken, not measured" if origin == "default" else origin


def _told(done: Attempt) -> Told:
    if done.result is None:
        return Told(done.title, lacking=done.lacking, refused=done.refused and shortened(done.refused, LONGEST_REASON))
    judged = done.result.judgement
    by_origin: dict[str, list[str]] = {}
    for field in done.result.calculator.inputs:
        origin = done.result.bound.origins[field.name]
        if origin.startswith(GIVEN_ON):
            by_origin.setdefault(origin, []).append(field.words)
    given = "; ".join(f"{', '.join(words)} as {origin}" for origin, words in by_origin.items())
    reasons, findings = (
        tuple(shortened(one, LONGEST_REASON) for one in texts) for texts in (judged.reasons, done.result.findings)
    )
    return Told(done.title, judged.verdict, reasons, findings, given=given)


def _said_once(told: list[Told]) -> tuple[Told, ...]:
    """What is said of two places alike stands once, with both named."""
    found: dict[Told, str] = {}
    for one in told:
        bare = one._replace(title="")
        found[bare] = (
            f"{found[bare].partition(',')[0]} and {one.title[0].lower()}{one.title[1:]}" if bare in found else one.title
        )
    return tuple(one._replace(title=title) for one, title in found.items())


def _answers(stop: StopMass, parts: tuple[Part, ...]) -> dict[str, str]:
    """What a step says of a calculator that has a place of its own on the card."""
    by_key = {part.key: part for part in parts}
    found = {"fill-target": f"stop at {stop.mass_g} g" if stop.mass_g else "stop mass: dry mass and oil"}
    for calculator, key in (
        ("headspace", "heat"),
        ("degas", "bubbles"),
        ("shims", "shims"),
        ("seal-swell", "seals"),
        ("gland", "seals"),
        ("tightening", "screws"),
    ):
        part = by_key[key]
        words = [told.verdict or ("to be measured" if told.lacking else "unclear") for told in part.told]
        found[calculator] = f"{part.title}: {', '.join(dict.fromkeys(words))}" if words else part.title
    return found
