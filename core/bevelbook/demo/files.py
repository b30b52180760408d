"""The files of the demo: note files with their profiles, and one CSV for each table of records, read into rows."""

from __future__ import annotations

import csv
import io
import sqlite3
from collections import Counter
from functools import cache
from hashlib import sha256
from typing import Final, NamedTuple

from bevelbook.notes.profiles import profile_from
from bevelbook.notes.settings import Settings
from bevelbook.reading import Options, read
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.reference import BUNDLED
from bevelbook.store.ids import content_id, file_id, is_content_id
from bevelbook.store.lookup import find_id, label_of
from bevelbook.store.old_demo import note_files_of_old_demo
from bevelbook.store.schema import content_json

FOLDER: Final = "demo"
STOCK: Final = (
    *("people", "cars", "venues", "events", "event_cars", "scales", "seals", "fluids", "bottles", "diffs"),
    *("fluid_comparisons", "limits", "ideas", "stock_parts", "kit_parts", "stock_changes", "bottle_checks"),
    "job_times",
)
"""Tables that the notes refer to, in the order of their references."""
NOTES: Final[dict[str, str | None]] = {
    "notes_season_1.csv": None,
    "notes_season_2.csv": None,
    "notes_cy.csv": "profile_cy.yaml",
}
"""Note files with the profile that each is imported with."""
BENCH: Final = (
    *("builds", "blend_parts", "seal_fittings", "build_parts", "build_shims"),
    *("runs", "run_diffs", "weighings", "openings", "car_diffs", "car_values"),
    *("bench_jobs", "bench_steps"),
)
"""Tables that also refer to builds of the notes. Runs come before weighings, as the diffs were weighed in the evening:
of two records of one day the one that was written first was first."""
CALCULATORS: Final = "calculators.toml"
_NO_DAY: Final = "1970-01-01"
_POINT: Final = Options(decimal=".")


class CalculatorRun(NamedTuple):
    """A calculator with the record that it is run for."""

    calculator: str
    record: str


class DemoCalculators(NamedTuple):
    """The calculators of the demo.

    ``kept`` run over every record of a kind, or over what the whole team noted (kind None), and their results are
    kept; ``shown`` is worked out for the reader; ``to_try`` is the command named at the end.
    """

    kept: tuple[tuple[str, str | None], ...]
    shown: CalculatorRun
    to_try: CalculatorRun


class Row(NamedTuple):
    """A line of a record table: an id made from its content, and its texts."""

    id: str
    texts: dict[str, str]


@cache
def file_bytes(name: str) -> bytes:
    """A file of the demo."""
    from importlib.resources import files

    return files(BUNDLED).joinpath(FOLDER, *name.split("/")).read_bytes()


def calculators() -> DemoCalculators:
    """The calculators named in the demo's own file."""
    from tomllib import loads

    names = loads(file_bytes(CALCULATORS).decode())
    return DemoCalculators(
        tuple((one["calculator"], one.get("kind")) for one in names["kept"]),
        CalculatorRun(**names["shown"]),
        CalculatorRun(**names["to_try"]),
    )


@cache
def table_rows(table: str) -> tuple[Row, ...]:
    """The rows of a record table. The first line of its file says that it is invented."""
    kind = BY_TABLE[table]
    lines = file_bytes(f"records/{table}.csv").decode().partition("\n")[2]
    seen: Counter[str] = Counter()
    found = []
    for row in csv.DictReader(io.StringIO(lines)):
        texts = {column: text for column, text in row.items() if text}
        content = f"{kind.name}\0{content_json({**texts})}"
        day = texts.get(kind.day or "", _NO_DAY)
        found.append(Row(content_id(day, content, seen[content]), texts))
        seen[content] += 1
    return tuple(found)


def values_of(connection: sqlite3.Connection, kind: Kind, row: Row) -> dict[str, object]:
    """The values of a row; other records are named by their labels. Raises ReadingError, UnknownNameError."""
    values: dict[str, object] = {}
    for name, text in row.texts.items():
        field = kind.field(name)
        if field.kind == "reference" and field.target:
            values[name] = find_id(connection, BY_NAME[field.target], text)
        else:
            values[name] = read(field, text, _POINT)
    return values


def settings_for(name: str) -> Settings:
    """The settings in the profile of a note file."""
    profile = NOTES[name]
    return profile_from(file_bytes(profile).decode(), profile) if profile else Settings()


def note_file_id(name: str) -> str:
    """The id of a kept note file."""
    return file_id(sha256(file_bytes(name)).hexdigest())


class Stranger(NamedTuple):
    """A record that is not from the demo, by kind and label."""

    kind: Kind
    label: str


def holds_older_demo(connection: sqlite3.Connection) -> bool:
    """Whether notes of the demo of version 0.1.0 are in a database, of this or an older version."""
    return any(row[0] in note_files_of_old_demo() for row in connection.execute("SELECT id FROM note_files"))


def stranger(connection: sqlite3.Connection) -> Stranger | None:
    """A record that is neither from this demo nor from an older one in the database; None if there is none.

    An older demo has no list of its records: those from its notes are its own, and so are those with a content id and
    no note file that are as they came, in the first entry after the upgrade; the upgrade itself makes events. The
    database may be of an older version.
    """
    first = _first_entry(connection)
    older = holds_older_demo(connection)
    note_files = {note_file_id(name) for name in NOTES} | (note_files_of_old_demo() if older else set())
    ours = {table: {row.id for row in table_rows(table)} for table in (*STOCK, *BENCH)} | {"note_files": note_files}
    for kind in KINDS:
        columns = {row[1] for row in connection.execute(f"PRAGMA table_info({kind.table})")}
        if not columns or (not kind.own and kind.name not in ("note_file", "clash")):
            continue
        source = "note_file" if kind.own and "note_file" in columns else "NULL"
        version = "version" if "version" in columns else "NULL"
        for row_id, note_file, entry in connection.execute(f"SELECT id, {source}, {version} FROM {kind.table}"):
            came_first = older and kind.own and note_file is None and entry == first
            is_of_upgrade = older and kind.name == "event" and entry == row_id
            is_of_older = (came_first and is_content_id(row_id)) or is_of_upgrade
            if row_id not in ours.get(kind.table, ()) and note_file not in note_files and not is_of_older:
                return Stranger(kind, label_of(connection, kind, str(row_id)))
    return None


def _first_entry(connection: sqlite3.Connection) -> str | None:
    """The id of the first entry; None in a database of an older version, which has none."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE name = 'entries'").fetchone():
        return None
    row = connection.execute("SELECT id FROM entries ORDER BY made_at, rowid LIMIT 1").fetchone()
    return None if row is None else str(row[0])
