"""Where what is kept of a calculator is not what it finds now: a kept result with other figures, and results of the
same version that another formula made. Nothing is changed then, and everybody who looks hears of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from math import isclose
from typing import Any, Final, NamedTuple

from bevelbook.calculating.fingerprint import contradict, fingerprint_of
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import Field, fields_of
from bevelbook.display.format import format_value
from bevelbook.kept_json import object_in
from bevelbook.plugin.calculator import Calculator
from bevelbook.store.calculation_views import kept_under
from bevelbook.store.calculations import COLUMNS, KeptThere

SAME_WITHIN: Final = 1e-9
"""Shares of a number by which it may differ on another machine."""
SAME_NEAR_0: Final = 1e-12
MOST_SHOWN: Final = 3
"""Figures that are said of one result."""
_PLACES: Final = {name: COLUMNS.index(name) for name in ("found", "rows", "verdict", "fingerprint")}
ITS_AUTHOR: Final = (
    "If the calculator was changed, its author gives it a new version; then run it again. If it was not, it goes by "
    "more than its inputs: tell its author."
)


class Figure(NamedTuple):
    """One output in words, as it was found now and as it is kept."""

    words: str
    now: str
    kept: str

    def __str__(self) -> str:
        return f"{self.words} {self.now} now, {self.kept} kept"


class KeptOtherwise(NamedTuple):
    """A result that is kept under the id of the one just found, and is not the same: it has other ``figures``, or none
    and was made by another formula of that version."""

    calculator: str
    version: int
    row_id: str
    label: str
    kept_on: str
    figures: tuple[Figure, ...]

    @property
    def words(self) -> str:
        """What is the matter, with both figures, and that nothing was changed."""
        of = f"{self.calculator}{f' of {self.label}' if self.label else ''}"
        which = f"kept as calculation {self.row_id} on {self.kept_on}"
        if not self.figures:
            return (
                f"{of} is {which} with the same figures, by another formula of version {self.version}: the calculator "
                "was changed without a new version. Nothing was changed"
            )
        more = f", and {len(self.figures) - MOST_SHOWN} more" if len(self.figures) > MOST_SHOWN else ""
        said = "; ".join(map(str, self.figures[:MOST_SHOWN]))
        return f"{of} is {which} with other figures: {said}{more}. The kept ones were not changed"

    def sentence(self) -> str:
        """The same with what to do."""
        return f"{self.words}. {ITS_AUTHOR}"

    def as_dict(self) -> dict[str, Any]:
        """The same for programs."""
        return {
            **InputError(self.words, code="kept_result_differs", remedy=ITS_AUTHOR).as_dict(),
            "calculator": self.calculator,
            "version": self.version,
            "id": self.row_id,
            "subject": self.label or None,
            "kept_on": self.kept_on,
            "figures": [one._asdict() for one in self.figures],
        }


class OtherFormula(NamedTuple):
    """Kept results of a calculator that its formula of today did not make: some of the same version, by another
    formula; some of a later version, which is then not the one at hand. ``row_id`` is one of them."""

    calculator: str
    version: int
    results: int
    later_version: int | None
    later_results: int
    row_id: str

    @property
    def words(self) -> str:
        """What is the matter."""
        if self.results:
            were = "were" if self.results > 1 else "was"
            return (
                f"{self.calculator} was changed without a new version: {counted(self.results, 'result')} of version "
                f"{self.version} {were} kept by another formula"
            )
        are = "are" if self.later_results > 1 else "is"
        return (
            f"{self.calculator} is version {self.version} here, and {counted(self.later_results, 'result')} of version "
            f"{self.later_version} {are} kept: of each record the one of the later version counts"
        )

    @property
    def remedy(self) -> str:
        """What to do about it."""
        if self.results:
            version = max(self.version, self.later_version or 0) + 1
            return (
                f"Its author gives it version {version}; then keep the results again. If nobody changed it, it goes by "
                "more than its inputs: tell its author."
            )
        return (
            "Install the later plugin here too. If it was taken back on purpose, its author gives it version "
            f"{(self.later_version or 0) + 1}."
        )


class BesideKept(NamedTuple):
    """What is to be said beside a result of what is kept: that it is kept with other figures, and that results were
    made by another formula."""

    otherwise: KeptOtherwise | None
    other_formula: OtherFormula | None

    def sentences(self) -> tuple[str, ...]:
        """The words for people, what to do once."""
        found = []
        if self.otherwise is not None:
            found.append(f"{self.otherwise.words}." if self.other_formula else self.otherwise.sentence())
        if self.other_formula is not None:
            found.append(f"{self.other_formula.words}. {self.other_formula.remedy}")
        return tuple(found)


def other_formula(connection: sqlite3.Connection, calculator: Calculator[Any, Any]) -> OtherFormula | None:
    """Whether results are kept that the calculator of today did not make; None where all are its own, or of versions
    before, or nobody kept what it did then."""
    under = kept_under(connection, calculator.name)
    same = [one for one in under if one.version == calculator.version and one.fingerprint is not None]
    today = fingerprint_of(calculator) if same else None
    others = [one.fingerprint for one in same if contradict(today, one.fingerprint)]
    later = max((one.version for one in under if one.version > calculator.version), default=None)
    if not others and later is None:
        return None
    results, row_id = _counted(
        connection,
        "calculator = ? AND version = ? AND fingerprint IN (SELECT value FROM json_each(?))",
        (calculator.name, calculator.version, json.dumps(others)),
    )
    later_results, later_id = _counted(connection, "calculator = ? AND version = ?", (calculator.name, later))
    return OtherFormula(calculator.name, calculator.version, results, later, later_results, row_id or later_id or "")


def _counted(connection: sqlite3.Connection, where: str, given: Sequence[object]) -> tuple[int, str | None]:
    """How many results there are, and the id of the last one that was kept."""
    cursor = connection.cursor()
    cursor.row_factory = None
    (count, last) = cursor.execute(
        f"SELECT count(*), max(rowid) FROM main.calculations WHERE {where}", given
    ).fetchone()
    row = cursor.execute("SELECT id FROM main.calculations WHERE rowid = ?", (last,)).fetchone()
    return count, row and row[0]


def otherwise(
    calculator: Calculator[Any, Any], row: Sequence[object], there: KeptThere, label: str
) -> KeptOtherwise | None:
    """What is wrong with a kept result where ``row`` (in the order of ``COLUMNS``) was to be kept; None where it is the
    same but for the last digits of another machine."""
    found, rows, verdict, fingerprint = (row[place] for place in _PLACES.values())
    figures = tuple(_figures(calculator, str(found), rows, str(verdict), there))
    if not figures and not contradict(fingerprint if isinstance(fingerprint, str) else None, there.fingerprint):
        return None
    return KeptOtherwise(calculator.name, calculator.version, there.row_id, label, there.calculated_at[:10], figures)


def _figures(
    calculator: Calculator[Any, Any], found: str, rows: object, verdict: str, there: KeptThere
) -> Iterator[Figure]:
    if verdict != there.verdict:
        yield Figure("verdict", verdict, there.verdict)
    fields = {field.name: field for field in calculator.outputs}
    yield from _differing(object_in(found) or {}, object_in(there.found) or {}, fields)
    listing = calculator.listing_out
    fields = {field.name: field for field in fields_of(listing.item if listing else None)}
    items, items_there = (_items(one) for one in (rows, there.rows))
    if len(items) != len(items_there):
        yield Figure("rows", str(len(items)), str(len(items_there)))
        return
    for number, (item, item_there) in enumerate(zip(items, items_there, strict=True), start=1):
        for one in _differing(item, item_there, fields):
            yield one._replace(words=f"{one.words} in row {number}")


def _differing(now: Mapping[str, Any], kept: Mapping[str, Any], fields: Mapping[str, Field]) -> Iterator[Figure]:
    for name in dict.fromkeys((*now, *kept)):
        one, other = now.get(name), kept.get(name)
        if not is_same(one, other):
            field = fields.get(name)
            texts = _shown(one, field), _shown(other, field)
            if texts[0] == texts[1]:
                texts = _exact(one), _exact(other)
            yield Figure(field.words if field else name, *texts)


def is_same(one: object, other: object) -> bool:
    """Whether two values of JSON are one value but for the last digits of another machine.

    >>> is_same(0.1 + 0.2, 0.3), is_same(7, 7.0), is_same(0.0, 1e-15), is_same(2.0, 2.0001), is_same(None, 0.0)
    (True, True, True, False, False)
    """
    if _is_number(one) and _is_number(other):
        return isclose(float(one), float(other), rel_tol=SAME_WITHIN, abs_tol=SAME_NEAR_0)  # type: ignore[arg-type]
    return one == other


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _shown(value: object, field: Field | None) -> str:
    if value is None:
        return "nothing"
    if field is None or not (field.is_number and _is_number(value)):
        return _exact(value)
    return format_value(value, field)


def _exact(value: object) -> str:
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def _items(rows: object) -> list[dict[str, Any]]:
    try:
        items = json.loads(rows) if isinstance(rows, str) else []
    except ValueError:
        items = []
    return [one for one in items if isinstance(one, dict)] if isinstance(items, list) else []
