"""How many of each part are left: the last count, what was delivered and taken out since, less what builds fitted new.

Only parts that were counted once are known, and a new count settles all that was before it. What nobody knows is not
taken off but said: a new seal without its kind, a part without its side, two parts in stock that both fit, shims in a
diff of which none were noted before, and parts called "other".
"""

from __future__ import annotations

import operator
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import COUNTED, DELIVERED, PART_SIDES
from bevelbook.facts.builds import oldest_first
from bevelbook.facts.same_day import BuildsBefore
from bevelbook.reading.labels import folded_label

if TYPE_CHECKING:
    import sqlite3

SEAL: Final = "seal"
SHIM: Final = "shim"
OTHER: Final = "other"
BOTH_SIDES: Final = "both"
SIDE_OF_SEAL: Final = {"case-side shaft": PART_SIDES[0], "lid-side shaft": PART_SIDES[1], "joint": ""}
"""The side of the diff on which a seal sits by its place; the joint has none."""
_SAME_MM: Final = 1e-6
Size = tuple[float, float | None, float | None]
"""Thickness, bore and outside diameter of a shim in mm; the last two may not be noted."""


class KnownPart(NamedTuple):
    """A part in stock as it is declared. ``seal`` is the folded name of its kind; ``same`` are the ids of all records
    of that name, which are one part: two laptops may each have written it down."""

    row_id: str
    label: str
    part: str
    seal: str | None
    side: str | None
    size: Size | None
    least: int | None
    same: tuple[str, ...]


class StockLeft(NamedTuple):
    """A part that was counted: how many are left by the records (less than none where the count is wrong), and how that
    follows. ``unclear`` says what was fitted and not taken off, as nobody can tell which part it was."""

    stock_part: str
    label: str
    part: str
    pieces: int
    least: int | None
    counted_on: str
    counted: int
    delivered: int
    taken_out: int
    fitted: int
    unclear: tuple[str, ...]

    @property
    def is_below_none(self) -> bool:
        """Whether more were used than there can have been: it has to be counted again."""
        return self.pieces < 0

    @property
    def is_short(self) -> bool:
        """Whether fewer are left than are wanted in the box."""
        return self.is_below_none or (self.least is not None and self.pieces < self.least)

    @property
    def left_words(self) -> str:
        """How many are left: ``7 left``, or that it has to be counted."""
        if self.is_below_none:
            return f"{-self.pieces} more used than there were: count them"
        return f"{self.pieces} left" if self.pieces else "none left"

    @property
    def how(self) -> str:
        """How that follows from the records: ``12 counted on 2026-05-01, 4 delivered, 9 fitted new since``."""
        since = [
            f"{self.delivered} delivered" if self.delivered else "",
            f"{self.taken_out} taken out" if self.taken_out else "",
            f"{self.fitted} fitted new" if self.fitted else "",
        ]
        said = ", ".join(filter(None, since))
        return f"{self.counted} counted on {self.counted_on}" + (f"; since then {said}" if said else "")

    @property
    def words(self) -> str:
        """How many are left, and how that follows."""
        return "; ".join((f"{self.left_words}: {self.how}", *self.unclear))


class NotCounted(NamedTuple):
    """A part that was declared and never counted, so nobody knows how many there are."""

    stock_part: str
    label: str
    part: str
    least: int | None


class _Count(NamedTuple):
    row_id: str
    day: str
    counted: int
    delivered: int = 0
    taken_out: int = 0


class _FittedNew(NamedTuple):
    """Pieces that a build fitted as new. ``side`` is None where it is not noted, empty where there is none.
    ``is_sure``: of shims, whether the diff had noted ones before."""

    build: str
    built_on: str
    part: str
    pieces: int = 1
    seal: str | None = None
    side: str | None = None
    size: Size | None = None
    is_sure: bool = True


def stock_left(connection: sqlite3.Connection) -> list[StockLeft]:
    """Every part in stock that was counted, by its name; the order in which records were written does not matter."""
    parts = known_parts(connection)
    counts = _counts(connection, parts)
    if not counts:
        return []
    before = BuildsBefore(connection, "stock_changes", "changed_on")
    fitted: Counter[str] = Counter()
    unclear: dict[str, Counter[str]] = {}
    for new in _fitted_new(connection, min(one.day for one in counts.values())):
        those = _parts_it_may_be(parts, new)
        for one in those:
            count = counts.get(one.row_id)
            if count is None or before.is_before(new.build, new.built_on, count.row_id, count.day):
                continue
            if len(those) == 1 and _is_certain(one, new):
                fitted[one.row_id] += new.pieces
            else:
                unclear.setdefault(one.row_id, Counter())[_why_unclear(one, new, those)] += new.pieces
    return [
        StockLeft(
            one.row_id,
            one.label,
            one.part,
            count.counted + count.delivered - count.taken_out - fitted[one.row_id],
            one.least,
            count.day,
            count.counted,
            count.delivered,
            count.taken_out,
            fitted[one.row_id],
            tuple(_unclear_in_words(one.part, unclear.get(one.row_id, Counter()))),
        )
        for one in parts
        if (count := counts.get(one.row_id)) is not None
    ]


def not_counted(connection: sqlite3.Connection) -> list[NotCounted]:
    """The parts that were declared and never counted, by name."""
    parts = known_parts(connection)
    counts = _counts(connection, parts)
    return [NotCounted(one.row_id, one.label, one.part, one.least) for one in parts if one.row_id not in counts]


def known_parts(connection: sqlite3.Connection) -> list[KnownPart]:
    """All parts in stock that are declared, by name; those of one name are one part, as the first of them says it."""
    found: dict[str, list[KnownPart]] = {}
    for row_id, label, part, seal, side, thickness, bore, outside, least in connection.execute(
        "SELECT t.id, t.label, t.part, s.label, t.side, t.thickness_mm, t.bore_mm, t.outside_diameter_mm, t.least "
        "FROM stock_parts t LEFT JOIN seals s ON s.id = t.seal ORDER BY t.id"
    ):
        size = None if thickness is None else (thickness, bore, outside)
        kind = None if seal is None else folded_label(seal)
        one = KnownPart(row_id, label, part, kind, side, size, least, (row_id,))
        found.setdefault(folded_label(label), []).append(one)
    parts = [
        those[0]._replace(
            seal=next((one.seal for one in those if one.seal is not None), None),
            side=next((one.side for one in those if one.side is not None), None),
            size=next((one.size for one in those if one.size is not None), None),
            least=next((one.least for one in those if one.least is not None), None),
            same=tuple(one.row_id for one in those),
        )
        for those in found.values()
    ]
    return sorted(parts, key=lambda one: (folded_label(one.label), one.row_id))


def parts_that_fit(
    parts: Iterable[KnownPart], part: str, *, seal: str | None = None, side: str | None = None, size: Size | None = None
) -> tuple[list[KnownPart], bool]:
    """The parts in stock that a piece may be, and whether it is certain: one alone, of the right kind and side.

    ``seal`` is the folded name of its kind; ``side`` None where it is not known, empty where the piece has none.
    """
    new = _FittedNew("", "", part, seal=seal, side=side, size=size)
    those = _parts_it_may_be(parts, new)
    return those, len(those) == 1 and _is_certain(those[0], new)


def _counts(connection: sqlite3.Connection, parts: Iterable[KnownPart]) -> dict[str, _Count]:
    """The last count of each part with what came and went since, by the id of the part."""
    stands = {row_id: one.row_id for one in parts for row_id in one.same}
    rows = connection.execute(
        "SELECT changed_on, created_at, id, stock_part, what, pieces FROM stock_changes ORDER BY id"
    )
    changes = sorted(map(tuple, rows), key=lambda row: (row[0], row[1], row[4] == COUNTED, row[2]))
    found: dict[str, _Count] = {}
    for day, _, row_id, stock_part, what, pieces in changes:
        part = stands.get(stock_part)
        if part is None:
            continue
        if what == COUNTED:
            found[part] = _Count(row_id, day, pieces)
        elif part in found:
            was = found[part]
            found[part] = (
                was._replace(delivered=was.delivered + pieces)
                if what == DELIVERED
                else was._replace(taken_out=was.taken_out + pieces)
            )
    return found


def _fitted_new(connection: sqlite3.Connection, first_day: str) -> Iterator[_FittedNew]:
    """What builds since that day fitted as new."""
    for build, day, place, seal in connection.execute(
        "SELECT b.id, b.built_on, n.place, s.label FROM builds b CROSS JOIN seal_fittings n ON n.build = b.id "
        "LEFT JOIN seals s ON s.id = n.seal WHERE b.built_on >= ? AND n.condition = 'new' ORDER BY b.id, n.id",
        (first_day,),
    ):
        kind = None if seal is None else folded_label(seal)
        yield _FittedNew(build, day, SEAL, seal=kind, side=SIDE_OF_SEAL.get(place))
    for build, day, part, place in connection.execute(
        "SELECT b.id, b.built_on, p.part, p.place FROM builds b CROSS JOIN build_parts p ON p.build = b.id "
        "WHERE b.built_on >= ? AND p.condition = 'new' ORDER BY b.id, p.id",
        (first_day,),
    ):
        for side in PART_SIDES if place == BOTH_SIDES else (place,):
            yield _FittedNew(build, day, part, side=side)
    yield from _shims_added(connection, first_day)


def _shims_added(connection: sqlite3.Connection, first_day: str) -> Iterator[_FittedNew]:
    """The shims of a build beyond those that the diff had in the build before that noted any."""
    diff: str | None = None
    had: list[tuple[Size, int]] | None = None
    for build, of_diff, day, shims in _shims_by_build(connection, first_day):
        if of_diff != diff:
            diff, had = of_diff, None
        if day >= first_day:
            for size, pieces in _beyond(shims, had or ()):
                yield _FittedNew(build, day, SHIM, pieces, side="", size=size, is_sure=had is not None)
        had = shims


def _shims_by_build(
    connection: sqlite3.Connection, first_day: str
) -> Iterator[tuple[str, str, str, list[tuple[Size, int]]]]:
    """Builds with shims of the diffs that had any noted since a day: build, diff, day, and the shims by size."""
    last: tuple[str, str, str] | None = None
    shims: dict[Size, int] = {}
    for build, diff, day, thickness, bore, outside, pieces in connection.execute(
        "SELECT b.id, b.diff, b.built_on, t.thickness_mm, t.bore_mm, t.outside_diameter_mm, coalesce(t.pieces, 1) "
        "FROM builds b CROSS JOIN build_shims t ON t.build = b.id WHERE t.thickness_mm > 0 AND b.diff IN ("
        "SELECT e.diff FROM builds e CROSS JOIN build_shims u ON u.build = e.id WHERE e.built_on >= ?) "
        f"ORDER BY b.diff, {oldest_first('b')}, t.id",
        (first_day,),
    ):
        if last is not None and last[0] != build:
            yield (*last, list(shims.items()))
            shims = {}
        last = (build, diff, day)
        size = (thickness, bore, outside)
        shims[size] = shims.get(size, 0) + pieces
    if last is not None:
        yield (*last, list(shims.items()))


def _beyond(shims: Sequence[tuple[Size, int]], had: Sequence[tuple[Size, int]]) -> Iterator[tuple[Size, int]]:
    """The shims that are not among those that were there; wherever they sit in the diff."""
    left, wanted = [pieces for _, pieces in had], [pieces for _, pieces in shims]
    for is_same in (operator.eq, _is_same_size):
        for at, (size, _) in enumerate(shims):
            for there, (was, _) in enumerate(had):
                if is_same(size, was):
                    used = min(wanted[at], left[there])
                    wanted[at] -= used
                    left[there] -= used
    yield from ((size, pieces) for (size, _), pieces in zip(shims, wanted, strict=True) if pieces)


def _is_same_size(one: Size, other: Size) -> bool:
    """Whether two shims are of one size as far as both are noted."""
    return all(a is None or b is None or abs(a - b) <= _SAME_MM for a, b in zip(one, other, strict=True))


def _parts_it_may_be(parts: Iterable[KnownPart], new: _FittedNew) -> list[KnownPart]:
    """The parts in stock that a new piece may have been."""
    those = [one for one in parts if one.part == new.part and _may_be(one, new)]
    of_kind = [one for one in those if one.seal is not None and one.seal == new.seal]
    return of_kind or those


def _may_be(one: KnownPart, new: _FittedNew) -> bool:
    if one.side is not None and new.side is not None and one.side != new.side:
        return False
    if one.part == SEAL:
        return one.seal is None or new.seal is None or one.seal == new.seal
    if one.part == SHIM:
        return one.size is None or new.size is None or _is_same_size(one.size, new.size)
    return True


def _is_certain(one: KnownPart, new: _FittedNew) -> bool:
    """Whether the new piece can only be this part, if no other may be it."""
    if one.part == OTHER or not new.is_sure or (one.side is not None and new.side is None):
        return False
    if one.part == SEAL:
        return one.seal is not None and new.seal is not None
    return one.part != SHIM or one.size is not None


_NO_KIND: Final = "of unknown kind fitted since"
_NO_KIND_HERE: Final = "fitted since, and the kind in this box is not noted"
_FIRST_SHIMS: Final = "noted since in a diff of which none were noted before"
_NO_SIZE_HERE: Final = "fitted since, and the size in this box is not noted"
_NO_SIDE: Final = "fitted since without its side"
_WHICH: Final = "fitted since, which of them is not noted"


def _why_unclear(one: KnownPart, new: _FittedNew, those: Sequence[KnownPart]) -> str:
    if one.part == SEAL and new.seal is None:
        return _NO_KIND
    if one.part == SEAL and one.seal is None:
        return _NO_KIND_HERE
    if one.part == SHIM and not new.is_sure:
        return _FIRST_SHIMS
    if one.part == SHIM and one.size is None:
        return _NO_SIZE_HERE
    if new.side is None and any(other.side is not None for other in those):
        return _NO_SIDE
    if len(those) > 1:
        return f"fitted since: may be {' or '.join(other.label for other in those)}"
    return _WHICH


def _unclear_in_words(part: str, reasons: Counter[str]) -> Iterator[str]:
    noun = "new other part" if part == OTHER else part if part == SHIM else f"new {part}"
    yield from (f"{counted(pieces, noun)} {why}: not taken off" for why, pieces in sorted(reasons.items()))
