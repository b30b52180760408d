"""Equal content gives equal bytes, however it came into the database."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from shutil import copyfile

import pytest
from edition.conftest import Edit
from exported import Run

from bevelbook.demo import make
from bevelbook.demo.files import NOTES, STOCK
from bevelbook.plugin.registry import Registry
from bevelbook.store.opening import new_database, transaction

ALL = {"people": True, "days": True}
LEAST = {"people": False, "days": False}
BOTH = pytest.mark.parametrize("what", [ALL, LEAST], ids=["all", "least"])


@BOTH
def test_rows_in_another_order_and_on_other_pages(
    demo_db: Path, edit: Edit, tmp_path: Path, what: dict[str, bool]
) -> None:
    """Every table emptied and filled again from the last row to the first, with new rowids, on pages of 1,024 bytes and
    with a log beside the file."""
    shuffled = copyfile(demo_db, tmp_path / "shuffled.db")
    with closing(sqlite3.connect(shuffled, isolation_level=None)) as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("PRAGMA page_size = 1024")
        connection.execute("VACUUM")
        triggers = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        tables = connection.execute("SELECT name FROM pragma_table_list WHERE type = 'table' AND wr = 0").fetchall()
        for (table,) in tables:
            if (
                table.startswith("sqlite_")
                or "_search" in table
                or table in ("history", "writing", "_sqlite_migrations")
            ):
                continue
            connection.execute(f"CREATE TEMP TABLE held AS SELECT * FROM main.{table} ORDER BY rowid DESC")
            connection.execute(f"DELETE FROM main.{table}")
            connection.execute(f"INSERT INTO main.{table} SELECT * FROM held")
            connection.execute("DROP TABLE held")
        for _, sql in triggers:
            connection.execute(sql)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("UPDATE about SET value = value")
        assert edit(shuffled, **what) == edit(demo_db, **what)


@BOTH
def test_an_edition_of_an_edition_is_the_same(demo_db: Path, edit: Edit, tmp_path: Path, what: dict[str, bool]) -> None:
    assert edit(demo_db, **what, to=tmp_path / "one.db") == edit(tmp_path / "one.db", **what)


def test_less_can_be_said_in_an_edition_of_an_edition(demo_db: Path, edit: Edit, tmp_path: Path) -> None:
    """People left out of an edition that has them: as if they had been left out at once."""
    edit(demo_db, to=tmp_path / "all.db")
    assert edit(tmp_path / "all.db", people=False) == edit(demo_db, people=False)


def test_sheets_imported_in_other_orders(bundled: Registry, edit: Edit, tmp_path: Path) -> None:
    """The demo's stock and its three sheets, in four of the six orders, each sheet once first and once last."""
    found: dict[str, set[bytes]] = {"all": set(), "least": set()}
    first, second, third = NOTES
    orders = ((first, second, third), (third, second, first), (second, first, third), (second, third, first))
    for number, order in enumerate(orders):
        path = tmp_path / f"{number}.db"
        with closing(new_database(path)) as connection:
            with transaction(connection, path, asked="stock", by="ana"):
                make._load(connection, STOCK, "ana")
            for name in order:
                make._import(connection, path, name, "ana", "import")
        found["all"].add(edit(path, **ALL))
        found["least"].add(edit(path, **LEAST))
    assert [len(one) for one in found.values()] == [1, 1]


def test_the_whole_demo_from_other_orders_of_import(
    demo_db: Path, bundled: Registry, edit: Edit, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The orders in which the labels of builds, by which its further records name them, mean the same builds. In one
    the runs of a day are counted otherwise."""
    relabelled: list[int] = []
    first, second, third = NOTES
    for order in ((first, third, second), (third, first, second)):
        monkeypatch.setattr(make, "NOTES", {name: NOTES[name] for name in order})
        path = tmp_path / f"{order[0]}-{order[1]}.db"
        make.demo(path, bundled, "bo")
        assert edit(path, look=lambda copy: relabelled.append(len(copy.relabelled))) == edit(demo_db)
        assert edit(path, **LEAST) == edit(demo_db, **LEAST)
    assert [count > 0 for count in relabelled] == [False, True]


@BOTH
def test_a_merge_in_both_orders(
    demo_db: Path, edit: Edit, bevelbook: Run, tmp_path: Path, what: dict[str, bool]
) -> None:
    """Two laptops with new records each, one changed on both; each takes the other in."""
    for name, words in (("a", "lifts a wheel"), ("b", "no grip")):
        copyfile(demo_db, tmp_path / f"{name}.db")
        for said in (
            ("venue", f"name=hall of {name}"),
            ("build", "rear-a/12", f"note={words}, as bo said"),
            ("idea", f"text=try {name}"),
        ):
            assert bevelbook("--db", f"{name}.db", "--by", name, "record", *said).code in (0, 1)
        copyfile(tmp_path / f"{name}.db", tmp_path / f"{name}-alone.db")
    for name, other in (("a", "b"), ("b", "a")):
        assert bevelbook("--db", f"{name}.db", "merge", f"{other}-alone.db").code in (0, 1)
    clashes: list[int] = []
    assert edit(tmp_path / "a.db", **what, look=lambda copy: clashes.append(copy.clashes)) == edit(
        tmp_path / "b.db", **what
    )
    assert clashes == [1]


def test_its_file_is_proved_in_every_part(demo_db: Path, edit: Edit, bevelbook: Run, tmp_path: Path) -> None:
    """It has no triggers, and nothing that these alone need, and none of it is missed."""
    edit(demo_db, to=tmp_path / "edition.db")
    done = bevelbook("--db", tmp_path / "edition.db", "check", "--deep")
    assert (done.code, "nothing wrong." in done.out) == (0, True), done.out
    assert "opening it for writing" not in done.out, "nobody opens an edition for writing"
