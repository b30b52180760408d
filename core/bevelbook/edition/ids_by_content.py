"""Ids made from what an edition itself says: an id that came with a record tells when it was written, or is a hash
that whoever guesses the rest of a line of notes can try names against.

Two records that say the same and go with the same others differ in nothing but a number. Ids keep the order of days,
and within a day the order in which records were written.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Mapping, Sequence
from hashlib import blake2b
from typing import Final, NamedTuple

from bevelbook.edition.edition_rows import NAMES_A_RECORD, Row, change_rows, references_of, rows_of
from bevelbook.edition.how_it_came import NO_DAY, day_of_sql
from bevelbook.edition.neutral_names import without_numbers
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.store.ids import day_ms, id_of_hash
from bevelbook.store.schema import columns_of, content_json

_SIZE: Final = 16
_ROUNDS: Final = 30
_ASIDE: Final = "new "
_NOT_SAID: Final = frozenset({"id", "version", "parents", "note_file", "note_line", "entered"})
_DAY_MS: Final = 86_400_000


class _Place(NamedTuple):
    """What puts a record in its place among those of its kind."""

    day: str
    created_at: str
    sheet: int
    line: int


def new_ids(
    aside: sqlite3.Connection, kinds: Sequence[Kind], sheets: Mapping[str, int], *, keep_order: bool
) -> dict[str, str]:
    """A new id for the id of every record; ``sheets`` are the files of notes in order. With ``keep_order`` those of one
    day and time stay in the order of their ids."""
    seen = _Looked(aside, kinds)
    signs = seen.signs_after_rounds()
    found: dict[str, str] = {}
    for kind in kinds:
        places = _places(aside, kind, sheets)
        ordered = sorted(places, key=lambda one: (places[one], b"" if keep_order else signs[kind.table, one], one))
        in_day: dict[str, int] = defaultdict(int)
        alike: dict[bytes, int] = defaultdict(int)
        for row_id in ordered:
            day, sign = places[row_id].day, signs[kind.table, row_id]
            number = min(in_day[day], _DAY_MS - 1)
            found[row_id] = id_of_hash(day_ms(day) + number, f"{kind.name}\0{sign.hex()}\0{alike[sign]}")
            in_day[day] += 1
            alike[sign] += 1
    return found


def put_in(aside: sqlite3.Connection, kinds: Sequence[Kind], ids: Mapping[str, str]) -> None:
    """Put the new ids in the place of the old ones, wherever they stand."""
    for kind in kinds:
        columns = (*references_of(kind), *NAMES_A_RECORD.get(kind.name, ()))

        def change(row: Row, columns: tuple[str, ...] = columns) -> None:
            row["id"] = _ASIDE + ids[row["id"]]
            for column in columns:
                row[column] = ids.get(row[column], row[column])

        change_rows(aside, kind, change)
        aside.execute(f"UPDATE {kind.table} SET id = substr(id, {len(_ASIDE) + 1})")
    held = aside.execute("SELECT kind, id, stands FROM one_with ORDER BY kind, id").fetchall()
    known = [(kind, ids[one], ids[stands]) for kind, one, stands in held if one in ids and stands in ids]
    aside.execute("DELETE FROM one_with")
    aside.executemany("INSERT INTO one_with (kind, id, stands) VALUES (?, ?, ?)", known)


def _places(aside: sqlite3.Connection, kind: Kind, sheets: Mapping[str, int]) -> dict[str, _Place]:
    written = "t.created_at, t.note_file, coalesce(t.note_line, -1)" if kind.own else "'', NULL, -1"
    asked = f"SELECT t.id, coalesce({day_of_sql(kind)}, '{NO_DAY}'), {written} FROM {kind.table} t ORDER BY t.id"
    return {row[0]: _Place(row[1], row[2], sheets.get(row[3], -1), row[4]) for row in aside.execute(asked)}


class _Looked:
    """What each record says, and which records it goes with."""

    def __init__(self, aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
        self.signs: dict[tuple[str, str], bytes] = {}
        self.goes_with: dict[tuple[str, str], list[tuple[str, tuple[str, str]]]] = defaultdict(list)
        pointed: list[tuple[tuple[str, str], str, tuple[str, str]]] = []
        for kind in kinds:
            references = references_of(kind)
            further = NAMES_A_RECORD.get(kind.name, ())
            aside_columns = _NOT_SAID | set(references) | set(further)
            said = [name for name in columns_of(kind) if name not in aside_columns]
            for _, row in rows_of(aside, kind):
                me = (kind.table, row["id"])
                content = {name: _unnamed(row[name]) for name in said if row[name] is not None}
                self.signs[me] = _hashed(kind.name, content_json(content))
                pointed += [(me, name, (table, row[name])) for name, table in references.items() if row[name]]
                pointed += [(me, name, (_table_named(kind, row), row[name])) for name in further if row[name]]
        for me, name, other in pointed:
            if other in self.signs:
                self.goes_with[me].append((name, other))
                self.goes_with[other].append((f"{me[0]}.{name}", me))

    def signs_after_rounds(self) -> dict[tuple[str, str], bytes]:
        """A hash of each record that says what it says, what those say that it goes with, and so on, until no further
        round tells more of them apart."""
        signs, many = self.signs, len(set(self.signs.values()))
        for _ in range(_ROUNDS):
            signs = {
                me: _hashed(
                    sign.hex(), *sorted(f"{name}\0{signs[other].hex()}" for name, other in self.goes_with.get(me, ()))
                )
                for me, sign in signs.items()
            }
            now = len(set(signs.values()))
            if now == many:
                break
            many = now
        return signs


def _table_named(kind: Kind, row: Row) -> str:
    if kind.name == "join":
        return BY_NAME[row["kind"]].table
    table = row["subject_table"]
    return table if table in BY_TABLE else ""


def _unnamed(value: object) -> object:
    return without_numbers(value) if isinstance(value, str) else value


def _hashed(*parts: str) -> bytes:
    return blake2b("\0\0".join(parts).encode(errors="surrogatepass"), digest_size=_SIZE).digest()
