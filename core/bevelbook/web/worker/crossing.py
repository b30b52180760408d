"""What goes between the server and a process that calculates, as plain JSON: inputs, answers, faults."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Answer, Bound, Result
from bevelbook.declare.errors import BevelbookError, InputError, Place, PluginFault
from bevelbook.declare.fields import fields_of, items_of, record_from
from bevelbook.declare.sentence import Named, Sentence, parts_of
from bevelbook.plugin.calculator import Calculator, Formula
from bevelbook.plugin.check import Finding, fault_of
from bevelbook.plugin.on_bench import BenchPass, BenchWait
from bevelbook.plugin.returned_values import Judgement
from bevelbook.plugin.where_shown import CardLine

Held = dict[str, Any]
_ITEMS: Final[Mapping[str, Callable[..., object]]] = {
    "the lines of its card": CardLine,
    "the waits of its bench": BenchWait,
    "the passes of its bench": BenchPass,
}


class Misfit(Exception):
    """What came is of another calculator than the one here: its file was changed since the server started."""


class Drawing(NamedTuple):
    """The lines of working and the picture of an answer, each with what failed in place of it."""

    working: tuple[str, ...] = ()
    working_fault: PluginFault | None = None
    picture: str | None = None
    picture_fault: PluginFault | None = None


class ResultFromThere(Result):
    """A result that another process found, with the lines and the picture that it made of it."""

    __slots__ = ("drawing",)

    def __init__(self, calculator: Calculator[Any, Any], answer: Answer[Any, Any], drawing: Drawing) -> None:
        super().__init__(calculator, answer)
        self.drawing = drawing

    def working(self) -> tuple[str, ...]:
        if self.drawing.working_fault is not None:
            raise self.drawing.working_fault
        return self.drawing.working

    def picture_or_fault(self) -> tuple[str | None, PluginFault | None]:
        return self.drawing.picture, self.drawing.picture_fault


def values_of(record: object) -> Held:
    """A record with every number as it is."""
    return {
        name: [values_of(one) for one in value] if isinstance(value, tuple) else value
        for name, value in items_of(record)
    }


def record_of(cls: type[Any], held: Mapping[str, Any]) -> Any:
    """A record from what :func:`values_of` gave. Raises Misfit."""
    made = record_from(cls, json.dumps(held))
    if made is None:
        raise Misfit
    return made


def held_of_bound(bound: Bound[Any]) -> Held:
    """The inputs of one calculation."""
    return {
        "given": values_of(bound.given),
        "origins": bound.origins,
        "uncertainties": [[*path, value] for path, value in bound.uncertainties.items()],
        "findings": bound.findings,
        "k_taken": sorted(bound.k_taken, key=str),
    }


def bound_from(calculator: Calculator[Any, Any], held: Held) -> Bound[Any]:
    """The same there. Raises Misfit."""
    return Bound(
        record_of(calculator.given, held["given"]),
        held["origins"],
        {(name, place, part): value for name, place, part, value in held["uncertainties"]},
        tuple(held["findings"]),
        frozenset((name, place, part) for name, place, part in held["k_taken"]),
    )


def held_of_result(result: Result) -> Held:
    """An answer with its working and picture. The inputs stay where they were read."""
    lines, working_fault = result.working_or_fault()
    picture, picture_fault = result.picture_or_fault()
    return {
        "found": values_of(result.found),
        "judgement": result.judgement._asdict(),
        "uncertainties": result.uncertainties,
        "working": lines,
        "working_fault": held_of_fault(working_fault),
        "picture": picture,
        "picture_fault": held_of_fault(picture_fault),
    }


def result_from(calculator: Calculator[Any, Any], bound: Bound[Any], held: Held) -> ResultFromThere:
    """The same here. Raises Misfit."""
    judged = held["judgement"]
    judgement = Judgement(
        judged["verdict"], tuple(judged["reasons"]), tuple(judged["findings"]), judged["in_words_only"]
    )
    found = record_of(calculator.found, held["found"])
    drawing = Drawing(
        tuple(held["working"]),
        _plugin_fault_from(held["working_fault"]),
        held["picture"],
        _plugin_fault_from(held["picture_fault"]),
    )
    return ResultFromThere(calculator, Answer(calculator, bound, found, judgement, held["uncertainties"]), drawing)


def held_of_fault(fault: BevelbookError | None) -> Held | None:
    """A fault that a calculation ended with."""
    if fault is None:
        return None
    held: Held = {
        "what": _held_of_text(fault.what),
        "code": fault.code,
        "place": fault.place,
        "found": fault.found,
        "wanted": fault.wanted,
        "remedy": None if fault.remedy is None else _held_of_text(fault.remedy),
    }
    if isinstance(fault, PluginFault):
        held["plugin"] = [fault.how, fault.plugin, fault.package, fault.may_be_inputs]
    return held


def fault_from(held: Held) -> InputError | PluginFault:
    """The same here."""
    fault: InputError | PluginFault
    place, remedy = Place(*held["place"]), None if held["remedy"] is None else _text_from(held["remedy"])
    what = _text_from(held["what"])
    if "plugin" in held:
        how, plugin, package, may_be_inputs = held["plugin"]
        fault = PluginFault(what, how=how, plugin=plugin, package=package, place=place, remedy=remedy)
        fault.code, fault.may_be_inputs = held["code"], may_be_inputs
        return fault
    return InputError(what, code=held["code"], place=place, found=held["found"], wanted=held["wanted"], remedy=remedy)


def _plugin_fault_from(held: Held | None) -> PluginFault | None:
    fault = None if held is None else fault_from(held)
    return fault if isinstance(fault, PluginFault) else None


def _held_of_text(text: str) -> list[Any]:
    return [list(part) if isinstance(part, Named) else str(part) for part in parts_of(text)]


def _text_from(held: list[Any]) -> str:
    if all(isinstance(part, str) for part in held):
        return "".join(held)
    return Sentence(*(part if isinstance(part, str) else Named(*part) for part in held))


def held_of_value(value: object) -> Any:
    """What one function of a calculator returned."""
    return values_of(value) if fields_of(value) else value


def value_from(formula: Formula[Any, Any], part: str, held: Any) -> object:
    """The same here, as the function of that name returns it. Raises Misfit."""
    if part in ("compute", "settled"):
        return record_of(formula.found, held)
    if part == "judge":
        verdict, reasons, findings, in_words_only = held
        return Judgement(verdict, tuple(reasons), tuple(findings), in_words_only)
    made = _ITEMS.get(part)
    if made is not None:
        return tuple(made(*one) for one in held)
    return tuple(held) if isinstance(held, list) else held


def finding_from(held: Held) -> Finding:
    """The same here. Raises Misfit."""
    finding: Finding = record_of(Finding, held)
    if fault_of(finding) is not None:
        raise Misfit
    return finding
