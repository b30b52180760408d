"""Every command that opens a database says in a sentence what is wrong with a damaged or odd one, and the way back."""

from __future__ import annotations

import os
import socket
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("check",),
    ("check", "--rebuild"),
    ("card", "rear-a/1"),
    ("compare", "rear-a/1", "rear-a/2"),
    ("plan",),
    ("calc", "fill-target", "--for", "rear-a/1"),
    ("history",),
    ("export", "saved"),
    ("export", "--table", "shelf", "--csv", "shelf.csv"),
    ("labels", "--html", "labels.html"),
    ("edition", "edition"),
    ("backup",),
    ("backup", "--list"),
    ("record", "person", "name=ana"),
    ("take-back",),
    ("join", "diff", "rear-a", "rear-b"),
    ("erase", "person ana", "--yes"),
    ("calls",),
    ("merge", "other.db"),
    ("import", "notes.csv"),
    ("new", "--migrate"),
    ("demo",),
)


def garbled(path: Path) -> None:
    """A name in the list of tables that is not UTF-8."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_master SET sql = CAST(x'435245415445ff' AS TEXT) WHERE name = 'shelf'")


def without_pages(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:8192])


def of_another(path: Path) -> None:
    """Changes beside it that are of another file."""
    other = path.with_name("another.db")
    with closing(sqlite3.connect(other)) as connection:
        connection.execute("PRAGMA page_size = 8192")
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("CREATE TABLE t (a)")
        connection.commit()
        path.with_name("team.db-wal").write_bytes(other.with_name("another.db-wal").read_bytes())


def pipe_beside(path: Path) -> None:
    os.mkfifo(path.with_name("team.db-wal"))


def pipe(path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def socket_there(path: Path) -> None:
    path.unlink()
    here = Path.cwd()
    os.chdir(path.parent)  # since the name of a socket may have some hundred letters only
    with closing(socket.socket(socket.AF_UNIX)) as listening:
        listening.bind(path.name)
    os.chdir(here)


def empty(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("damage", [garbled, without_pages, of_another, pipe_beside, pipe, socket_there, empty])
def test_no_command_ends_in_a_fault_of_the_program(
    bevelbook: Run, db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, damage: Callable[[Path], None]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))
    (tmp_path / "other.db").write_bytes(db.read_bytes())
    (tmp_path / "notes.csv").write_text("date,diff,dry mass (g)\n2026-05-03,rear-a,12.4\n", encoding="utf-8")
    damage(db)
    for words in COMMANDS:
        outcome = bevelbook("--db", db, *words)
        if words == ("backup", "--list") and outcome.code == 0:  # the way back is needed most here
            assert "its copies are known by their names and places alone" in outcome.err
            continue
        assert outcome.code == 2, (words, outcome)
        assert str(db) in outcome.err, words
        assert "fault of the program" not in outcome.err, words


def test_a_column_that_another_program_renamed_is_named(bevelbook: Run, db: Path) -> None:
    assert bevelbook("--db", db, "record", "diff", "label=rear-a").code == 0
    assert bevelbook("--db", db, "record", "build", "diff=rear-a", "built_on=2026-05-03").code == 0
    with closing(sqlite3.connect(db, isolation_level=None)) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET sql = replace(sql, '\"oil_mass_g\"', '\"oil_mass_gg\"') WHERE name = 'builds'"
        )
    for words in (("card", "rear-a/1"), ("compare", "rear-a/1", "rear-a/1"), ("check",)):
        outcome = bevelbook("--db", db, *words)
        assert outcome.code == 2, outcome
        assert "oil_mass_g" in outcome.err


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize(
    "words",
    [
        ("plan", "--packing"),
        ("import",),
        ("import", "notes.csv", "--profile"),
        ("card", "rear-a/1", "--html"),
        ("card", "rear-a/1", "--procedure"),
        ("calc", "shims", "--sizes-file"),
        ("backup", "--bring-back"),
        ("merge",),
    ],
)
def test_an_option_that_names_a_file_takes_no_pipe_and_no_empty_name(
    bevelbook: Run, db: Path, tmp_path: Path, words: tuple[str, ...]
) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name, said in (((tmp_path / "pipe"), "is a pipe or a device"), ("", "name is empty"), ("a\0b", "NUL")):
        outcome = bevelbook("--db", db, *words, name)
        assert outcome.code == 2
        assert said in " ".join(outcome.err.split())


def test_nothing_is_written_through_a_link_that_leads_nowhere(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    link, there = tmp_path / "link", tmp_path / "nowhere"
    link.symlink_to(there)
    assert bevelbook("--db", link, "new").code == 2
    assert bevelbook("--db", db, "card", "--run-sheet", "--html", link).code == 2
    assert bevelbook("--db", db, "export", "--table", "shelf", "--csv", link).code == 2
    assert not there.exists()


def test_an_infinite_fact_of_another_program_is_refused_in_words_until_it_is_worked_out_anew(
    bevelbook: Run, db: Path
) -> None:
    for words in (
        "diff label=rear-a usual_position=rear",
        "fluid label=7k viscosity=7000 viscosity_source=label",
        "build diff=rear-a built_on=2026-05-01 fluid=7k oil_mass=1.86 dry_mass=12.4",
        "run run_on=2026-05-02 rear=rear-a grip=low track_temp=20 call=keep",
        "run run_on=2026-05-03 rear=rear-a grip=low track_temp=24 call=change",
    ):
        assert bevelbook("--db", db, "record", *words.split()).code == 0
    choice = ("--db", db, "calc", "oil-choice", "--grip", "low", "--temperature", "20", "--for", "rear-a")
    whole = bevelbook(*choice)
    assert whole.code == 0
    with closing(sqlite3.connect(db, isolation_level=None)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("UPDATE build_facts SET viscosity_cst = 9e999, oil_in_g = 9e999")
    refused = bevelbook(*choice)
    assert refused.code == 2
    assert "--past: viscosity is infinite in row 1 of 2 from the records. Another program wrote that:" in refused.err
    one = bevelbook("--db", db, "calc", "headspace", "--for", "rear-a", "--free-volume", "2.2")
    assert one.code == 2
    assert "--oil-mass: not a finite number" in one.err
    assert "check --rebuild' works out again" in one.err
    bevelbook("--db", db, "check", "--rebuild")
    assert bevelbook(*choice).out == whole.out
