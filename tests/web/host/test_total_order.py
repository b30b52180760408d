"""Every table and view, under every sort, page by page and as a stream: each row once, and in an order without ties.

What is right comes from SQLite itself: the same rows, sorted by the column and then by the key.
"""

from __future__ import annotations

import asyncio
import csv
import re
import sqlite3
from collections.abc import Coroutine, Iterable, Iterator, Mapping
from io import StringIO
from pathlib import Path
from typing import Any, Final, TypeVar

import pytest
from browser_team import close
from conftest import empty_database
from constructed import adding, kept
from declared_calculator import declared

from bevelbook.facts.views import VIEWS
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculation_views import ensure_views, key_of_view
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.host.datasette_state import made_with
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE

T = TypeVar("T")
Rows = list[tuple[str, ...]]

ROWS: Final = 7
"""Of each record in the made team, nearly all alike."""
PAGE: Final = 4
SUMS_OF_TENTHS: Final = (0.1 + 0.2, 0.7 + 0.1, 1.1 + 2.2, 0.30000000000000004e-7 / 3, 2 / 3 * 1e-5)
"""Numbers with all seventeen digits, which SQLite before 3.47 does not read from text as they were."""


def _tied(path: Path) -> Path:
    """Seven diffs, builds, runs, weighings, openings and kept results of one day, with equal and with empty values."""
    connection = open_for_writing(empty_database(path))
    with transaction(connection, path):
        add = adding(Writer(connection, "ana", lambda: "2026-05-04T10:00:00.000Z"))
        hall = add("venue", name="Tannery Hall", surface="carpet")
        scale = add("scale", name="pocket", step_g=0.01)
        for number in range(ROWS):
            oil = add("fluid", label=f"oil {number}", viscosity_cst=7000.0, note="equal words")
            bottle = add("bottle", fluid=oil, lot="one lot")
            diff = add("diff", label=f"rear-{number}", mark="red" if number % 3 else None)
            mass = (12.4, *SUMS_OF_TENTHS)[number % 6]
            build = add(
                "build",
                label=f"rear-{number}/1",
                diff=diff,
                built_on="2026-03-03",
                fluid=oil,
                bottle=bottle,
                scale=scale,
                dry_mass_g=12.0,
                filled_mass_g=12.0 + mass,
                closed_mass_g=22.4 if number % 2 else None,
                note="equal words" if number % 2 else None,
            )
            run = add(
                "run",
                label=f"2026-03-04/{number}",
                run_on="2026-03-04",
                venue=hall if number % 2 else None,
                best_lap_s=16.0 + mass if number % 4 else None,
                grip="low" if number % 2 else None,
                note="equal words",
            )
            add("run_diff", run=run, build=build, diff_temp_c=33.0 if number % 2 else None)
            add("weighing", build=build, runs=1.0, mass_g=22.4, mass_basis="closed", scale=scale, note="equal words")
            add("opening", build=build, opened_on="2026-03-05", reason="routine", oil="grey")
            add("seal_fitting", build=build, place="case-side shaft", condition="new")
            add("build_part", build=build, part="cross pin", mark="blue", condition="new")
            add("idea", text="Try 15,000", venue=hall, noted_on="2026-05-02")
            kept(
                connection,
                id=f"kept {number}",
                calculator="doubling",
                subject_table="builds",
                subject_id=build,
                found='{"double_g": 2.5}' if number % 2 else "{}",
                calculated_at="2026-05-04T10:00:00.000Z",
            )
        ensure_views(connection, declared())
    connection.close()
    return path


class Walked:
    """A Datasette over the made team, asked in one event loop without threads, and the file beside it."""

    def __init__(self, path: Path, registry: Registry) -> None:
        from datasette.app import Datasette

        self.loop = asyncio.new_event_loop()
        settings = {"num_sql_threads": 0, "suggest_facets": False}
        self.datasette = made_with(lambda: Datasette([str(path)], settings=settings), registry)
        self.do(self.datasette.invoke_startup())
        self.file = sqlite3.connect(path)

    def do(self, work: Coroutine[Any, Any, T]) -> T:
        return self.loop.run_until_complete(work)

    def get(self, address: str) -> Any:
        answer = self.do(self.datasette.client.get(address))
        assert answer.status_code == 200, (address, answer.text[:500])
        return answer

    def streamed(self, table: str, query: str) -> Rows:
        """All rows of a CSV stream."""
        text = self.get(f"/tied/{table}.csv?_size={PAGE}&_stream=on{query}").text
        return self._rows(table, csv.DictReader(StringIO(text)))

    def paged(self, table: str, query: str) -> Rows:
        """All rows of JSON, page by page."""
        found: Rows = []
        address: str | None = f"/tied/{table}.json?_shape=objects&_size={PAGE}&_nofacet=1{query}"
        while address:
            page = self.get(address).json()
            found += self._rows(table, page["rows"])
            address = page["next_url"] and page["next_url"].removeprefix("http://localhost")
        return found

    def _rows(self, table: str, found: Iterable[Mapping[str, Any]]) -> Rows:
        names = self.columns(table)
        return [tuple(_text(row[name]) for name in names) for row in found]

    def columns(self, table: str) -> list[str]:
        """Its columns, but for those that SQLite hides: one of a search table names the cursor that asks."""
        asked = "SELECT name FROM pragma_table_xinfo(?) WHERE NOT hidden"
        return [row[0] for row in self.file.execute(asked, (table,))]

    def key(self, table: str) -> tuple[str, ...]:
        """The columns that decide between equal rows."""
        (sort,) = self.file.execute("SELECT type FROM sqlite_master WHERE name = ?", (table,)).fetchone()
        if sort == "view":
            known = {view.name: view.key for view in VIEWS}
            return known.get(table) or key_of_view(table, self.columns(table))
        asked = "SELECT name FROM pragma_table_xinfo(?) WHERE pk ORDER BY pk"
        return tuple(row[0] for row in self.file.execute(asked, (table,))) or ("rowid",)

    def right(self, table: str, order: str) -> Rows:
        """The rows as SQLite sorts them."""
        columns = ", ".join(f'"{name}"' for name in self.columns(table))
        ties = ", ".join(f'"{name}"' for name in self.key(table))
        found = self.file.execute(f'SELECT {columns} FROM "{table}" ORDER BY {order}{ties}')
        return [tuple(map(_text, row)) for row in found]

    @property
    def tables(self) -> list[str]:
        """Each table and view that has more rows than a page, hidden ones too; of the search tables those of runs."""
        named = self.file.execute(
            "SELECT name FROM sqlite_master WHERE type IN ('table', 'view') "
            "AND (name NOT GLOB '*_search*' OR name GLOB 'runs_search*')"
        )
        names = [row[0] for row in named if not (HAS_SQL_PAGE and PARTS_OF_A_SEARCH.search(row[0]))]
        return [name for name in names if self.file.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] > PAGE]


PARTS_OF_A_SEARCH = re.compile("_search_(data|idx|docsize|config)$")
"""SQLite's own tables behind a search, which Datasette 1.0 shows to nobody."""


def _text(cell: object) -> str:
    return "" if cell is None else str(cell)


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Walked]:
    made = Walked(_tied(tmp_path_factory.mktemp("tied") / "tied.db"), registry)
    yield made
    made.file.close()
    close(made.datasette)
    made.loop.close()


def _kinds_of_column(walked: Walked, table: str) -> list[str]:
    """A column of each kind: of one type, with or without equal values, with none, some or only empty ones.

    Columns that are alike in all of that are sorted alike.
    """
    found = {}
    for column in walked.columns(table):
        values = [row[0] for row in walked.file.execute(f'SELECT "{column}" FROM "{table}" ORDER BY 1')]
        empty = values.count(None)
        found[type(values[-1]), len(set(values)) < len(values), bool(empty), empty == len(values)] = column
    return list(found.values())


def test_every_row_comes_once_and_in_a_total_order_under_every_sort(walked: Walked) -> None:
    tables = walked.tables
    assert {"runs", "builds", "build_facts", "what_worked", "masses", "calc_doubling", "runs_search"} <= set(tables)
    assert any(name.endswith("_search_docsize") for name in tables) is not HAS_SQL_PAGE
    wrong = []
    for table in tables:
        for column in _kinds_of_column(walked, table):
            for sort, order in (("_sort", f'"{column}", '), ("_sort_desc", f'"{column}" DESC, ')):
                right = walked.right(table, order)
                read = walked.streamed if sort == "_sort" else walked.paged
                found = read(table, f"&{sort}={column}")
                if not _is_same(found, right):
                    wrong.append((table, column, sort, len(found), len(set(found)), len(right)))
    assert not wrong


def _is_same(found: Rows, right: Rows) -> bool:
    """Whether the rows are equal one by one, but for bytes, which CSV and JSON give as an address or in base64."""
    if len(found) != len(right):
        return False
    return all(
        mine == its or its.startswith("b'")
        for one, other in zip(found, right, strict=True)
        for mine, its in zip(one, other, strict=True)
    )


def test_every_row_comes_once_as_a_table_opens_page_by_page_and_as_a_stream(walked: Walked) -> None:
    for table in walked.tables:
        right = sorted(walked.right(table, ""))
        streamed = walked.streamed(table, "")
        assert streamed == walked.paged(table, "") or "_search" in table or table == "note_bytes", table
        assert len(streamed) == len(right)
        if "_search" not in table:
            assert sorted(streamed) == right, table
