"""The units that plugins give, held against core, against each other and against the names of fields that are there;
and the units of a calculator's fields once all units are known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.known_units import KNOWN, OF_CORE, suffix_in
from bevelbook.declare.units import Unit, clash_of, fault_of_unit
from bevelbook.plugin.origin import Origin

if TYPE_CHECKING:
    from bevelbook.plugin.calculator import Calculator


class OfferedUnit(NamedTuple):
    """A unit and the plugin that gives it."""

    unit: Unit
    origin: Origin


def faults_of_offered_unit(
    offer: object,
    own: Iterable[Unit],
    others: Iterable[OfferedUnit],
    calculators: Iterable[Calculator[Any, Any]] | None,
) -> tuple[str, ...]:
    """Why a plugin cannot give a unit, in words behind its name; ``own`` are its units before this one, ``others``
    those of plugins loaded before, ``calculators`` what these offer. Without these neither names of fields nor
    refused spellings are looked at, which takes long: for what is bundled tests do that."""
    reason = _fault_of(offer, own, others, calculators)
    return () if reason is None else (reason,)


def _fault_of(
    offer: object,
    own: Iterable[Unit],
    others: Iterable[OfferedUnit],
    calculators: Iterable[Calculator[Any, Any]] | None,
) -> str | None:
    reason = fault_of_unit(offer)
    if reason is not None or not isinstance(offer, Unit):
        return reason
    if clash := clash_of(offer, OF_CORE.of_core):
        return f"{clash} (of the program)"
    if clash := clash_of(offer, own):
        return f"{clash} (of this plugin)"
    for unit, origin in others:
        if clash := clash_of(offer, (unit,)):
            return f"{clash} (of {origin})"
    return None if calculators is None else _spelling_that_is_refused(offer) or _name_that_ends_so(offer, calculators)


def _spelling_that_is_refused(unit: Unit) -> str | None:
    from bevelbook.reading.units import refused_spellings

    refused = refused_spellings(unit)
    return f"the spelling {refused[0]} has two meanings and is always refused" if refused else None


def _name_that_ends_so(unit: Unit, calculators: Iterable[Calculator[Any, Any]]) -> str | None:
    """A field whose name ends in the suffix of a new unit by chance: it would be read in that unit."""
    if not unit.suffix:
        return None
    for field in (*_fields_of_records(), *(field for one in calculators for field in _fields_of(one))):
        held = suffix_in(field.name, field.unit) or ""
        if field.name.endswith(unit.suffix) and field.unit != unit.name and len(held) < len(unit.suffix):
            return f"the name {field.name} ends in its suffix {unit.suffix}, and is not in {unit.name}"
    return None


def _fields_of_records() -> Iterator[Field]:
    from bevelbook.records import FACTS, KINDS

    for kind in (*KINDS, *FACTS):
        yield from kind.fields


def faults_of_units(calculator: Calculator[Any, Any]) -> Iterator[str]:
    """Faults of fields whose unit is none, or that their names do not say, now that all units are known."""
    for field in _fields_of(calculator):
        if field.kind == "quantity" and (reason := KNOWN.fault_of_field(field.name, field.unit or "")):
            yield f"{field.name} is {reason}"


def _fields_of(calculator: Calculator[Any, Any]) -> Iterator[Field]:
    for side in (calculator.given, calculator.found):
        for field in fields_of(side):
            yield field
            yield from fields_of(field.item)
