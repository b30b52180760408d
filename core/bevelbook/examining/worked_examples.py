"""A calculator's worked examples, as a person types them: read, computed twice, compared, judged, shown and kept."""

from __future__ import annotations

import json
from collections.abc import Iterable
from math import isfinite
from typing import Any, Final

from bevelbook.calculating.calculate import Bound, Result, bind, run
from bevelbook.calculating.result_text import result_lines
from bevelbook.declare.errors import BevelbookError, InputError, Place, near_misses
from bevelbook.declare.fields import items_of
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.plugin.calculator import Calculator, Worked

_SLACK: Final = 1e-9
"""Of a tolerance, so that 0.1 + 0.2 is 0.3."""
_MEND_CODE: Final = "Mend it: the worked example has to go through all of the calculator."
_AS_TYPED: Final = "Write it as a person types it: it is shown as the example to copy."
"""Behind what is wrong with it, which ends with what to write instead."""


def examine_examples(
    calculator: Calculator[Any, Any], declared: DeclaredLines, calls: Calls
) -> list[tuple[Bound[Any], Result]]:
    """Look at each worked example. Gives the inputs and the result of those that go through."""
    gone_through = []
    for number, worked in enumerate(calculator.worked, start=1):
        place = declared.example(calculator.name, number)
        which = "its worked example" if len(calculator.worked) == 1 else f"its worked example {number}"
        if not _names_are_known(calculator, worked, which, place, calls):
            continue
        bound = calls.make("reading the worked example", lambda worked=worked: bind(calculator, worked.given))  # type: ignore[misc]
        if isinstance(bound, BevelbookError):
            calls.flaws.append(
                calls.of_fault(bound, place, "example_unreadable", _AS_TYPED, f"{which} cannot be read as typed: ")
            )
            continue
        result = _computed(calculator, bound, which, place, calls)
        if result is None:
            continue
        before = len(calls.flaws)
        _compare(worked, result, which, place, calls)
        _show(calculator, bound, result, place, calls)
        if not any(one.is_serious for one in calls.flaws[before:]):
            gone_through.append((bound, result))
    return gone_through


def _names_are_known(calculator: Calculator[Any, Any], worked: Worked, which: str, place: Place, calls: Calls) -> bool:
    """Whether the example names inputs and outputs that there are."""
    before = len(calls.flaws)
    for names, known, what in (
        (worked.given, [field.name for field in calculator.inputs], "input"),
        (worked.expected, [field.name for field in calculator.outputs], "output"),
    ):
        for name in names:
            if name not in known:
                calls.add(
                    "example_unknown_name",
                    f"{which} names the {what} {name!r}, which there is not",
                    f"{near_misses(name, known)} The {what}s are {', '.join(known)}.".strip(),
                    place,
                    is_serious=True,
                )
    if not worked.expected:
        calls.add(
            "example_expects_nothing",
            f"{which} expects no output",
            "Write down the value that the source prints, by the output's name.",
            place,
        )
    return len(calls.flaws) == before or not any(one.is_serious for one in calls.flaws[before:])


def _computed(
    calculator: Calculator[Any, Any], bound: Bound[Any], which: str, place: Place, calls: Calls
) -> Result | None:
    """The result, where it comes out, and comes out alike when it is computed again."""
    results = []
    for _ in range(2):
        before = len(calls.flaws)
        found = calls.make("compute", lambda: run(calculator, bound))
        if isinstance(found, InputError):
            remedy = "Give inputs inside the valid range, or mend what refuses them."
            calls.flaws.append(calls.of_fault(found, place, "example_refused", remedy, f"{which} is refused: "))
            return None
        if isinstance(found, BevelbookError):
            if not any(one.is_serious for one in calls.flaws[before:]):
                calls.flaws.append(calls.of_fault(found, place, "example_fails", _MEND_CODE, f"with {which}, "))
            return None
        results.append(found)
    first, second = results
    for name, one, other in _differences(first, second):
        calls.add(
            "differs",
            f"computed twice from {which}, {name} is {one} and then {other}",
            "The same inputs have to give the same result: no clock, no random numbers, nothing kept between calls.",
            place,
            is_serious=True,
        )
        return None
    return first


def _differences(first: Result, second: Result) -> Iterable[tuple[str, object, object]]:
    for (name, one), (_, other) in zip(items_of(first.found), items_of(second.found), strict=True):
        if one != other:
            yield name, one, other
    for name, one, other in zip(first.judgement._fields, first.judgement, second.judgement, strict=True):
        if one != other:
            yield f"the {name} of its judgement", one, other


def _compare(worked: Worked, result: Result, which: str, place: Place, calls: Calls) -> None:
    """Whether the outputs and the verdict are those of the source."""
    units = {field.name: field.unit or "" for field in result.formula.outputs}
    for name, expected in worked.expected.items():
        found = result.outputs[name]
        if _is_near(found, expected, worked.tolerance):
            continue
        unit = "" if units[name] == "1" else units[name]
        calls.add(
            "example_wrong",
            f"{which} gives {_said(found, unit)} for {name}, and {_said(expected, unit)} is expected"
            + (f", within {worked.tolerance:g}" if worked.tolerance else ""),
            "Look the value up in the source once more; then mend the formula or the expected value.",
            place,
            is_serious=True,
        )
    if worked.tolerance < 0 or not isfinite(worked.tolerance):
        calls.add("tolerance", f"{which} has a tolerance of {worked.tolerance:g}", "Give 0 or more.", place)
    if worked.verdict is not None and worked.verdict != result.verdict:
        calls.add(
            "example_verdict",
            f"{which} is judged {result.verdict}, and {worked.verdict} is expected",
            "Mend judge, or the expected verdict.",
            place,
            is_serious=True,
        )


def _is_near(found: object, expected: object, tolerance: float) -> bool:
    if isinstance(expected, int | float) and isinstance(found, int | float):
        return abs(found - expected) <= tolerance + _SLACK * abs(expected)
    return found == expected


def _said(value: object, unit: str) -> str:
    return f"{value:.9g} {unit}".strip() if isinstance(value, int | float) else repr(value)


def _show(calculator: Calculator[Any, Any], bound: Bound[Any], result: Result, place: Place, calls: Calls) -> None:
    """Whether the result can be shown wherever it is shown, and kept."""
    given, found = bound.given, result.found
    card, bench = calculator.card, calculator.bench
    parts = {
        "picture": calculator.picture,
        "the lines of its card": card and card.lines,
        "the passes of its card": card and card.passes,
        "the words of its picture": card and card.picture_words,
        "the waits of its bench": bench and bench.waits,
        "the passes of its bench": bench and bench.passes,
    }
    lines = calls.needs("working", result.working, place, "example_fails", _MEND_CODE)
    if lines is not None and not any(line.strip() for line in lines):
        calls.add(
            "no_working",
            "its working has no line",
            'Return the formula and the values put in: it is what people see under "How this was worked out".',
            place,
        )
    for part, function in parts.items():
        if function is not None:
            shown = function
            calls.needs(part, lambda shown=shown: shown(given, found), place, "example_fails", _MEND_CODE)  # type: ignore[misc]
    calls.needs(
        "its result as JSON",
        lambda: json.dumps(result.as_dict(), allow_nan=False),
        place,
        "not_json",
        "Return plain numbers and texts, in the fields as they are declared.",
    )
    calls.needs(
        "its result as printed",
        lambda: list(result_lines(result, explain=True)),
        place,
        "not_printable",
        "Return plain numbers and texts, in the fields as they are declared.",
    )
