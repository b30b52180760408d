"""Whether what the tool notes of who wrote what and when agrees: each version with its entry, each time with the entry
that it is of, the rows that a file of notes left out with its counts, and what the table ``about`` says.

Nothing is proved by one text alone: a rule binds what two rows say of one act.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.facts.renew import FACTS_VERSION
from bevelbook.kept_json import object_in
from bevelbook.records import KINDS, Kind
from bevelbook.store.about_table import ACCEPTED, CHANGED_ELSEWHERE, FACTS, MET, facts_version
from bevelbook.store.book_mark import MARK, is_mark
from bevelbook.store.edition_mark import EDITION, END_OF_DAY, file_came_with_edition_sql, is_version_of_edition_sql
from bevelbook.store.entry_contents import OF_UPGRADE
from bevelbook.store.files_elsewhere import ELSEWHERE
from bevelbook.store.ids import id_ms, is_content_id_sql
from bevelbook.store.invented_mark import INVENTED
from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.numbered_days_mark import NUMBERED
from bevelbook.store.same_things import join_id
from bevelbook.store.schema import FROM_NOTES, literal
from bevelbook.store.unsaid import UNSAID
from bevelbook.store.wiping import TO_WIPE

LONGEST_DAYS: Final = 1.0
"""So far apart the times of one entry may be; our own figure. A large file takes minutes, and a clock may be put right
meanwhile."""
_NEVER: Final = "9999"
_DAY: Final = late_pattern(r"\d{4}-\d\d-\d\d")
_NUMBER: Final = late_pattern(r"\d{1,18}")
_HASHES: Final = late_pattern(r"\[(?:\"[0-9a-f]{64}\"(?:, )?)+\]")
_ABOUT: Final[Mapping[str, Callable[[str], object]]] = {
    FACTS: lambda text: text in (FACTS_VERSION, CHANGED_ELSEWHERE),
    ACCEPTED: lambda text: _NUMBER.fullmatch(text),
    MET: lambda text: text == "yes",
    INVENTED: lambda text: text == "yes",
    TO_WIPE: lambda text: text == "yes",
    EDITION: bool,
    MARK: is_mark,
    NUMBERED: lambda text: _DAY.fullmatch(text),
    UNSAID: bool,
    ELSEWHERE: lambda text: _HASHES.fullmatch(text),
}
"""The rows of ``about``, and whether the value of each may be one."""


def not_as_entries_say(connection: sqlite3.Connection) -> Iterator[str]:
    """Each way in which what was written does not agree with its entry, in words. The connection may be read-only."""
    for kind in KINDS:
        if kind.own:
            yield from _of_kind(connection, kind)
    yield from _from_notes(connection)
    yield from _kept_by_entries(connection)
    yield from _replaced_when(connection)
    yield from _replaced_in(connection)
    yield from _made_when(connection)
    yield from _took_back(connection)


def _of_kind(connection: sqlite3.Connection, kind: Kind) -> Iterator[str]:
    words = kind.table.replace("_", " ")
    past = (
        "SELECT h.version, json_extract(h.content, '$.updated_by') AS by, "
        "json_extract(h.content, '$.updated_at') AS at "
        f"FROM main.history h WHERE h.table_name = {literal(kind.table)} AND json_valid(h.content)"
    )
    shown = f"SELECT t.version, t.updated_by AS by, t.updated_at AS at FROM main.{kind.table} t"
    for of, rows in ((f"the {words}", shown), (f"the past versions of {words}", past)):
        others, apart = connection.execute(
            f"SELECT coalesce(sum(r.by IS NOT e.made_by AND e.asked <> {literal(OF_UPGRADE)}), 0), "
            f"coalesce(sum({_apart('r.at', 'e.made_at')}), 0) "
            f"FROM ({rows}) r CROSS JOIN main.entries e ON e.id = r.version "
            "WHERE e.took_back IS NULL"  # which gives a record back as it was, with who wrote that and when
        ).fetchone()
        if others:
            yield f"{others:,} of {of} name another author than the entry that wrote them"
        if apart:
            yield f"{apart:,} of {of} were written on another day than their entry, as they say"
    (apart,) = connection.execute(
        f"SELECT count(*) FROM main.{kind.table} t WHERE t.parents IS NULL "
        f"AND {_apart('t.created_at', 't.updated_at')} AND (t.version = t.id OR EXISTS "
        "(SELECT 1 FROM main.entries e WHERE e.id = t.version AND e.asked <> ?))",
        (OF_UPGRADE,),
    ).fetchone()
    if apart:
        yield f"{apart:,} of the {words} were never changed, and were made on another day than they were written"
    made_then = "json_extract(h.content, '$.created_at')"
    of_edition = [is_version_of_edition_sql(f"{one}.version", f"{one}.parents", "t.id") for one in "th"]
    (apart,) = connection.execute(
        f"SELECT count(*) FROM main.{kind.table} t WHERE EXISTS (SELECT 1 FROM main.history h WHERE h.table_name = "
        f"{literal(kind.table)} AND h.row_id = t.id AND json_valid(h.content) "
        f"AND {_apart(made_then, 't.created_at')} AND NOT {of_edition[0]} AND NOT {of_edition[1]}) "
        f"AND NOT EXISTS (SELECT 1 FROM main.history g WHERE g.table_name = {literal(kind.table)} "
        "AND g.row_id = t.id AND g.content IS NULL)"
    ).fetchone()
    if apart:
        yield f"{apart:,} of the {words} were made on another day than their past says"
    for row_id, ms in connection.execute(
        f"SELECT id, (julianday(created_at) - 2440587.5) * 86400000 FROM main.{kind.table} "
        "WHERE substr(id, 15, 1) = '7' AND version IN (SELECT e.id FROM main.entries e) AND NOT EXISTS "
        f"(SELECT 1 FROM main.history h WHERE h.table_name = {literal(kind.table)} "
        f"AND h.row_id = {kind.table}.id AND h.content IS NULL) ORDER BY id"
    ):
        by_id = id_ms(row_id)
        if by_id is not None and (ms is None or by_id - ms > LONGEST_DAYS * 86_400_000):  # noted before it came here
            yield f"of {words} {row_id} the day on which it was made is before the one that its id holds"
    for row_id, entered in connection.execute(
        f"SELECT id, entered FROM main.{kind.table} WHERE entered IS NOT NULL ORDER BY id"
    ):
        typed = object_in(entered)
        if typed is None or not all(isinstance(one, str) for one in typed.values()):
            yield f"of {words} {row_id} it cannot be read what was typed"


def _apart(one: str, other: str) -> str:
    """SQL for whether two times are too far apart, or one of them is none."""
    return f"coalesce(abs(julianday({one}) - julianday({other})) > {LONGEST_DAYS}, 1)"


def _from_notes(connection: sqlite3.Connection) -> Iterator[str]:
    """Records and files that came from notes: they have the moment of their entry, which no other has, and its author.

    A later version of such a record has an author who made an entry on that day. What was there before there were
    entries is left out.
    """
    before, first = _before_entries(connection), _first_entry(connection)
    for kind in KINDS:
        if kind.name not in FROM_NOTES:
            continue
        words = kind.table.replace("_", " ")
        others, apart = connection.execute(
            "SELECT coalesce(sum(t.updated_at IS NOT t.created_at OR NOT EXISTS "
            "(SELECT 1 FROM main.entries e WHERE e.made_at = t.created_at)), 0), "
            "coalesce(sum(EXISTS (SELECT 1 FROM main.entries e WHERE e.made_at = t.created_at) AND NOT EXISTS "
            "(SELECT 1 FROM main.entries e WHERE e.made_at = t.created_at AND e.made_by IS t.updated_by)), 0) "
            f"FROM main.{kind.table} t WHERE t.note_file IS NOT NULL AND t.version = t.id AND t.created_at > ?",
            (before,),
        ).fetchone()
        if others:
            yield f"{others:,} of the {words} from notes have another moment than every entry"
        if apart:
            yield f"{apart:,} of the {words} from notes name another author than the entry that brought them in"
        (others,) = connection.execute(
            f"SELECT count(*) FROM main.{kind.table} t WHERE t.note_file IS NOT NULL AND t.version <> t.id "
            f"AND {is_content_id_sql('t.version')} AND t.updated_at >= ? "
            f"AND NOT {is_version_of_edition_sql('t.version', 't.parents', 't.id')} "
            "AND NOT EXISTS (SELECT 1 FROM main.entries e "
            f"WHERE e.made_by IS t.updated_by AND NOT {_apart('e.made_at', 't.updated_at')})",
            (max(before, first),),
        ).fetchone()
        if others:
            yield f"{others:,} of the {words} that notes changed name an author who made no entry on that day"
    for name, said in connection.execute(
        "SELECT f.name, CASE WHEN f.entry IS NULL THEN iif(?1 = '' AND f.read_at >= ?2, 'no entry', NULL) "
        "WHEN NOT EXISTS (SELECT 1 FROM main.entries e WHERE e.made_at = f.read_at) THEN 'the moment of no entry' "
        "WHEN EXISTS (SELECT 1 FROM main.entries e WHERE e.id = f.entry AND e.made_at > f.read_at) "
        "THEN 'an entry that came after it was read' END AS said "
        f"FROM main.note_files f WHERE f.read_at > ?1 AND said IS NOT NULL AND NOT {file_came_with_edition_sql('f')} "
        "ORDER BY f.id",
        (before, first),
    ).fetchall():
        yield f"the file of notes {name} names {said}"


def _before_entries(connection: sqlite3.Connection) -> str:
    """The last moment of what was there before there were entries; empty where nothing was."""
    found = connection.execute("SELECT max(made_at) FROM main.entries WHERE asked = ?", (OF_UPGRADE,)).fetchone()
    return str(found[0] or "")


def _first_entry(connection: sqlite3.Connection) -> str:
    """The moment of the first entry: what is older came with an edition, which has no entries; greater than any where
    there is none."""
    found = connection.execute("SELECT min(made_at) FROM main.entries").fetchone()
    return str(found[0] or _NEVER)


def _kept_by_entries(connection: sqlite3.Connection) -> Iterator[str]:
    """Kept results: they were kept by the author of their entry, and on its day."""
    without, others, apart = connection.execute(
        "SELECT coalesce(sum(c.entry IS NULL AND ?1 = '' AND c.calculated_at >= ?2 "
        f"AND c.calculated_at NOT LIKE '%{END_OF_DAY}'), 0), "  # those of an edition
        "coalesce(sum(c.calculated_by IS NOT e.made_by AND e.id IS NOT NULL), 0), "
        f"coalesce(sum({_apart('c.calculated_at', 'e.made_at')} AND e.id IS NOT NULL), 0) "
        "FROM main.calculations c LEFT JOIN main.entries e ON e.id = c.entry",
        (_before_entries(connection), _first_entry(connection)),
    ).fetchone()
    if without:
        yield f"{without:,} kept results name no entry"
    if others:
        yield f"{others:,} kept results name another author than the entry that kept them"
    if apart:
        yield f"{apart:,} kept results were kept on another day than their entry, as they say"


def _replaced_when(connection: sqlite3.Connection) -> Iterator[str]:
    (count,) = connection.execute(
        "SELECT count(*) FROM main.history h CROSS JOIN main.entries e ON e.id = h.replaced_in "
        f"WHERE h.replaced_at IS NOT NULL AND {_apart('h.replaced_at', 'e.made_at')}"
    ).fetchone()
    if count:
        yield f"{count:,} past versions were replaced on another day than the entry that replaced them was made"


def _replaced_in(connection: sqlite3.Connection) -> Iterator[str]:
    """Past versions that say where they were replaced, and not when; and those that another entry replaced than the one
    that wrote what follows them."""
    (count,) = connection.execute(
        "SELECT count(*) FROM main.history WHERE content IS NOT NULL AND replaced_in IS NOT NULL "
        "AND replaced_at IS NULL"
    ).fetchone()
    if count:
        yield f"{count:,} past versions say which entry replaced them, and not when"
    (count,) = connection.execute(
        "SELECT count(*) FROM main.history "
        "WHERE content IS NULL AND (replaced_in IS NOT NULL OR replaced_at IS NOT NULL)"
    ).fetchone()
    if count:
        yield f"{count:,} past versions were replaced, and what they were is gone"
    (count,) = connection.execute(
        "SELECT count(*) FROM (SELECT 1 FROM main.history WHERE content IS NOT NULL AND version <> ? "
        "GROUP BY table_name, row_id, version HAVING count(*) > 1)",
        (NOT_VERSIONED,),
    ).fetchone()
    if count:
        yield f"{count:,} past versions are kept twice"


def _made_when(connection: sqlite3.Connection) -> Iterator[str]:
    for row_id, ms in connection.execute(
        "SELECT id, (julianday(made_at) - 2440587.5) * 86400000 FROM main.entries ORDER BY id"
    ):
        by_id = id_ms(row_id)
        if by_id is not None and (ms is None or abs(ms - by_id) > LONGEST_DAYS * 86_400_000):
            yield f"the entry {row_id} was made on another day than it says: its id holds the moment"


def _took_back(connection: sqlite3.Connection) -> Iterator[str]:
    for (row_id,) in connection.execute(
        "SELECT t.id FROM main.entries t WHERE t.took_back IS NOT NULL AND NOT EXISTS "
        "(SELECT 1 FROM main.entries e WHERE e.id = t.took_back AND e.id <> t.id) ORDER BY t.id"
    ):
        yield f"the entry {row_id} says that it took back an entry that is not there"


def rows_left_out_gone(connection: sqlite3.Connection) -> Iterator[str]:
    """Each file of notes of which fewer rows are kept as left out than it left out, unless an edition brought it."""
    came = file_came_with_edition_sql("f")
    for name, said, held in connection.execute(
        "SELECT f.name, f.rejected + f.skipped AS said, (SELECT count(*) FROM main.note_rejects r "
        f"WHERE r.note_file = f.id) AS held FROM main.note_files f WHERE held < said AND NOT {came} ORDER BY f.id"
    ):
        yield f"the file of notes {name} left out {said:,} rows, and {held:,} of them are kept"


def odd_about(connection: sqlite3.Connection) -> Iterator[str]:
    """Each row of the table ``about`` that this version would not have written, and that the version of the facts is
    missing."""
    if facts_version(connection) is None:
        yield "the table about does not say by which version the facts were worked out"
    for name, value in connection.execute("SELECT name, value FROM main.about ORDER BY name"):
        may_be = _ABOUT.get(name)
        if may_be is None:
            yield f"the table about has a row {name}, which this version does not know"
        elif not may_be(value):
            yield f"the table about says something of {name} that this version would not write"


def left_in_passing(connection: sqlite3.Connection) -> Iterator[str]:
    """What was left in the table that holds a record only while another program replaces it."""
    (count,) = connection.execute("SELECT count(*) FROM main.replacing").fetchone()
    if count:
        yield f"{count:,} rows are left in the table replacing, where none stays"


def names_of_nothing(connection: sqlite3.Connection) -> Iterator[str]:
    """Other names of records that neither are there nor ever were."""
    tables = {kind.table for kind in KINDS if kind.own and kind.label}
    for table, count in connection.execute(
        "SELECT table_name, count(*) FROM main.also_called GROUP BY table_name ORDER BY table_name"
    ).fetchall():
        if table in tables:
            (count,) = connection.execute(
                f"SELECT count(*) FROM main.also_called a WHERE a.table_name = {literal(table)} AND NOT EXISTS "
                f"(SELECT 1 FROM main.{table} t WHERE t.id = a.row_id) AND NOT EXISTS (SELECT 1 FROM main.history h "
                "WHERE h.table_name = a.table_name AND h.row_id = a.row_id)"
            ).fetchone()
        if count:
            yield f"{count:,} other names are of {table.replace('_', ' ')} that neither are there nor ever were"


def written_of_nothing(connection: sqlite3.Connection) -> Iterator[str]:
    """Rows of ``as_written`` of a column that always shows what was written, and joins that are kept under another id
    than that of the two records that they name."""
    known = json.dumps([[kind.table, column] for kind in KINDS for column in kind.shown_otherwise])
    (count,) = connection.execute(
        "SELECT count(*) FROM main.as_written a WHERE NOT EXISTS (SELECT 1 FROM json_each(?) k "
        "WHERE json_extract(k.value, '$[0]') = a.table_name AND json_extract(k.value, '$[1]') = a.column_name)",
        (known,),
    ).fetchone()
    if count:
        yield f"{count:,} rows of the table as_written are of columns that always show what was written"
    for row_id, kind, one, other in connection.execute("SELECT id, kind, one, other FROM main.joins ORDER BY id"):
        if row_id != join_id(kind, one, other):
            yield f"the join {row_id} is kept under another id than that of the two records that it names"
