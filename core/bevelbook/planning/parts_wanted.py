"""The parts that the work on each diff takes, as far as the records show it, against what is left in stock.

A diff that is opened gets a new seal where the old one has had as many uses as the team allows, was found not sound, or
where a team without such a limit fitted a new one each time; a part that was found worn and not replaced since; and a
gasket where a new one went in each time. Nothing else is assumed. "Each time" are the last builds of the diff, of a
gasket also those of the team where the diff has too few: how many is this project's own figure (``BUILDS_LOOKED_AT``).
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import (
    CHANGE_THE_OIL,
    PART_SIDES,
    REBUILD_IT,
    SEAL_PLACES,
    SECOND_ONE,
    TOP_UP,
    is_sound,
)
from bevelbook.facts.builds import newest_first, oldest_first, place_sql
from bevelbook.facts.limits import TeamLimits
from bevelbook.facts.once import once
from bevelbook.facts.parts import PartCount, parts_in_use
from bevelbook.facts.seals_found import seals_found
from bevelbook.facts.stock import BOTH_SIDES, SEAL, SIDE_OF_SEAL, KnownPart, known_parts, parts_that_fit, stock_left
from bevelbook.reading.labels import folded_label
from bevelbook.reports.fitted import SealFitted, usual_seals

OPENING_ACTS: Final = frozenset({CHANGE_THE_OIL, REBUILD_IT, SECOND_ONE})
"""What opens a diff, and so may take parts."""
BUILDS_LOOKED_AT: Final = 3
"""The last builds that show whether a new one goes in each time (our own figure)."""
NOTE_SEALS: Final = "not known which: note the seals fitted"
_SEALS: Final = "new seals"
_WORN: Final = {
    "side_gears": "side gear",
    "small_gears": "small gear",
    "shafts": "outdrive",
    "cross_pin": "cross pin",
    "screws": "screw",
}
"""What an opening looks at, and the part that is fitted new for it. Bores are of the case, which nobody counts."""
_GASKET: Final = "gasket"
_SIDES_BY_LEAK: Final[Mapping[str | None, tuple[str | None, ...]]] = {
    "case-side shaft": (PART_SIDES[0],),
    "lid-side shaft": (PART_SIDES[1],),
    "both shafts": PART_SIDES,
}
"""The outdrives that an opening means by where it was wet."""


class PartWanted(NamedTuple):
    """Pieces of a part that the work on a diff takes, and why.

    ``stock_part`` is the id of that part in stock, None where none or several fit. ``have`` are those left for this
    diff after the diffs before it, None where they were never counted; ``short`` how many are missing. ``pieces`` is 0
    where it is not known how many.
    """

    what: str
    stock_part: str | None
    pieces: int
    why: str
    have: int | None
    short: int


class _Needed(NamedTuple):
    """One piece, or several of one side; ``side`` None where it is not known, empty where there is none."""

    part: str
    named: str
    why: str
    pieces: int = 1
    seal: str | None = None
    side: str | None = None


def parts_wanted(connection: sqlite3.Connection, acts: Mapping[str, str]) -> dict[str, tuple[PartWanted, ...]]:
    """The parts that each diff takes, by its id, from the act of each; the diffs in their order take what is there
    first. Diffs that take none are left out."""
    opened = [diff for diff, act in acts.items() if act in OPENING_ACTS]
    if not opened:
        return {}
    box = _Box(connection)
    records = _parts_noted(connection)
    found = {diff: tuple(box.take(records.needs(diff))) for diff in opened}
    return {diff: parts for diff, parts in found.items() if parts}


class _Box:
    """What is left in stock; each diff takes from it."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._parts = known_parts(connection)
        self._left = {one.stock_part: max(one.pieces, 0) for one in stock_left(connection)}

    def take(self, needs: Iterable[_Needed]) -> Iterator[PartWanted]:
        """What is needed, equal parts together."""
        together: dict[tuple[str | None, str], list[_Needed]] = {}
        which: dict[tuple[str | None, str], KnownPart | None] = {}
        for one in needs:
            those, is_certain = parts_that_fit(self._parts, one.part, seal=one.seal, side=one.side)
            part = those[0] if is_certain and one.pieces else None
            if part is None and len(those) > 1 and one.pieces:
                one = one._replace(why=f"{one.why}; {' or '.join(other.label for other in those)}, not noted which")
            key = (part.row_id if part else None, part.label if part else one.named)
            together.setdefault(key, []).append(one)
            which[key] = part
        for (row_id, what), those_needed in together.items():
            pieces, why = sum(one.pieces for one in those_needed), _reasons(those_needed)
            have = self._left.get(row_id) if row_id is not None else None
            if have is not None and row_id is not None:
                self._left[row_id] = max(have - pieces, 0)
            yield PartWanted(what, row_id, pieces, why, have, 0 if have is None else max(pieces - have, 0))


class _PartsNoted:
    """What the records show of the parts of diffs."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._needs: dict[str, tuple[_Needed, ...]] = {}
        self._limits = TeamLimits(connection)
        self._builds = dict(connection.execute("SELECT diff, current_build FROM diff_facts").fetchall())
        self._in_use = parts_in_use(connection)
        asked = "SELECT EXISTS (SELECT 1 FROM seal_fittings) OR EXISTS (SELECT 1 FROM stock_parts WHERE part = 'seal')"
        self._are_seals_noted = bool(connection.execute(asked).fetchone()[0])
        self._worn_found = _worn_found(connection)
        self._kinds_noted = _kinds_noted(connection)

    def needs(self, diff: str) -> tuple[_Needed, ...]:
        """What a diff takes when it is opened."""
        if diff not in self._needs:
            self._needs[diff] = tuple(self._found(diff))
        return self._needs[diff]

    def _found(self, diff: str) -> Iterator[_Needed]:
        build = self._builds.get(diff)
        parts = self._in_use.get(build, []) if build is not None else []
        yield from self._seals(diff, build, [one for one in parts if one.part == SEAL])
        yield from self._worn(diff)
        yield from self._gasket(diff)

    def _seals(self, diff: str, build: str | None, in_use: Sequence[PartCount]) -> Iterator[_Needed]:
        limit = self._limits.of(diff).seal_uses
        kinds = self._kinds(diff)
        uses = {one.place: one for one in in_use}
        for place in SEAL_PLACES if build is not None else ():
            if place not in uses:
                continue
            why = self._why_new(diff, build or "", place, uses[place], limit)
            if why:
                kind = kinds[place].label
                named = f"{kind}, {place}" if kind else f"seal, {place}"
                why = f"{place} {why}" if kind else f"{place} {why}; its kind is not noted"
                seal = folded_label(kind) if kind else None
                yield _Needed(SEAL, named, why, seal=seal, side=SIDE_OF_SEAL[place])
        if not uses and build is not None:
            found = seals_found(self._connection, build, "")
            if found is not None and not is_sound(found.state):
                yield _Needed(SEAL, _SEALS, f"found {found.state} ({found.words}), {NOTE_SEALS}", pieces=0)
            elif limit is not None or self._are_seals_noted:
                yield _Needed(SEAL, _SEALS, NOTE_SEALS, pieces=0)

    def _why_new(self, diff: str, build: str, place: str, used: PartCount, limit: float | None) -> str:
        if limit is not None and used.uses >= limit:
            return f"used {counted(used.uses, 'time')}, your limit is {limit:g}"
        found = seals_found(self._connection, build, place)
        if found is not None and not is_sound(found.state):
            return f"found {found.state} ({found.words})"
        row = self._connection.execute(
            "SELECT state, condition FROM seal_fittings WHERE build = ? AND place = ? "
            "ORDER BY created_at DESC, id DESC LIMIT 1",
            (build, place),
        ).fetchone()
        if row is not None and row[1] != "new" and not is_sound(row[0]):
            return f"went in again {row[0]}"
        if limit is not None:
            return ""
        times = self._new_each_time(
            "SELECT EXISTS (SELECT 1 FROM seal_fittings n WHERE n.build = ?1 AND n.place = ?2 AND n.condition = 'new')",
            place,
            diff,
        )
        return f"new in each of the last {times} builds" if times else ""

    def _kinds(self, diff: str) -> dict[str, SealFitted]:
        """The kind of seal in each place: the last that was noted in the diff, else what usually sits there."""
        return usual_seals(self._connection, diff) | self._kinds_noted.get(diff, {})

    def _new_each_time(self, asked: str, of: str, diff: str | None) -> int:
        """In how many of the last builds, top-ups aside, a new one went in, where it did in each; else 0."""
        whose = "WHERE b.diff = ?2 AND" if diff is not None else "WHERE ?2 IS NULL AND"
        builds = [
            row[0]
            for row in self._connection.execute(
                f"SELECT b.id FROM builds b {whose} b.kind IS NOT ?1 ORDER BY {newest_first('b')} LIMIT ?3",
                (TOP_UP, diff, BUILDS_LOOKED_AT),
            )
        ]
        if len(builds) < BUILDS_LOOKED_AT:
            return 0
        is_new = [self._connection.execute(asked, (build, of)).fetchone()[0] for build in builds]
        return len(builds) if all(is_new) else 0

    def _worn(self, diff: str) -> Iterator[_Needed]:
        for column, part in _WORN.items():
            row = self._worn_found.get((diff, column))
            if row is None or is_sound(row[0]):
                continue
            state, leak, label, day, build = row
            sides = _SIDES_BY_LEAK.get(leak, (None,)) if part == "outdrive" else (None,)
            for side in sides:
                if self._is_replaced(diff, build, part, side):
                    continue
                pieces, of_last = (1, "") if side is not None else self._pieces_of_last(part, diff)
                named = f"{part}, {side}" if side else part
                why = f"{column.replace('_', ' ')} found {state} (opening of {label} on {day}), not replaced since"
                yield _Needed(part, named, f"{why}{of_last}", pieces, side=side)

    def _is_replaced(self, diff: str, build: str, part: str, side: str | None) -> bool:
        """Whether a build after the one that was opened fitted a new one, or turned it over (on that side, where one is
        meant)."""
        row = self._connection.execute(
            "SELECT EXISTS (SELECT 1 FROM builds opened JOIN builds b ON b.diff = opened.diff "
            f"AND {place_sql('b')} > {place_sql('opened')} JOIN build_parts p ON p.build = b.id "
            "WHERE opened.id = ?1 AND p.part = ?2 AND p.condition IN ('new', 'turned over') "
            f"AND (?3 IS NULL OR coalesce(p.place, ?3) IN (?3, '{BOTH_SIDES}')))",
            (build, part, side),
        ).fetchone()
        return bool(row[0])

    def _pieces_of_last(self, part: str, diff: str) -> tuple[int, str]:
        """How many new ones of a part went in the last time, in this diff if ever, else in any; one where none did."""
        row = self._connection.execute(
            f"SELECT sum(iif(p.place = '{BOTH_SIDES}', 2, 1)), b.label FROM builds b CROSS JOIN build_parts p "
            "ON p.build = b.id WHERE p.part = ?1 AND p.condition = 'new' GROUP BY b.id "
            f"ORDER BY b.diff = ?2 DESC, {newest_first('b')} LIMIT 1",
            (part, diff),
        ).fetchone()
        return (1, "; at least one") if row is None else (int(row[0]), f"; as many as went into {row[1]}")

    def _gasket(self, diff: str) -> Iterator[_Needed]:
        asked = "SELECT EXISTS (SELECT 1 FROM build_parts p WHERE p.build = ?1 AND p.part = ?2 AND p.condition = 'new')"
        of_diff = self._connection.execute(
            "SELECT count(*) FROM (SELECT 1 FROM builds WHERE diff = ? AND kind IS NOT ? LIMIT ?)",
            (diff, TOP_UP, BUILDS_LOOKED_AT),
        ).fetchone()[0]
        times = self._new_each_time(asked, _GASKET, diff if of_diff >= BUILDS_LOOKED_AT else None)
        if times:
            pieces, _ = self._pieces_of_last(_GASKET, diff)
            whose = "" if of_diff >= BUILDS_LOOKED_AT else " of the team"
            yield _Needed(_GASKET, _GASKET, f"new in each of the last {times} builds{whose}", pieces)


@once
def _parts_noted(connection: sqlite3.Connection) -> _PartsNoted:
    return _PartsNoted(connection)


def _worn_found(connection: sqlite3.Connection) -> dict[tuple[str, str], tuple[str, str | None, str, str, str]]:
    """How the last opening that noted it found each part in ``_WORN``, by the diff's id and the part's column: the
    state, where it leaked, and the build's label, the day and the build's id."""
    found: dict[tuple[str, str], tuple[str, str | None, str, str, str]] = {}
    columns = ", ".join(f"o.{column}" for column in _WORN)
    noted = " OR ".join(f"x.{column} IS NOT NULL" for column in _WORN)
    for diff, leak, label, day, build, *states in connection.execute(
        f"SELECT b.diff, o.leak_place, b.label, o.opened_on, b.id, {columns} "
        f"FROM (SELECT * FROM openings x WHERE {noted}) o CROSS JOIN builds b ON b.id = o.build "
        f"ORDER BY {newest_first('b')}, o.opened_on DESC, o.id DESC"
    ):
        for column, state in zip(_WORN, states, strict=True):
            if state is not None:
                found.setdefault((diff, column), (state, leak, label, day, build))
    return found


def _kinds_noted(connection: sqlite3.Connection) -> dict[str, dict[str, SealFitted]]:
    """The kind of seal that was noted last in each place of each diff, by its id."""
    found: dict[str, dict[str, SealFitted]] = {}
    for diff, place, seal, label in connection.execute(
        "SELECT b.diff, n.place, n.seal, s.label FROM seal_fittings n CROSS JOIN builds b ON b.id = n.build "
        f"JOIN seals s ON s.id = n.seal ORDER BY {oldest_first('b')}, n.created_at, n.id"
    ):
        found.setdefault(diff, {})[place] = SealFitted(place, None, seal, label)
    return found


def _reasons(needed: Sequence[_Needed]) -> str:
    return "; ".join(dict.fromkeys(one.why for one in needed))
