"""Encode results as table rows; values shared by a batch are encoded once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import lru_cache
from json.encoder import encode_basestring
from math import isfinite
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Result, clean, path_in_words
from bevelbook.calculating.fingerprint import fingerprint_of
from bevelbook.declare.fields import Field, fields_of
from bevelbook.plugin.registry import Offered
from bevelbook.store.calculations import as_json, calculation_id

_TELLERS_REMEMBERED: Final = 64
_ORIGINS_REMEMBERED: Final = 256


class ResultJson(NamedTuple):
    """A result in the words and JSON that are kept: the same for every record with the same inputs."""

    given: str
    found: str
    rows: str | None
    uncertainties: str | None
    origins: str
    verdict: str
    reasons: str
    spreads: str = ""
    """What was typed with ±, by input, for the id alone: the same inputs with another ± are another result."""


class RowWriter:
    """Writes results of one calculator as rows in the order of ``calculations.COLUMNS``."""

    def __init__(self, offered: Offered, by: str | None, now: str) -> None:
        self._calculator, origin = offered
        self._behind = (origin.package, origin.version, now, by, fingerprint_of(self._calculator))
        self._inputs = encoder(self._calculator.inputs)
        self._outputs = encoder(self._calculator.outputs)
        self._origins = lru_cache(_ORIGINS_REMEMBERED)(self._tell_origins)

    def tell(self, result: Result) -> ResultJson:
        """The columns for inputs and outputs."""
        listing, spreads = self._calculator.listing_out, result.bound.uncertainties
        return ResultJson(
            self._inputs(result.bound.given),
            self._outputs(result.found),
            _tell_listing(getattr(result.found, listing.name)) if listing else None,
            as_json(result.uncertainties) if result.uncertainties else None,
            self._origins(tuple(result.bound.origins.values())),
            result.verdict,
            f"[{','.join(map(encode_basestring, (*result.judgement.reasons, *result.findings)))}]",
            as_json({path_in_words(path): one for path, one in spreads.items()}) if spreads else "",
        )

    def row(self, result: ResultJson, table: str | None, row_id: str | None) -> tuple[object, ...]:
        """The row of a result for a record, or for none."""
        name, version = self._calculator.name, self._calculator.version
        return (
            calculation_id(name, version, table, row_id, result.given + result.spreads),
            name,
            version,
            table,
            row_id,
            *result[:-1],
            *self._behind,
        )

    def _tell_origins(self, origins: tuple[str, ...]) -> str:
        names = (field.name for field in self._calculator.inputs)
        return as_json(dict(zip(names, origins, strict=True)))


def encoder(fields: Sequence[Field]) -> Callable[[object], str]:
    """A function that writes these fields of a record as JSON, as ``as_json`` does with its plain values.

    Compiled for these fields: a batch calls it twice for every record.
    """
    scope: dict[str, Any] = {"number": tell_number, "tell": _tell_value}
    cells = ""
    for number, field in enumerate(fields):
        cell = "number(value) if value.__class__ is float else tell(value)"
        if type(field.default) in (float, str):
            scope |= {f"default_{number}": field.default, f"words_{number}": _tell_value(field.default)}
            cell = f"words_{number} if value is default_{number} else {cell}"
        cells += f"'null' if (value := record.{field.name}) is None else {cell}, "
    scope["template"] = "{" + ",".join(f"{as_json(field.name)}:%s" for field in fields) + "}"
    made: Callable[[object], str] = eval(f"lambda record: template % ({cells})", scope)
    return made


def _tell_value(value: object) -> str:
    if value is None:
        return "null"
    if isinstance(value, float):
        return tell_number(value)
    if isinstance(value, tuple):
        return _tell_listing(value)
    return str(value) if type(value) is int else as_json(value)


def tell_number(value: float) -> str:
    """A number as JSON, without rounding noise in its last digits.

    Up to 12 digits with a point and no exponent are what JSON would make of them too, so they need not be read back.

    >>> tell_number(0.1 + 0.2), tell_number(7000.0), tell_number(-0.0)
    ('0.3', '7000.0', '0.0')
    """
    text = f"{value:.12g}"
    if "." in text and "e" not in text:
        return text
    return repr(clean(value)) if isfinite(value) else as_json(value)


def _tell_listing(items: Iterable[object]) -> str:
    return f"[{','.join([_teller_of(type(item))(item) for item in items])}]"  # type: ignore[arg-type]


@lru_cache(_TELLERS_REMEMBERED)
def _teller_of(record: type[object]) -> Callable[[object], str]:
    return encoder(fields_of(record))
