"""The search for words in all records: the rows found, with the words around each hit."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.records import KINDS, Kind
from bevelbook.store.one_with import stands_for_it
from bevelbook.store.record_names import title_of
from bevelbook.store.schema import quoted, search_table


class Found(NamedTuple):
    """A row that a search found: its kind, id, name, and the words around the hit with the hits marked."""

    kind: Kind
    row_id: str
    name: str
    excerpt: str


HIT_START, HIT_END = "\x02", "\x03"
"""Put before and after each hit in an excerpt; no note can hold them."""
EXCERPT_BEFORE, EXCERPT_AFTER = 60, 110
MOST_WORDS: Final = 12
DATED: Final = 2_000
"""Up to this many hits in a table go by their day; of more, those written last are shown, as sorting is slow."""


def search_records(connection: sqlite3.Connection, words: str, each: int) -> list[Found]:
    """Rows of all tables with a full-text index that contain every word; the last word may be incomplete.

    In each table the newest day comes first, in one without days the best hit; where there are more than ``DATED``,
    what was written down last.
    """
    terms = words.replace("\0", " ").split()[:MOST_WORDS]
    if not terms:
        return []
    match = " ".join('"' + term.replace('"', '""') + '"' for term in terms) + "*"
    hits = re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, terms))})\w*", re.IGNORECASE)
    return [one for kind in KINDS if kind.searched for one in _search_one(connection, kind, match, hits, each)]


def _search_one(
    connection: sqlite3.Connection, kind: Kind, match: str, hits: re.Pattern[str], each: int
) -> Iterator[Found]:
    index = search_table(kind)
    columns = ", ".join(f"t.{quoted(name)}" for name in kind.searched)
    many = connection.execute(
        f"SELECT count(*) FROM (SELECT 1 FROM {index} WHERE {index} MATCH ? LIMIT ?)", (match, DATED + 1)
    ).fetchone()[0]
    day = next((f"t.{quoted(field.name)} DESC" for field in kind.fields if field.kind == "date"), "points")
    hit, order = f"SELECT rowid AS hit, rank AS points FROM {index} WHERE {index} MATCH :match", f"{day}, hit DESC"
    if many > DATED:
        hit = f"SELECT rowid AS hit FROM {index} WHERE {index} MATCH :match ORDER BY rowid DESC LIMIT :each"
        order = "hit DESC"
    found = connection.execute(
        f"SELECT t.id, {columns} FROM ({hit}) CROSS JOIN {kind.table} t ON t.rowid = hit ORDER BY {order} LIMIT :each",
        {"match": match, "each": each},
    ).fetchall()
    seen: set[str] = set()
    for found_id, *texts in found:
        row_id = stands_for_it(connection, kind, found_id)
        if row_id in seen:
            continue
        seen.add(row_id)
        excerpt = excerpt_of([text for text in texts if text], hits)
        yield Found(kind, row_id, title_of(connection, kind, row_id) or "", excerpt)


def excerpt_of(texts: Sequence[str], hits: re.Pattern[str]) -> str:
    """The words around the first hit, with the hits marked; the start of the text where only the index finds one (é for
    e).

    The index's own ``snippet`` is not used: on a note of 100,000 letters with 20,000 hits it takes five seconds, and no
    time limit stops it.

    >>> excerpt_of(["rear-b/2", "steady exit"], re.compile("exit")) == f"steady {HIT_START}exit{HIT_END}"
    True
    """
    for text in texts:
        hit = hits.search(text)
        if hit:
            start = max(0, hit.start() - EXCERPT_BEFORE)
            cut = text[start : hit.end() + EXCERPT_AFTER]
            marked = hits.sub(lambda one: f"{HIT_START}{one[0]}{HIT_END}", cut)
            return ("…" if start else "") + marked + ("…" if hit.end() + EXCERPT_AFTER < len(text) else "")
    return texts[-1][:EXCERPT_AFTER] if texts else ""
