"""Every order in our SQL ends in a key, so that rows that are equal in the rest do not change places."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

from bevelbook.facts.builds import newest_first, oldest_first
from bevelbook.facts.day_order import AS_WRITTEN, first_run_first, last_run_first
from bevelbook.facts.runs import LAST_RUN_FIRST, RUN_ORDER
from bevelbook.facts.views import LATEST_FIRST

ROOTS: Final = ("core", "plugins")
SHARED_ORDERS: Final = {
    "newest_first": newest_first("b"),
    "oldest_first": oldest_first("b"),
    "first_run_first": first_run_first("r"),
    "last_run_first": last_run_first("r"),
    "RUN_ORDER": RUN_ORDER,
    "LAST_RUN_FIRST": LAST_RUN_FIRST,
    "AS_WRITTEN": AS_WRITTEN,
    "LATEST_FIRST": LATEST_FIRST,
}
KEYS: Final = {
    **dict.fromkeys(("id", "rowid", "run_diff", "record"), "the key of a record"),
    **dict.fromkeys(("diff", "build"), "the key of a table of facts, behind what it sorts"),
    **dict.fromkeys(("line", "code"), "a line of the sheet that is being read, with what was found in it"),
    "key": "the place in a list of JSON",
    "sha256": "the hash of the bytes of a file, under which they lie once",
    **dict.fromkeys(("age", "nth", "stay", "first"), "numbered by row_number, or a sum over such numbers"),
    **dict.fromkeys(("cid", "pk", "seqno", "table_name"), "SQLite's own number of a column, or the one row of a group"),
}
"""Names that an order may end in."""
REASONED: Final = {
    "m.build, m.runs, m.step, m.day": "masses have no id: two of one day are in the order of writing",
    "{ORDER}": "the same masses; search: ends in rowid",
    "{order}": "ends in the key of the function that gives it",
    "{in_order}": "RUN_ORDER with its first term turned round",
    "{unnumbered}": "ends in id",
    "{key}": "the key of the table, or all its columns",
    "1": "the id",
    "1, 2": "all columns",
    "1, 2, 3": "all columns",
    "2": "one column, each value once",
    "2 DESC, 1": "grouped by 1",
    "3 DESC, 1, 2": "grouped by 1, 2",
    "3, 2": "2 is the id",
    "4, 3, 5": "5 is the id",
    "d.label, r.label, 4": "4 is an id",
    "2, 3, x.run, x.position": "grouped by the last two",
    "run_on DESC": "only the day is taken",
    "r.run_on DESC": "only the day is taken",
    "d.run_on DESC": "grouped by the day",
    "r.run_on": "grouped by the day",
    "text": "grouped by the text",
    "nth, life IS NULL": "of one place: what was fitted for a build goes before the build",
    "age, place": "numbered by age; one piece is in one place",
    "build, part, place, mark": "a part is counted once for each of them",
    "p.build, p.place, p.mark": "a part is counted once for each of them",
    "p.viscosity_cst, f.label": "grouped by both",
    "calculator": "the latest of each calculator",
    "calculator, subject_id": "the latest of each calculator and record",
    "runs DESC, why": "grouped by why",
    "x.place": "grouped by the place",
    "thickness_mm, bore_mm, outside_diameter_mm": "grouped by all three",
    "l.name": "an index has its name alone",
    "name": "a table has its name alone",
    "f.label, 1, bo.lot, u.bottle": "grouped by 1 and the bottle",
    "e.made_at DESC, e.rowid DESC, t.created_at DESC, t.day DESC": "only the day is taken",
    "updated_at DESC, scale DESC": "only the scale is taken",
    "fingerprint": "only the fingerprint is taken",
    "table_name, row_id": "a record is in clash once",
    "table_name, column_name": "each pair once",
    "table_name, row_id, {column}": "rows that are equal in all three become the same",
    "NOT {may_be_counted_sql(kind, 'l.label')}, length(l.label), l.label": "a label is there once",
    "h.row_id": "each once",
    "version": "a version of a record is there once",
    "filename;": "of a question in the manual to another engine, which has no key of ours",
}
"""Orders that end in something else, each with why no two rows are equal in it, or may be."""


def _sql_of(path: Path) -> Iterator[str]:
    """The texts of a module in which something is put in order; what is put into one is in braces."""
    source = path.read_text(encoding="utf-8")
    if "ORDER" not in source:
        return
    tree = ast.parse(source)
    parts = {
        id(part)
        for whole in ast.walk(tree)
        if isinstance(whole, ast.JoinedStr)
        for part in ast.walk(whole)
        if part is not whole
    }
    for node in ast.walk(tree):
        if id(node) in parts:
            continue
        if isinstance(node, ast.JoinedStr):
            yield "".join(
                str(part.value) if isinstance(part, ast.Constant) else f"{{{ast.unparse(part.value)}}}"  # type: ignore[attr-defined]
                for part in node.values
            )
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def orders_in(sql: str) -> Iterator[str]:
    """The terms of each ORDER BY of a text."""
    for found in re.finditer(r"\bORDER\s+BY\s+(?!terms for)", sql):
        depth, terms = 0, ""
        rest = sql[found.end() :]
        for place, letter in enumerate(rest):
            depth += (letter in "({") - (letter in ")}")
            if depth < 0 or (depth == 0 and re.match(r"\s(LIMIT|ROWS|RANGE|WINDOW|UNION)\b", rest[place:])):
                break
            terms += letter
        if terms.strip():
            yield " ".join(terms.rstrip("'").split())


def ends_in_a_key(terms: str) -> bool:
    """Whether rows that are equal in all terms are one row."""
    last = terms.removesuffix(" DESC")
    shared = re.search(r"\{(\w+)(?:\(.*\))?\}$", last)
    name = re.search(r"(\w+)\"?$", last)
    return bool(
        terms in REASONED or (shared and shared[1] in SHARED_ORDERS) or (name and not shared and name[1] in KEYS)
    )


def test_every_order_ends_in_a_key() -> None:
    found = {
        terms: str(path)
        for root in ROOTS
        for path in Path(root).rglob("*.py")
        for sql in _sql_of(path)
        for terms in orders_in(sql)
    }
    assert len(found) > 100
    assert not {terms: path for terms, path in found.items() if not ends_in_a_key(terms)}
    unused = REASONED.keys() - found.keys()
    assert not unused


@pytest.mark.parametrize("name", SHARED_ORDERS)
def test_the_orders_that_are_shared_end_in_the_id(name: str) -> None:
    assert re.search(r"\bid( DESC)?$", SHARED_ORDERS[name])


def test_an_order_without_a_key_is_seen() -> None:
    sql = "SELECT (SELECT y FROM z ORDER BY run_at LIMIT 1) FROM runs ORDER BY run_on DESC, label LIMIT 3"
    assert list(orders_in(sql)) == ["run_at", "run_on DESC, label"]
    assert not any(map(ends_in_a_key, orders_in(sql)))
    assert ends_in_a_key("label, x.id DESC")
    assert ends_in_a_key("w.place, {last_run_first('r')}")
    assert not ends_in_a_key("{some_order}")
