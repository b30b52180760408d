"""What the triggers of all tables share: views to which a trigger says what happens to a row of its table.

SQLite reads every trigger whenever a database is opened, so those of each table are short. Such a trigger updates a
view such as ``keeping_a_b`` in the column named like its table, with the place (rowid) of a row that still
stands there. The one trigger of that column hands the row to the view ``keeping_row``, with its content as JSON, and
the triggers below do the rest. For a new version of the row by another program, they leave one row in ``keeping_row``:
it is set in the table, and then that row is deleted. No view holds anything else.

SQLite runs no trigger for a row that another program replaces (REPLACE, INSERT OR REPLACE, UPDATE OR REPLACE) unless
recursive triggers are on, as on the tool's own connections. So a row that another program may replace or change is
first laid aside in the table ``replacing``, and after the write put into the history. If nothing was written after all
(INSERT OR IGNORE), the copy is not needed: the next write to the row or the next entry deletes it. A replaced record is
a record removed and added, whether or not recursive triggers are on.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from bevelbook.records import Kind
from bevelbook.store.about_table import CHANGED_ELSEWHERE, FACTS
from bevelbook.store.schema import ANOTHER_PROGRAM, literal

MEETING: Final = 2
"""What ``placing`` is while records of another database come in: they bring their own history."""
ADDED: Final = "added"
CHANGED: Final = "changed"
REMOVED: Final = "removed"
ROW: Final = "keeping_row"
_VIEWS: Final = {"keeping_a_b": "b", "keeping_c_e": "e", "keeping_f_n": "n", "keeping_o_r": "r", "keeping_s_z": "z"}
"""Views for the tables by their first letters, with the last one each. SQLite takes longer for a write to a view of all
tables than to one of a few."""
HIDDEN: Final = (*_VIEWS, ROW)
_ENTRY: Final = "(SELECT entry FROM writing)"
_NOW: Final = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')"
_OTHER: Final = f"'{ANOTHER_PROGRAM} ' || lower(hex(randomblob(8)))"
_PAST: Final = "INSERT INTO history (table_name, row_id, version, parents, content, replaced_in, replaced_at)"
_OF_IT: Final = "table_name = NEW.table_name AND row_id = NEW.row_id"


def keeping_view(table: str) -> str:
    """The view through which the triggers of a table say what happens to a row of it."""
    return next(view for view, last in _VIEWS.items() if table[0] <= last)


def is_keeping_view(name: str) -> bool:
    """Whether a view is one of those that hold nothing."""
    return name == ROW or name in _VIEWS


def keeping_sql(kinds: Sequence[Kind], without_facts: Sequence[str]) -> Iterator[str]:
    """The views and the triggers of ``keeping_row``; no facts follow from the tables ``without_facts``."""
    for view in _VIEWS:
        columns = "".join(f"NULL AS {kind.table}, " for kind in kinds if keeping_view(kind.table) == view)
        yield (
            f"CREATE VIEW {view} AS SELECT {columns}NULL AS place, NULL AS id, NULL AS was, NULL AS step, "
            "entry, placing FROM (SELECT 1) LEFT JOIN writing"
        )
    yield f"CREATE VIEW {ROW} AS SELECT NULL AS step, NULL AS was, * FROM replacing WHERE table_name = ''"
    yield _trigger("in_entry", f"{_ENTRY} IS NOT NULL", _in_entry())
    yield _trigger("elsewhere", f"{_ENTRY} IS NULL", _elsewhere(without_facts))
    yield (
        f"CREATE TRIGGER {ROW}_done INSTEAD OF DELETE ON {ROW} BEGIN "
        "DELETE FROM replacing WHERE table_name = ''; UPDATE writing SET placing = NULL; END"
    )


def _trigger(name: str, when: str, statements: Iterator[str]) -> str:
    body = " ".join(f"{statement};" for statement in statements)
    return f"CREATE TRIGGER {ROW}_{name} INSTEAD OF INSERT ON {ROW} WHEN {when} BEGIN {body} END"


def _in_entry() -> Iterator[str]:
    """The version that the row had goes into the history, and its removal after it. What the same entry added leaves
    nothing."""
    yield (
        f"{_PAST} SELECT NEW.table_name, NEW.row_id, NEW.version, NEW.parents, NEW.content, {_ENTRY}, {_NOW} "
        f"WHERE NEW.version IS NOT {_ENTRY}"
    )
    yield (
        f"{_PAST} SELECT NEW.table_name, NEW.row_id, {_ENTRY}, "
        f"iif(NEW.version IS {_ENTRY}, NEW.parents, json_array(NEW.version)), NULL, NULL, NULL "
        f"WHERE NEW.step IS '{REMOVED}' AND (NEW.version IS NOT {_ENTRY} OR NEW.parents IS NOT NULL)"
    )
    yield f"DELETE FROM as_written WHERE NEW.step IS '{REMOVED}' AND {_OF_IT}"


def _elsewhere(without_facts: Sequence[str]) -> Iterator[str]:
    """Before a write rows are laid aside. After it, and where one is removed, they are kept: the version that was
    there, and for all but the one that changed its removal.

    A change that names no version gets one. A new row of a removed record is a version after its removal; a row that
    comes with a version keeps it, unless the record had that version before. What was written where a column now shows
    something else is forgotten.
    """
    is_aside = f"(NEW.step IS NULL OR NEW.step = '{REMOVED}')"
    of_table = "table_name = NEW.table_name"
    yield f"DELETE FROM replacing WHERE {is_aside} AND {of_table} AND place = NEW.place"
    yield (
        "INSERT INTO replacing SELECT NEW.table_name, NEW.place, NEW.row_id, NEW.version, NEW.parents, NEW.content "
        f"WHERE {is_aside}"
    )
    yield (
        f"UPDATE about SET value = '{CHANGED_ELSEWHERE}' WHERE NEW.step NOT NULL AND name = '{FACTS}' "
        f"AND NEW.table_name NOT IN ({', '.join(map(literal, without_facts))})"
    )
    before = f"FROM replacing WHERE {of_table} AND place = NEW.was"
    held = f"FROM replacing WHERE NEW.step NOT NULL AND {of_table} AND (row_id = NEW.row_id OR place = NEW.place"
    yield (f"{_PAST} SELECT table_name, row_id, version, parents, content, NULL, {_NOW} {held} OR place = NEW.was)")
    yield (
        f"{_PAST} SELECT table_name, row_id, {_OTHER}, json_array(version), NULL, NULL, NULL {held}) "
        "AND place IS NOT NEW.was"
    )
    column = "'$.' || column_name"
    yield (
        f"DELETE FROM as_written WHERE NEW.step NOT NULL AND {of_table} "
        f"AND row_id = coalesce((SELECT row_id {before}), NEW.row_id) AND (NEW.was IS NULL "
        f"OR json_extract(NEW.content, {column}) IS NOT (SELECT json_extract(content, {column}) {before}))"
    )
    follows = "INSERT INTO replacing SELECT '', NEW.place, NEW.row_id"
    removal = f"SELECT version FROM history WHERE {_OF_IT} AND content IS NULL ORDER BY id DESC LIMIT 1"
    is_known = f"NEW.version IN (SELECT version FROM history WHERE {_OF_IT})"
    yield f"{follows}, {_OTHER}, json_array(version), '' {before} AND version = NEW.version"
    yield (
        f"{follows}, iif({is_known}, {_OTHER}, NEW.version), json_array(({removal})), '' "
        f"WHERE NEW.step = '{ADDED}' AND EXISTS ({removal}) AND (NEW.parents IS NULL OR {is_known})"
    )
    yield (
        f"DELETE FROM replacing WHERE NEW.step NOT NULL AND {of_table} "
        f"AND (NEW.step <> '{REMOVED}' OR row_id = NEW.row_id)"
    )
    yield "UPDATE writing SET placing = 1 WHERE EXISTS (SELECT 1 FROM replacing WHERE table_name = '')"
