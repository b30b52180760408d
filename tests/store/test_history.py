"""Past versions of records: what was replaced, by what, and to the last bit."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import Field
from bevelbook.reading.units import scale_of
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.schema import columns_of, quoted
from bevelbook.store.writing import Writer, placing

VENUE = BY_NAME["venue"]
DAY = "2026-05-03"
OWN = [kind for kind in KINDS if kind.own]
Act = Callable[[Callable[[Writer], Any]], str]


@pytest.fixture
def opened(db: Path) -> Iterator[sqlite3.Connection]:
    connection = open_for_writing(db)
    yield connection
    connection.close()


@pytest.fixture
def act(opened: sqlite3.Connection, db: Path) -> Act:
    """Do something in an entry of its own; the id of that entry."""

    def run(work: Callable[[Writer], Any]) -> str:
        with transaction(opened, db, by="ana") as entry:
            work(Writer(opened, "ana"))
        return entry.id

    return run


def _number(field: Field) -> float:
    """One that its bounds let in."""
    known = [bound for bound in (field.minimum, field.maximum) if bound is not None]
    number = known[0] if known else 0.005
    return int(number) if field.kind == "whole" else number


def history(connection: sqlite3.Connection) -> list[sqlite3.Row]:
    return connection.execute("SELECT * FROM history ORDER BY id").fetchall()


def test_a_change_keeps_the_version_before_and_a_removal_is_a_version(opened: sqlite3.Connection, act: Act) -> None:
    made = act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))
    assert history(opened) == []
    laid = act(lambda writer: writer.update(VENUE, "v", {"surface": "carpet"}))
    assert opened.execute("SELECT version, parents FROM venues").fetchone()[:] == (laid, json.dumps([made]))
    gone = act(lambda _: opened.execute("DELETE FROM venues"))
    first, second, removal = history(opened)
    assert [(one["table_name"], one["row_id"]) for one in (first, second, removal)] == [("venues", "v")] * 3
    assert (first["version"], first["parents"], first["replaced_in"]) == (made, None, laid)
    assert (second["version"], second["parents"], second["replaced_in"]) == (laid, json.dumps([made]), gone)
    assert (removal["version"], removal["parents"], removal["content"]) == (gone, json.dumps([laid]), None)
    assert (removal["replaced_in"], removal["replaced_at"]) == (None, None)
    assert [json.loads(one["content"])["surface"] for one in (first, second)] == [None, "carpet"]
    assert json.loads(second["content"])["updated_by"] == "ana"


def test_the_content_is_all_columns_of_every_kind(opened: sqlite3.Connection) -> None:
    """Of the ones that a version is named by, none."""
    opened.execute("PRAGMA foreign_keys = OFF")
    for kind in OWN:
        row = {"id": kind.name, "created_at": "", "updated_at": ""}
        row |= {f.name: f.choices[0] if f.choices else _number(f) if f.is_number else DAY for f in kind.fields}
        row |= dict.fromkeys(kind.one_of[1:])
        names, marks = ", ".join(map(quoted, row)), ", ".join("?" * len(row))
        opened.execute(f"INSERT INTO {kind.table} ({names}) VALUES ({marks})", tuple(row.values()))
        opened.execute(f"UPDATE {kind.table} SET updated_by = 'bo'")
        content = json.loads(history(opened)[-1]["content"])
        assert set(content) == set(columns_of(kind)) - {"id", "version", "parents"}
        assert {name: content[name] for name in row if name != "id"} == {k: v for k, v in row.items() if k != "id"}


def test_an_entry_keeps_one_past_version_however_often_it_changes_a_record(
    opened: sqlite3.Connection, act: Act
) -> None:
    made = act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))

    def thrice(writer: Writer) -> None:
        for surface in ("carpet", "asphalt", "clay"):
            assert writer.update(VENUE, "v", {"surface": surface})

    changed = act(thrice)
    (past,) = history(opened)
    assert (past["version"], past["replaced_in"]) == (made, changed)
    assert opened.execute("SELECT version, parents FROM venues").fetchone()[:] == (changed, json.dumps([made]))


def test_what_an_entry_makes_and_changes_has_no_past(opened: sqlite3.Connection, act: Act) -> None:
    def twice(writer: Writer) -> None:
        writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v")
        writer.update(VENUE, "v", {"surface": "carpet"})

    made = act(twice)
    assert history(opened) == []
    assert opened.execute("SELECT version, parents FROM venues").fetchone()[:] == (made, None)


def test_what_an_entry_makes_and_removes_leaves_nothing(opened: sqlite3.Connection, act: Act) -> None:
    def both(writer: Writer) -> None:
        writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v")
        opened.execute("DELETE FROM venues")

    act(both)
    assert history(opened) == []


def test_what_an_entry_changes_and_removes_is_one_removal(opened: sqlite3.Connection, act: Act) -> None:
    made = act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))

    def both(writer: Writer) -> None:
        writer.update(VENUE, "v", {"surface": "carpet"})
        opened.execute("DELETE FROM venues")

    gone = act(both)
    past, removal = history(opened)
    assert (past["version"], json.loads(past["content"])["surface"]) == (made, None)
    assert (removal["version"], removal["parents"], removal["content"]) == (gone, json.dumps([made]), None)


def test_a_record_that_comes_back_follows_its_removal(opened: sqlite3.Connection, act: Act) -> None:
    act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))
    gone = act(lambda _: opened.execute("DELETE FROM venues"))
    back = act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))
    assert opened.execute("SELECT version, parents FROM venues").fetchone()[:] == (back, json.dumps([gone]))


def test_nothing_is_kept_where_nothing_changes(opened: sqlite3.Connection, act: Act) -> None:
    values = {"name": "Tannery Hall", "surface": "carpet", "altitude_m": 210.0}
    made = act(lambda writer: writer.insert(VENUE, values, row_id="v"))
    assert not Writer(opened, "ana").update(VENUE, "v", {"surface": "carpet", "altitude_m": 210.0})
    assert not Writer(opened, "ana").update(VENUE, "v", {})
    assert history(opened) == []
    assert opened.execute("SELECT version FROM venues").fetchone()[0] == made


@pytest.mark.parametrize(
    "values",
    [
        {"surface": "clay", "note": "dusty"},
        {"note": "dusty", "surface": "clay"},
        {"surface": "carpet", "note": "damp"},
        {"note": "damp", "surface": "carpet"},
        {"surface": "clay", "note": "damp"},
    ],
)
def test_one_value_that_changes_among_others_is_stored(opened: sqlite3.Connection, act: Act, values: Any) -> None:
    act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall", "surface": "carpet", "note": "dusty"}, row_id="v"))
    updates = []
    act(lambda writer: updates.append(writer.update(VENUE, "v", values)))
    assert updates == [True]
    assert dict(opened.execute("SELECT surface, note FROM venues").fetchone()) == values
    assert len(history(opened)) == 1


def test_a_change_of_a_record_that_is_not_there_is_refused(act: Act) -> None:
    with pytest.raises(InputError, match="there is no such venue"):
        act(lambda writer: writer.update(VENUE, "nowhere", {"surface": "carpet"}))


def test_placing_makes_no_version_and_no_past(opened: sqlite3.Connection, act: Act) -> None:
    made = act(lambda writer: writer.insert(VENUE, {"name": "Tannery Hall"}, row_id="v"))
    before = opened.execute("SELECT updated_at FROM venues").fetchone()[0]
    act(lambda writer: writer.place(VENUE, "v", {"note": "follows from other rows"}))
    assert history(opened) == []
    assert opened.execute("SELECT version, note, updated_at FROM venues").fetchone()[:] == (
        made,
        "follows from other rows",
        before,
    )
    act(lambda writer: writer.update(VENUE, "v", {"note": "by hand"}))
    assert len(history(opened)) == 1


def test_placing_ends_with_its_block(opened: sqlite3.Connection) -> None:
    with pytest.raises(RuntimeError), placing(opened):
        raise RuntimeError
    assert opened.execute("SELECT placing FROM writing").fetchone()[0] is None


def test_masses_typed_in_ounces_come_back_from_the_history_to_the_last_bit(
    opened: sqlite3.Connection, act: Act
) -> None:
    """15 digits lose every third of them: 0.335 oz is 9.49708737475 g and a bit."""
    draw = random.Random(20260503)
    ounce = scale_of("g", "oz").factor
    masses = [0.335 * ounce, *(draw.randint(1, 4000) / 1000 * ounce for _ in range(300))]
    masses += [draw.uniform(0, 100) * 10.0 ** draw.randint(-20, 20) for _ in range(300)]
    masses += [0.1 + 0.2, 5e-324, float("inf")]
    assert any(float(f"{mass:.15g}") != mass for mass in masses)
    act(lambda writer: writer.insert(BY_NAME["diff"], {"label": "rear-a"}, row_id="d"))
    opened.execute("PRAGMA ignore_check_constraints = ON")  # as a program does that writes a mass without an end

    def build(writer: Writer) -> None:
        for number, mass in enumerate(masses):
            values = {"label": f"rear-a/{number}", "diff": "d", "built_on": "2026-05-03", "dry_mass_g": mass}
            writer.insert(BY_NAME["build"], values, row_id=str(number))

    act(build)
    act(lambda _: opened.execute("UPDATE builds SET dry_mass_g = NULL, note = 'no mass'"))
    found = {one["row_id"]: json.loads(one["content"])["dry_mass_g"] for one in history(opened)}
    assert [found[str(number)] for number in range(len(masses))] == masses
