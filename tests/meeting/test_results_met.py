"""Kept results of two versions go along whole: with their fingerprint, and in views that hold both, whichever plugin is
there. All data are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome, empty_database
from failing_plugins import plugin

from bevelbook.plugin import registry as registries

RENAMED = "return Found(twofold_g=2 * given.mass_g, word='even', pieces=(Piece(mass_g=1.0, count=2),))"


def newer() -> str:
    return plugin("bad", compute=RENAMED).replace("version=1", "version=2").replace("double_g", "twofold_g")


def seen(path: Path) -> tuple[list[str], list[tuple[object, ...]]]:
    """The columns of the view of all results, and what is in it and in the table."""
    with closing(sqlite3.connect(path)) as connection:
        columns = [row[0] for row in connection.execute("SELECT name FROM pragma_table_info('calc_bad') ORDER BY cid")]
        rows = connection.execute(
            "SELECT v.version, v.double_g, v.twofold_g, c.fingerprint, c.fingerprint = v.fingerprint "
            "FROM calc_bad v JOIN calculations c ON c.id = v.calculation ORDER BY v.version"
        ).fetchall()
    return columns, rows


def test_results_of_two_versions_are_seen_in_full_wherever_they_go(
    bevelbook: Callable[..., Outcome], db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(registries, "_installed", lambda: ())
    folders = {}
    for name, text in (("older", plugin("bad")), ("newer", newer()), ("none", "")):
        folders[name] = tmp_path / name
        folders[name].mkdir()
        if text:
            (folders[name] / "bad.py").write_text(text, encoding="utf-8")

    def run(plugins: str, *words: object) -> None:
        done = bevelbook("--plugins", folders[plugins], *words)
        assert done.code == 0, done.out + done.err

    for plugins in ("newer", "older"):
        run(plugins, "--db", db, "calc", "bad", "--mass", "2 g", "--keep")
    columns, rows = seen(db)
    assert columns.index("twofold_g") < columns.index("double_g")
    assert [row[:3] + row[4:] for row in rows] == [(1, 4.0, None, 1), (2, None, 4.0, 1)]
    assert None not in {row[3] for row in rows}
    run("older", "--db", db, "export", tmp_path / "export")
    for plugins in folders:
        made = tmp_path / f"{plugins}.db"
        run(plugins, "--db", made, "new", "--from", tmp_path / "export")
        there, rows_there = seen(made)
        assert (there[:6], sorted(there), rows_there) == (columns[:6], sorted(columns), rows)
    mate = empty_database(tmp_path / "mate.db")
    run("older", "--db", mate, "calc", "bad", "--mass", "2 g", "--keep")
    run("older", "--db", mate, "merge", db)
    there, rows_there = seen(mate)
    assert (sorted(there), rows_there) == (sorted(columns), rows)
