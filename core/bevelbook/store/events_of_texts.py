"""The event of a run was a text in older databases: each different text becomes an event, without days.

Its id is made of the text, as an import makes those of names, and a run refers to the event of its own text, in its
past too: so copies of one file that are brought to this version apart are equal, and two that come together have one
event. Texts that differ only in blanks or capitals are one event, as equal names are (``same_things``).
"""

from __future__ import annotations

import sqlite3
from typing import Final

from bevelbook.records import BY_NAME
from bevelbook.store.ids import content_id
from bevelbook.store.schema import search_fill_sql

LAST_STEP_WITH_TEXTS: Final = 4
_NO_DAY: Final = "1970-01-01"
_EVENT: Final = BY_NAME["event"]
_PAST: Final = "table_name = 'runs' AND iif(json_valid(content), json_type(content, '$.event') = 'text', 0)"


def event_id(name: str) -> str:
    """The id of an event that notes name, or that the event of a run was before it was a record."""
    return content_id(_NO_DAY, "\0".join((_EVENT.name, name)))


def make_events_of_texts(connection: sqlite3.Connection) -> int:
    """Have the runs of an older database, and their past, refer to events; returns how many events that makes.

    Runs inside the caller's transaction, once, after the steps made the tables and while there are no triggers. An
    event was written down when the first run of it was.
    """
    found = connection.execute(
        "SELECT text, min(at) FROM (SELECT event AS text, created_at AS at FROM runs WHERE event IS NOT NULL UNION ALL "
        "SELECT json_extract(content, '$.event'), json_extract(content, '$.created_at') FROM history "
        f"WHERE {_PAST}) GROUP BY text ORDER BY text"
    ).fetchall()
    texts = {str(text): (event_id(text), str(at or "")) for text, at in found if text.strip()}
    connection.execute("CREATE TEMP TABLE event_of_text (text TEXT PRIMARY KEY NOT NULL, id TEXT NOT NULL)")
    connection.executemany(
        "INSERT INTO event_of_text VALUES (?, ?)", ((text, made) for text, (made, _) in texts.items())
    )
    connection.executemany(
        "INSERT INTO events (id, version, created_at, updated_at, name) VALUES (?1, ?1, ?2, ?2, ?3)",
        sorted((made, at, text) for text, (made, at) in texts.items()),
    )
    connection.execute(search_fill_sql(_EVENT))
    of_text = "SELECT e.id FROM temp.event_of_text e WHERE e.text = "
    connection.execute(f"UPDATE runs SET event = ({of_text}runs.event) WHERE event IS NOT NULL")
    connection.execute(
        f"UPDATE history SET content = json_set(content, '$.event', ({of_text}json_extract(content, '$.event'))) "
        f"WHERE {_PAST}"
    )
    connection.execute("DROP TABLE temp.event_of_text")
    return len(texts)
