"""The card of a build: the team's own numbers, and boxes for what is still to be measured."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping
from typing import Any, Final

from bevelbook.calculating.binding import bound_rows
from bevelbook.calculating.for_record import Attempt, F, G, Known, PutIn, attempt
from bevelbook.calculating.known import Subject
from bevelbook.card.calculators import CardEntry, said_of
from bevelbook.card.contents import (
    CalculatorResult,
    Card,
    CardSection,
    CardValue,
    PouringStrip,
    StopMass,
    pouring_in_words,
    result_of,
)
from bevelbook.card.more_parts import about, left_behind, more_section, said_in_more
from bevelbook.card.procedure import Procedure, bundled_procedure, steps_for
from bevelbook.card.steps import card_steps, caution_texts, shortened
from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.declare.errors import PluginFault
from bevelbook.declare.fields import Field
from bevelbook.declare.vocabulary import NEW
from bevelbook.display.begun import begun
from bevelbook.display.diff_names import with_mark
from bevelbook.display.format import format_number, format_value
from bevelbook.entering.shown_values import shown_values
from bevelbook.facts.builds import build_before
from bevelbook.facts.dry_mass import dry_mass_of
from bevelbook.facts.oil import fill_g
from bevelbook.formulas.fill_target import FILL, FillFound, FillGiven, half_width_of_fill_g
from bevelbook.formulas.fill_window import DROP_G, fill_window, reading_in_words
from bevelbook.formulas.oil_blend import OIL_BLEND
from bevelbook.formulas.percent import percent
from bevelbook.formulas.pouring_strip import blank_strip, pouring_strip
from bevelbook.kept_json import object_in
from bevelbook.plugin.calculator import Formula
from bevelbook.plugin.registry import Registry
from bevelbook.plugin.where_shown import CARD_PARTS, MORE, CardPart
from bevelbook.records import BY_NAME
from bevelbook.reports.build_outcome import outcome_of
from bevelbook.reports.changed_lines import changed_lines
from bevelbook.reports.clashes_there import clashes_about
from bevelbook.reports.compare import differences
from bevelbook.reports.fitted import parts_fitted, seals_fitted
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.lookup import check_has_diff, label_of

BUILD: Final = BY_NAME["build"]
FITTING: Final = BY_NAME["seal_fitting"]
NOTE_LENGTH: Final = 200
LABEL_LENGTH: Final = 40
_NOT_CHANGED: Final = frozenset({"new", "used", "ok"})
"""Words of a piece that was used again, or that is named among the new ones."""
MOST_DIFFERENT: Final = 5
NOTHING: Final = "-"
"""What a comparison shows where nothing is noted."""
ANY_DRY_MASS_G: Final = 10.0
"""Put in for a dry mass that is not known yet: the oil to put in does not depend on it."""
FROM_BLEND: Final = "computed from its blend"


def card_of(
    connection: sqlite3.Connection, registry: Registry, build_id: str, procedure: Procedure | None = None
) -> Card:
    """The card of one build, from its records and from the calculators that the registry offers.

    ``procedure`` gives the steps, the bundled one where it is None.
    """
    return _Maker(connection, registry, build_id).card(procedure or bundled_procedure())


def filling_of(
    connection: sqlite3.Connection, registry: Registry, build_id: str, put_in: Mapping[str, PutIn] | None = None
) -> Attempt[FillGiven, FillFound]:
    """The fill target of one build as its card has it, or what is lacking; ``put_in`` are inputs by name."""
    maker = _Maker(connection, registry, build_id)
    maker.read_oil()
    return maker.attempt(FILL, put_in)


def oil_known_on_card(connection: sqlite3.Connection, registry: Registry, build_id: str) -> tuple[str, Known]:
    """The oil of one build in one line, as it is poured, and what calculators take from its card that no record has, by
    ``same_as``."""
    maker = _Maker(connection, registry, build_id)
    maker.read_oil()
    return maker.oil_line(maker.planned_oil()), maker.more


class _Maker:
    """Gathers what is known of one build."""

    def __init__(self, connection: sqlite3.Connection, registry: Registry, build_id: str) -> None:
        self.connection = connection
        self.registry = registry
        self.subject = Subject(BUILD, build_id, label_of(connection, BUILD, build_id))
        check_has_diff(connection, build_id)
        row = connection.execute("SELECT * FROM builds WHERE id = ?", (build_id,)).fetchone()
        self.row = row
        self.entered: Mapping[str, str] = object_in(row["entered"]) or {}
        self.build = shown_values(connection, BUILD, build_id)
        self.diff = self._pointed("diff")
        self.scale = self._pointed("scale")
        self.more: dict[str, tuple[Any, str]] = {}
        self.faults: list[PluginFault] = []
        self.in_more: dict[str, str] = {}
        self.filling: Attempt[FillGiven, FillFound] = Attempt(FILL.title)
        self.oil_name = ""
        self.viscosity = CardValue("Viscosity at 25 °C", unit="cSt", column="builds.viscosity_cst")

    def card(self, procedure: Procedure) -> Card:
        """Everything appears once: a box where a step asks for it, a value where it is known. Steps that do not belong
        to the kind of build are left out."""
        procedure = procedure._replace(steps=steps_for(procedure, self.row["kind"]))
        head, oil, stop = self._head(), self.read_oil(), self._stop()
        all_parts = (
            oil,
            self._masses(),
            self._heat(),
            self._bubbles(),
            self._changed_parts(),
            self._shims(),
            self._seals(),
            self._screws(),
            *self._more(),
        )
        asked = {one for step in procedure.steps for one in step.write_down}
        parts = tuple(
            part._replace(lines=tuple(one for one in part.lines if one.value is not None or one.column not in asked))
            for part in all_parts
        )
        parts = tuple(part for part in parts if part.lines or part.results)
        lines = [*head, *(line for part in parts for line in part.lines)]
        shown = {line.column for line in lines if line.value is not None and line.column}
        if self.viscosity.column in shown:
            shown.add("builds.viscosity_from")
        answers = self._answers(stop, parts)
        steps = card_steps(self.connection, self.registry, self.subject, procedure, answers, shown, self.faults)
        return Card(
            self.subject.row_id,
            shortened(self.subject.label, LABEL_LENGTH),
            shortened(with_mark(self.build["diff"], self.diff.get("mark")), 2 * LABEL_LENGTH),
            head,
            shortened(str(self.build.get("note", "")), NOTE_LENGTH),
            stop,
            self.oil_line(self.amount_of_oil()),
            *self._different(),
            self._pouring(),
            parts,
            procedure.title,
            steps,
            caution_texts(procedure),
            invented=is_invented(self.connection),
            clash=self._clash(),
            leak=shortened(outcome_of(self.connection, self.row["id"]).leak_line, NOTE_LENGTH),
            plugin_faults=tuple({(one.what, one.how): one for one in self.faults}.values()),
        )

    def _clash(self) -> str:
        """What was changed in two places, in one line."""
        said = [f"{one.name}, {one.sentence}" for one in clashes_about(self.connection, BUILD, self.subject.row_id)]
        return shortened("; ".join(said), NOTE_LENGTH) if said else ""

    def _head(self) -> tuple[CardValue, ...]:
        return (
            self._of_build("built_on", "Day"),
            self._of_build("kind", "Kind"),
            self._of_build("builder", "By"),
            _line(
                "For", BY_NAME["diff"].field("usual_position"), self.diff.get("usual_position"), "where it usually runs"
            ),
        )

    def read_oil(self) -> CardSection:
        parts = self.connection.execute(
            "SELECT viscosity_cst, mass_g FROM blend_parts WHERE build = ? ORDER BY viscosity_cst, id",
            (self.row["id"],),
        ).fetchall()
        lines, results = [], []
        if parts:
            blend = " + ".join(f"{mass_g:g} g of {viscosity_cst:,.0f} cSt" for viscosity_cst, mass_g in parts)
            lines.append(CardValue("Blend", blend))
        if not parts or "fluid" in self.build:
            lines.append(self._of_build("fluid", "Oil"))
        self.oil_name = lines[-1].value or ""
        bottle = self._pointed("bottle")
        if bottle:
            lines.append(CardValue("Bottle", shortened(bottle.get("lot") or bottle["fluid"]), column="builds.bottle"))
        column = "builds.viscosity_cst"
        known = dict(bound_rows(self.connection, BUILD, [column], self.row["id"]))[self.row["id"]].get(column)
        if known is not None:
            self.viscosity = self._known_viscosity(*known.known, bottle)
        elif parts:
            blended = self.attempt(OIL_BLEND)
            results.append(result_of(blended))
            if blended.answer:
                value = blended.answer.found.viscosity_blend_cst
                self.more[column] = (value, FROM_BLEND)
                self.viscosity = self.viscosity._replace(value=f"{value:,.0f} cSt", note=FROM_BLEND)
        return CardSection("oil", "Oil", (*lines, self.viscosity), tuple(results))

    def _known_viscosity(self, value: float, origin: str, bottle: Mapping[str, Any]) -> CardValue:
        text = f"{value:,.0f} cSt"
        if origin == "own measurement of the bottle":
            uncertainty = bottle.get("viscosity_uncertainty_cst")
            text = f"{value:,.0f} ± {COVERAGE_K * uncertainty:,.0f} cSt {WITH_K}" if uncertainty else text
            notes = [origin, bottle.get("measured_on")]
        elif origin == "the build":
            notes = [self.row["viscosity_from"] or origin, self._carried("viscosity_cst")]
        else:
            fluid = self.connection.execute(
                "SELECT viscosity_source FROM fluids WHERE id = ?", (self.row["fluid"],)
            ).fetchone()
            notes = [fluid["viscosity_source"] if fluid and fluid["viscosity_source"] else origin]
        return self.viscosity._replace(value=text, note=shortened(", ".join(note for note in notes if note)))

    def _stop(self) -> StopMass:
        weighed = self.connection.execute(
            "SELECT oil_in_g FROM build_facts WHERE build = ?", (self.row["id"],)
        ).fetchone()
        put_in = {"weighed_oil_g": PutIn(f"{weighed[0]:.12g}", "the build")} if weighed and weighed[0] else None
        done = self.filling = self.attempt(FILL, put_in)
        if done.answer is None:
            result, dry = result_of(done), dry_mass_of(self.connection, self.row["id"])
            if dry.mass_g is None and not dry.is_to_come and result.lacking:
                result = result._replace(title=f"{result.title}: {dry.words}")
            return StopMass(None, None, None, result)
        given, found = done.answer.given, done.answer.found
        if self.row["oil_mass_g"] is None:
            share = "fill target"
            if given.oil_mass_g is None:
                share = f"{percent(given.fill_fraction)} of the room"
            elif self.row["target_oil_mass_g"] is not None:
                share = "the target"
            self.more["builds.oil_mass_g"] = (found.oil_mass_g, share)
        nearest = fill_window(found.stop_mass_g, given.scale_step_g, given.scale_step_g).nearest_g
        stop, low, high = (
            reading_in_words(one, given.scale_step_g) for one in (nearest, found.stop_low_g, found.stop_high_g)
        )
        return StopMass(stop, low, high, result_of(done))

    def oil_line(self, amount: str) -> str:
        """What goes in, how much, and how thick it is."""
        known = [amount, self.oil_name, self.viscosity.value]
        return ", ".join(one for one in known if one)

    def planned_oil(self) -> str:
        """``1.86 g``: what goes in while it is poured."""
        return self._oil_to_put_in()[0].value or ""

    def amount_of_oil(self) -> str:
        """``1.86 g to put in``; once it is in, ``1.86 g put in``, with what was to go in where that is another amount.

        What was put in is as noted, else filled less dry mass of the build itself.
        """
        target = self._of_build("target_oil_mass_g", "Oil to put in").value
        put_in_g = fill_g(*(self.row[name] for name in ("oil_mass_g", "dry_mass_g", "filled_mass_g")))
        if put_in_g is None or put_in_g <= 0:
            planned = self.planned_oil()
            return f"{planned} to put in" if planned else ""
        noted = self._of_build("oil_mass_g", "Oil put in").value
        put_in = noted or format_value(put_in_g, BUILD.field("oil_mass_g"))
        return f"{put_in} put in ({target} to put in)" if target and target != put_in else f"{put_in} put in"

    def _different(self) -> tuple[tuple[str, ...], str]:
        """What a person changed since the build before, each thing with what it was; and the name of that build.

        What is new comes first, whether or not that piece was new there too; a piece used again is not a change.
        """
        before = build_before(self.connection, self.row["id"])
        if before is None:
            return (), ""
        changed = changed_lines(differences(self.connection, before.id, self.row["id"], self.registry)).first
        words = (
            shortened(f"{line.what}: {line.b}" + (f", was {line.a}" if line.a != NOTHING else ""), NOTE_LENGTH)
            for line in changed
            if line.b != NOTHING and line.what != "note" and not set(line.b.split(", ")) <= _NOT_CHANGED
        )
        new = self._new_pieces()
        first = (shortened(f"new: {', '.join(new)}", NOTE_LENGTH),) if new else ()
        return (*first, *words)[:MOST_DIFFERENT], shortened(before.label, LABEL_LENGTH)

    def _new_pieces(self) -> list[str]:
        """The parts and seals that are new in the build: ``side gear``, ``joint seal``."""
        build = self.row["id"]
        parts = [one.words for one in parts_fitted(self.connection, build) if one.condition == NEW]
        seals = [f"{place} seal" for place, one in seals_fitted(self.connection, build).items() if one.condition == NEW]
        return [*parts, *seals]

    def _pouring(self) -> PouringStrip:
        """The strip for this build; without its dry mass for a zeroed scale, without its oil to fill in by hand."""
        done = self.filling
        dry_mass_g = None if done.answer is None else done.answer.given.dry_mass_g
        if done.answer is None:
            done = self.attempt(FILL, {"dry_mass_g": PutIn(f"{ANY_DRY_MASS_G:g}", "not known yet")})
        if done.answer is None:
            return pouring_in_words(blank_strip(), DROP_G)
        given, oil_mass_g = done.answer.given, done.answer.found.oil_mass_g
        rows = pouring_strip(oil_mass_g, half_width_of_fill_g(given, oil_mass_g), given.scale_step_g, dry_mass_g)
        return pouring_in_words(rows, given.scale_step_g)

    def _masses(self) -> CardSection:
        oil = self._oil_to_put_in()
        scale = CardValue("Scale", "steps of 0.01 g", "assumed: no scale is named")
        if self.scale:
            scale = CardValue(
                "Scale", f"{shortened(self.build['scale'])}, steps of {self.scale['step_g']:g} g", column="builds.scale"
            )
        lines = (
            self._dry_mass(),
            *oil,
            self._of_build("filled_mass_g", "Filled mass"),
            self._of_build("closed_mass_g", "Closed mass"),
            *((self._of_build("paper_wet_at", "Wet on paper at"),) if self.build.get("paper_wet_at") else ()),
            self._of_build("mass_basis", "On the scale"),
            scale,
        )
        return CardSection("masses", "Masses", lines)

    def _dry_mass(self) -> CardValue:
        """The one that holds for the build; a box with the reason where there is none."""
        found = dry_mass_of(self.connection, self.row["id"])
        own = self._of_build("dry_mass_g", "Dry mass")
        if found.is_own:
            return own
        value = None if found.mass_g is None else format_value(found.mass_g, BUILD.field("dry_mass_g"))
        return own._replace(value=value, note="" if found.is_to_come else shortened(found.words))

    def _oil_to_put_in(self) -> tuple[CardValue, ...]:
        """The target, and beside it what was put in; without a target what was put in, else what was worked out."""
        put_in = self._of_build("oil_mass_g", "Oil to put in")
        target = self._of_build("target_oil_mass_g", "Oil to put in")
        if target.value is not None:
            return (target,) if put_in.value is None else (target, put_in._replace(name="Oil put in"))
        if put_in.value is None and "builds.oil_mass_g" in self.more:
            value, origin = self.more["builds.oil_mass_g"]
            put_in = put_in._replace(value=f"{value:.2f} g", note=origin)
        return (put_in,)

    def _heat(self) -> CardSection:
        room = CardValue("Room for oil", unit="cm³")
        if "free_volume_cm3" in self.diff:
            origin = shortened(self.diff.get("free_volume_from") or "the diff")
            room = CardValue("Room for oil", f"{self.diff['free_volume_cm3']:g} cm³", origin)
        return self._part("heat", "Room for heat", [room])

    def _bubbles(self) -> CardSection:
        return self._part("bubbles", "Bubbles", [self._of_build("degassing", "How")])

    def _changed_parts(self) -> CardSection:
        """The parts that went in new or turned over; nothing where none did."""
        rows = self.connection.execute(
            "SELECT condition, part, place FROM build_parts WHERE build = ? AND condition IN ('new', 'turned over') "
            "ORDER BY condition, part, place, id",
            (self.row["id"],),
        ).fetchall()
        words = "; ".join(" ".join(filter(None, row)) for row in rows)
        lines = (CardValue("Changed", shortened(words, NOTE_LENGTH)),) if words else ()
        return CardSection("changed parts", "Parts", lines)

    def _shims(self) -> CardSection:
        rows = self.connection.execute(
            "SELECT * FROM build_shims WHERE build = ? ORDER BY place, thickness_mm DESC, id", (self.row["id"],)
        ).fetchall()
        lines = []
        for place in BY_NAME["build_shim"].field("place").choices:
            here = [row for row in rows if row["place"] == place]
            name = begun(place)
            if not here:
                lines.append(CardValue(name, unit="mm"))
                continue
            stack = " + ".join(map(_shims_in_words, here))
            total = sum(row["thickness_mm"] * (row["pieces"] or 1) for row in here)
            known = all(row["pieces"] for row in here) and (len(here) > 1 or here[0]["pieces"] > 1)
            lines.append(CardValue(name, f"{stack} mm", f"= {total:g} mm" if known else ""))
        return self._part("shim stack", "Shims", lines)

    def _seals(self) -> CardSection:
        lines, said = [], []
        rows = self.connection.execute(
            "SELECT id, place FROM seal_fittings WHERE build = ? ORDER BY place, id", (self.row["id"],)
        ).fetchall()
        for place in FITTING.field("place").choices:
            name = begun(place)
            here = [row["id"] for row in rows if row["place"] == place]
            for row_id in here:
                lines.append(_fitted(name, shown_values(self.connection, FITTING, row_id)))
                fitting = Subject(FITTING, row_id, f"{place} of {self.subject.label}")
                said += [one.headed(name) for one in self._said("seals", fitting)]
            if not here:
                usual = self.diff.get("joint_seal" if place == "joint" else "shaft_seal")
                lines.append(CardValue(name, None, shortened(f"usually {usual}") if usual else ""))
        said += self._said("seals", self.subject)
        part = _with_said(CardSection("seals", "Seals", tuple(lines)), said)
        return part._replace(results=_said_once(part.results))

    def _screws(self) -> CardSection:
        of_diff = [
            self._of_diff(name, words)
            for name, words in (("screw_count", "Screws"), ("screw_size", "Thread"), ("screw_hole", "Holes"))
        ]
        known = ", ".join(line.value for line in of_diff if line.value is not None)
        lines = [CardValue("Screws", known)] if known else []
        lines += [line for line in of_diff if line.value is None]
        lines.append(self._of_build("screw_torque_nm", "Final torque"))
        return self._part("screws", "Screws", lines)

    def _part(self, key: CardPart, title: str, lines: list[CardValue]) -> CardSection:
        """A part about the whole build, with the results of the calculators that belong there."""
        return _with_said(CardSection(key, title, tuple(lines)), self._said(key, self.subject))

    def _said(self, key: CardPart, subject: Subject) -> list[CardEntry]:
        offered = (one for one in self.registry.on_card(key) if one.of == subject.kind.name)
        found = [said_of(self.connection, one, subject, self.more) for one in offered]
        self.faults += [fault for one in found for fault in one.faults]
        return found

    def _more(self) -> Iterator[CardSection]:
        """The parts of calculators that fit under no other, and of what was left behind by those not loaded here."""
        for calculator, entry in said_in_more(
            self.connection, self.registry, about(self.connection, self.subject, self.row), self.more
        ):
            self.faults += entry.faults
            part = more_section(calculator, entry)
            self.in_more[calculator.name] = _in_short(part)
            yield part
        yield from left_behind(self.connection, self.registry, self.subject)

    def _answers(self, stop: StopMass, parts: tuple[CardSection, ...]) -> dict[str, str]:
        """The words at a step for a calculator that has its own place on the card."""
        words = f"stop at {stop.mass_g} g" if stop.mass_g else "stop mass: dry mass and oil"
        resting = [offered.calculator.name for offered in self.registry.resting_on(FILL)]
        found = {name: words for name in resting if name in self.registry.calculators}
        by_key = {part.key: part for part in parts}
        for key in CARD_PARTS:
            if key in by_key and key != MORE:
                found |= {one.name: _in_short(by_key[key]) for one in self.registry.on_card(key)}
        return found | self.in_more

    def attempt(self, formula: Formula[G, F], put_in: Mapping[str, PutIn] | None = None) -> Attempt[G, F]:
        kept_as = [offered.calculator.name for offered in self.registry.resting_on(formula)]
        done = attempt(self.connection, formula, kept_as, self.subject, more=self.more, put_in=put_in)
        if done.fault is not None:
            self.faults.append(done.fault)
        return done

    def _pointed(self, name: str) -> dict[str, Any]:
        """The values of the record that a field of the build points to; none where it points nowhere."""
        target = BUILD.field(name).target
        if target is None or self.row[name] is None:
            return {}
        return shown_values(self.connection, BY_NAME[target], self.row[name])

    def _of_build(self, name: str, words: str) -> CardValue:
        line = _line(words, BUILD.field(name), self.build.get(name), self._carried(name))
        return line._replace(column=f"builds.{name}")

    def _of_diff(self, name: str, words: str) -> CardValue:
        return _line(words, BY_NAME["diff"].field(name), self.diff.get(name), "")

    def _carried(self, name: str) -> str:
        text = str(self.entered.get(name, ""))
        return text if text.startswith("carried over from ") else ""


def _line(words: str, field: Field, value: Any, note: str) -> CardValue:
    unit = field.unit if field.kind == "quantity" and field.unit else ""
    return CardValue(
        words, None if value is None else shortened(format_value(value, field)), note if value is not None else "", unit
    )


def _shims_in_words(row: sqlite3.Row) -> str:
    size = format_number(row["thickness_mm"], BY_NAME["build_shim"].field("thickness_mm"))
    size = f"({size})" if row["thickness_mm"] < 0 else size
    return f"{row['pieces'] or '?'} × {size}"


def _fitted(name: str, values: Mapping[str, Any]) -> CardValue:
    words = [str(values[field]) for field in ("seal", "condition", "state") if field in values]
    return CardValue(name, shortened(", ".join(words)) or None)


def _with_said(part: CardSection, said: list[CardEntry]) -> CardSection:
    """A part with what calculators say under it; where several draw a picture the first one's is shown."""
    drawn = next((one for one in said if one.picture), None)
    return part._replace(
        lines=(*part.lines, *(line for one in said for line in one.lines)),
        results=tuple(entry.result for entry in said if entry.result is not None),
        listed=tuple(text for one in said for text in one.listed),
        picture=drawn and drawn.picture,
        picture_words=drawn.picture_words if drawn else "",
    )


def _said_once(results: tuple[CalculatorResult, ...]) -> tuple[CalculatorResult, ...]:
    """The same result for two places appears once, with both named."""
    found: dict[CalculatorResult, str] = {}
    for one in results:
        bare = one._replace(title="")
        found[bare] = (
            f"{found[bare].partition(',')[0]} and {one.title[0].lower()}{one.title[1:]}" if bare in found else one.title
        )
    return tuple(one._replace(title=title) for one, title in found.items())


def _in_short(part: CardSection) -> str:
    return f"{part.title}: {', '.join(part.words)}" if part.words else part.title
