"""Kept results worked out again: each of a version that is here, from the inputs that are kept with it, and compared.

A result of another version, or of a calculator that is not here, is counted with the reason: nothing is said of it.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import GIVEN, Answer, Bound, work_out
from bevelbook.calculating.calculate import Path as InputPath
from bevelbook.calculating.fingerprint import contradict, fingerprint_of
from bevelbook.calculating.kept_otherwise import is_same
from bevelbook.calculating.rows import encoder
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field, record_from
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.kept_json import object_in
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculations import again_id, calculation_id
from bevelbook.store.erased_marks import ERASED

_ALIKE_REMEMBERED: Final = 4096
_SMALL: Final = 1e-6
"""A share of an input that is tried as its ±, to see whether any output then has one."""
_WITH_A_SPREAD: Final = "typed with a ± that is not kept: its verdict and the ends of intervals were not compared"
_WITH_AN_ERASED_NAME: Final = "of a person who was erased: nothing tells any more whether its id is that of its inputs"
_ERASED: Final = late_pattern(rf"\b{ERASED} \d+\b")
_OF_ANOTHER_FORMULA: Final = (
    "made by another formula of that version, as is noted with it: its figures alone were compared"
)


class _KeptRow(NamedTuple):
    row_id: str
    calculator: str
    version: int
    subject_table: str | None
    subject_id: str | None
    given: str
    found: str
    rows: str | None
    verdict: str
    uncertainties: str | None
    origins: str
    fingerprint: str | None

    @property
    def words(self) -> str:
        return f"the kept result {self.row_id} of {self.calculator} version {self.version}"


class _Again(NamedTuple):
    """A result worked out again: its outputs, the rows of its listing, and the verdict; or why there is none."""

    found: Mapping[str, Any] | None
    rows: list[Any] | None
    verdict: str
    fault: str | None = None


class KeptAgain:
    """What came of it. ``equal`` came out the same; ``otherwise`` are those that did not, in words; ``failed`` those
    that could not be worked out; ``left_out`` how many were not, by reason; ``in_part`` how many were compared in part,
    by reason."""

    __slots__ = ("equal", "failed", "in_part", "left_out", "otherwise")

    def __init__(self) -> None:
        self.equal = 0
        self.otherwise: list[str] = []
        self.failed: list[str] = []
        self.left_out: dict[str, int] = {}
        self.in_part: dict[str, int] = {}


def kept_worked_out_again(connection: sqlite3.Connection, registry: Registry) -> KeptAgain:
    """Every kept result of a version that is here, worked out again. The connection may be read-only; results are read
    one by one. Raises sqlite3.Error."""
    done = KeptAgain()
    again: dict[str, _CalculatorAgain] = {}
    cursor = connection.cursor()
    cursor.row_factory = None
    asked = f"SELECT {', '.join('id' if one == 'row_id' else one for one in _KeptRow._fields)} FROM main.calculations"
    for row in cursor.execute(f"{asked} ORDER BY rowid"):
        kept = _KeptRow(*row)
        offered = registry.declared(kept.calculator)
        if offered is None:
            _count(done.left_out, f"of {kept.calculator}, which no plugin here has")
        elif offered.calculator.version != kept.version:
            now = f"{kept.calculator} version {kept.version}, which is version {offered.calculator.version} here"
            _count(done.left_out, f"of {now}")
        else:
            if kept.calculator not in again:
                again[kept.calculator] = _CalculatorAgain(offered.calculator)
            again[kept.calculator].compare(connection, kept, done)
    return done


class _CalculatorAgain:
    """One calculator, asked again. Many results share their inputs: each of these is worked out once."""

    def __init__(self, calculator: Calculator[Any, Any]) -> None:
        self._calculator = calculator
        self._outputs = encoder([field for field in calculator.outputs if field.kind != "listing"])
        self._of_interval = frozenset(field.name for field in calculator.outputs if _is_of_interval(field))
        self._worked_out = lru_cache(_ALIKE_REMEMBERED)(self._work_out)

    def compare(self, connection: sqlite3.Connection, kept: _KeptRow, done: KeptAgain) -> None:
        again = self._worked_out(kept.given)
        if again.fault is not None:
            done.failed.append(f"the kept result {kept.row_id} of {kept.calculator}: {again.fault}")
            return
        is_spread = kept.uncertainties is not None
        if not is_spread and not _is_of_its_inputs(connection, kept):
            is_blanked = _ERASED.search(kept.given) is not None
            is_spread = not is_blanked and self._may_hide_a_spread(kept)
            if is_blanked:
                _count(done.in_part, f"of {kept.calculator}, {_WITH_AN_ERASED_NAME}")
            elif not is_spread:
                done.otherwise.append(f"{kept.words} has an id that its inputs do not make: they were changed")
                return
        if is_spread:
            _count(done.in_part, f"of {kept.calculator}, {_WITH_A_SPREAD}")
        if contradict(kept.fingerprint, fingerprint_of(self._calculator)):
            _count(done.in_part, f"of {kept.calculator}, {_OF_ANOTHER_FORMULA}")
        differing = [*self._differing(again, kept, is_spread=is_spread), *self._told_otherwise(kept)]
        if not differing:
            done.equal += 1
            return
        done.otherwise.append(f"{kept.words} comes out otherwise: {'; '.join(differing[:3])}")

    def _work_out(self, given: str) -> _Again:
        bound = record_from(self._calculator.given, given)
        if bound is None:
            return _Again(None, None, "", "its inputs are not those of this version any more")
        try:
            answer: Answer[Any, Any] = work_out(self._calculator, Bound(bound, {}, {}))
        except BevelbookError as fault:
            return _Again(None, None, "", f"it could not be worked out: {' '.join(str(fault).split())}")
        listing = self._calculator.listing_out
        rows = None
        if listing is not None:
            as_json = encoder([listing])(answer.found)
            rows = json.loads(as_json)[listing.name]
        return _Again(object_in(self._outputs(answer.found)) or {}, rows, answer.verdict)

    def _may_hide_a_spread(self, kept: _KeptRow) -> bool:
        """Whether something may have been typed with ± although no output has one: its ± shows in none of them."""
        origins = object_in(kept.origins) or {}
        return any(
            one.kind == "listing" or (one.is_number and self._hides(kept.given, one.name))
            for one in self._calculator.inputs
            if origins.get(one.name) == GIVEN
        )

    def _hides(self, given: str, name: str) -> bool:
        bound = record_from(self._calculator.given, given)
        value = getattr(bound, name, None)
        if bound is None or not isinstance(value, int | float):
            return False
        spread: dict[InputPath, float] = {(name, None, None): max(abs(value), 1.0) * _SMALL}
        try:
            return not work_out(self._calculator, Bound(bound, {}, spread)).uncertainties
        except BevelbookError:
            return True

    def _told_otherwise(self, kept: _KeptRow) -> Iterator[str]:
        """Where its inputs came from, if that is kept as no result has it; one that is not JSON is named elsewhere."""
        origins = object_in(kept.origins)
        if origins is not None and origins.keys() != {one.name for one in self._calculator.inputs}:
            yield "where its inputs came from is not kept of each of them"
        elif origins is not None and not all(isinstance(one, str) for one in origins.values()):
            yield "where its inputs came from is not in words"

    def _differing(self, again: _Again, kept: _KeptRow, *, is_spread: bool) -> Iterator[str]:
        held = object_in(kept.found)
        if held is None or again.found is None:
            yield "what is kept is not JSON"
            return
        aside = self._of_interval if is_spread else frozenset()
        if is_spread and self._calculator.settled is not None:
            aside = frozenset(held) | frozenset(again.found)
        listing = self._calculator.listing_out
        for name in dict.fromkeys((*again.found, *held)):
            if name in aside or (listing is not None and name == listing.name):
                continue
            if not is_same(again.found.get(name), held.get(name)):
                yield f"{name} {again.found.get(name)} now, {held.get(name)} kept"
        if again.rows is not None and not is_spread:
            yield from _differing_rows(again.rows, kept.rows)
        if again.verdict != kept.verdict and not is_spread:
            yield f"verdict {again.verdict} now, {kept.verdict} kept"


def _is_of_its_inputs(connection: sqlite3.Connection, kept: _KeptRow) -> bool:
    """Whether its id is that of its inputs without any ±, or the one that it gets where it is kept again after
    another."""
    own = calculation_id(kept.calculator, kept.version, kept.subject_table, kept.subject_id, kept.given)
    if kept.row_id == own:
        return True
    same = connection.execute(
        "SELECT id, given FROM main.calculations WHERE calculator = ? AND version = ? AND subject_table IS ? "
        "AND subject_id IS ? ORDER BY id",
        (kept.calculator, kept.version, kept.subject_table, kept.subject_id),
    ).fetchall()
    return any(
        kept.row_id == again_id(first[0], latest[0]) for first in same if first[1] == kept.given for latest in same
    )


def _differing_rows(now: list[Any], kept: str | None) -> Iterator[str]:
    try:
        held = json.loads(kept) if kept is not None else None
    except ValueError:
        held = None
    if not isinstance(held, list) or len(held) != len(now):
        yield f"{counted(len(now), 'row')} now, {len(held) if isinstance(held, list) else 'none'} kept"
        return
    for number, (one, other) in enumerate(zip(now, held, strict=True), start=1):
        if not isinstance(one, dict) or not isinstance(other, dict):
            continue
        for name in dict.fromkeys((*one, *other)):
            if not is_same(one.get(name), other.get(name)):
                yield f"{name} in row {number} {one.get(name)} now, {other.get(name)} kept"


def _is_of_interval(field: Field) -> bool:
    return bool(field.uncertainty_of or field.low_of or field.high_of)


def _count(counts: dict[str, int], reason: str) -> None:
    counts[reason] = counts.get(reason, 0) + 1
