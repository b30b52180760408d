"""The fingerprint of what a calculator does: what it declares, and what it finds for its worked examples.

It is kept with each result. Results of one version with fingerprints that contradict each other were not made by one
formula: somebody changed it and did not raise its version, or it goes by more than its inputs.

It is short, as each row and an index hold it: six characters of a hash of the declaration, then for each worked example
three of one of its inputs and four of one of its outputs and verdict. So an example that was added or left out
contradicts nothing. No word of a description is in it, and no digit beyond what another machine finds too.
"""

from __future__ import annotations

import json
from base64 import urlsafe_b64encode
from collections.abc import Iterator, Mapping
from hashlib import sha256
from typing import Any, Final
from weakref import WeakKeyDictionary

from bevelbook.calculating.calculate import Bound, bind, work_out
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import REQUIRED, Field, fields_of, items_of
from bevelbook.plugin.calculator import Calculator

DIGITS: Final = 9
NOTHING_BELOW: Final = 1e-12
"""A number that is nearer to 0 than this is 0 with the noise of its last digits."""
_NUDGED: Final = 1 + 3.7e-12
"""A number that lies in the middle of two with so many digits, as 0.1801481605 does, would be rounded by its noise."""
MOST_EXAMPLES: Final = 8
"""So many worked examples count, the first ones: the text is kept with every row."""
_OF_DECLARATION: Final = 6
_OF_INPUTS: Final = 3
_OF_OUTPUTS: Final = 4

_KNOWN: Final[WeakKeyDictionary[Calculator[Any, Any], str | None]] = WeakKeyDictionary()


def fingerprint_of(calculator: Calculator[Any, Any]) -> str | None:
    """The fingerprint of a calculator, worked out once; None for one that fails at a worked example of its own."""
    try:
        return _KNOWN[calculator]
    except KeyError:
        pass
    try:
        found: str | None = _fingerprint(calculator)
    except BevelbookError:
        if calculator.elsewhere is not None:
            return None  # there it may only have had no time, so it is asked again
        found = None
    _KNOWN[calculator] = found
    return found


def contradict(one: str | None, other: str | None) -> bool:
    """Whether two fingerprints of one version show that it was changed between them; one that is missing shows
    nothing.

    >>> contradict("aaaaaa" "one1111", "aaaaaa" "one1111" "two2222"), contradict("aaaaaa" "one1111", None)
    (False, False)
    >>> contradict("aaaaaa" "one1111", "aaaaaa" "one2222"), contradict("aaaaaa" "one1111", "bbbbbb" "one1111")
    (True, True)
    """
    if one is None or other is None or one == other:
        return False
    examples = _examples(one)
    return one[:_OF_DECLARATION] != other[:_OF_DECLARATION] or any(
        examples.get(inputs, outputs) != outputs for inputs, outputs in _examples(other).items()
    )


def _examples(fingerprint: str) -> dict[str, str]:
    """The outputs of each worked example by its inputs."""
    step = _OF_INPUTS + _OF_OUTPUTS
    parts = (fingerprint[place : place + step] for place in range(_OF_DECLARATION, len(fingerprint), step))
    return {part[:_OF_INPUTS]: part[_OF_INPUTS:] for part in parts}


def _fingerprint(calculator: Calculator[Any, Any]) -> str:
    declared = [
        calculator.version,
        *(sorted(map(_field, fields_of(side)), key=str) for side in (calculator.given, calculator.found)),
    ]
    bounds = [bind(calculator, worked.given)._replace(uncertainties={}) for worked in calculator.worked[:MOST_EXAMPLES]]
    examples = {_hash(_values(bound.given), _OF_INPUTS): found for bound, found in _found(calculator, bounds)}
    return "".join((_hash(declared, _OF_DECLARATION), *(f"{one}{examples[one]}" for one in sorted(examples))))


def _found(calculator: Calculator[Any, Any], bounds: list[Bound[Any]]) -> Iterator[tuple[Bound[Any], str]]:
    """Each of these inputs with the hash of what is found for it; of a calculator that runs elsewhere in one crossing.

    Without the ± of an example: what it adds is found by steps so small that the last digits are not those of another
    machine.
    """
    if calculator.elsewhere is None:
        answers: Any = (work_out(calculator, bound) for bound in bounds)
    else:
        answers = calculator.elsewhere.worked_out(calculator, bounds)
    for bound, answer in zip(bounds, answers, strict=True):
        if isinstance(answer, BevelbookError):
            raise answer
        yield bound, _hash([_values(answer.found), answer.verdict], _OF_OUTPUTS)


def _field(field: Field) -> list[object]:
    bounds = (field.minimum, field.maximum, field.above, field.below)
    return [
        field.name,
        field.kind,
        field.unit,
        [None if one is None else repr(float(one)) for one in bounds],
        sorted(field.choices),
        "needed" if field.default is REQUIRED else as_compared(field.default),
        [_field(one) for one in fields_of(field.item)],
    ]


def _values(record: object) -> Mapping[str, object]:
    return {name: as_compared(value) for name, value in items_of(record)}


def as_compared(value: object) -> object:
    """A value as it is compared: a number to so many digits, the same for 7 and 7.0.

    >>> as_compared(0.1 + 0.2), as_compared(7), as_compared(-1e-17), as_compared("7k")
    ('0.3', '7', '0', 's7k')
    """
    if isinstance(value, bool) or value is None:
        return value
    if isinstance(value, (int, float)):
        return "0" if abs(value) < NOTHING_BELOW else f"{value * _NUDGED:.{DIGITS}g}"
    if isinstance(value, tuple):
        return [as_compared(one) if isinstance(one, (str, int, float)) else _values(one) for one in value]
    return f"s{value}"


def _hash(values: object, length: int) -> str:
    found = sha256(json.dumps(values, ensure_ascii=False, sort_keys=True).encode())
    return urlsafe_b64encode(found.digest()).decode()[:length]
