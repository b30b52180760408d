"""``bevelbook serve``: it answers where it says, and refuses what it cannot serve."""

from __future__ import annotations

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browser_team import content_of, make_team


def test_serve_answers_at_the_files_stem_and_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    team = make_team(tmp_path / "our team.db")
    before = content_of(team.path)
    words = [sys.executable, "-c", "from bevelbook.cli import main; main()"]
    words += ["--db", str(team.path), "serve", "--port", "0"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env) as process:
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            address = next(word for word in said.split() if word.startswith("http://127.0.0.1:"))
            assert address.endswith("/our+team")
            assert str(tmp_path) not in said
            for page in (address, f"{address}/builds", address.rpartition("/")[0]):
                with urllib.request.urlopen(page, timeout=30) as answer:
                    assert answer.status == 200
            process.send_signal(signal.SIGINT)
            assert process.wait(timeout=30) == 0
        finally:
            process.kill()
    assert content_of(team.path) == before


@pytest.mark.parametrize("sort", ["missing", "folder", "text", "other", "newer", "older"])
def test_what_cannot_be_served_is_refused_in_one_message(
    bevelbook: Callable[..., Any], tmp_path: Path, sort: str
) -> None:
    path = tmp_path / "x.db"
    if sort == "folder":
        path.mkdir()
    elif sort == "text":
        path.write_text("date,diff\n", encoding="utf-8")
    elif sort == "other":
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TABLE t (x)")
        connection.close()
    elif sort in ("newer", "older"):
        make_team(path)
        with sqlite3.connect(path) as connection:
            connection.execute(f"PRAGMA user_version = {999 if sort == 'newer' else 0}")
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connection.close()
    outcome = bevelbook("--db", path, "serve", "--port", "0")
    assert outcome.code == 2
    assert outcome.out == ""
    assert {
        "missing": "no such database",
        "folder": "a folder",
        "text": "no bevelbook database",
        "other": "no bevelbook database",
        "newer": "newer version",
        "older": "new --migrate",
    }[sort] in outcome.err


def test_a_port_that_is_taken_is_said(bevelbook: Callable[..., Any], tmp_path: Path) -> None:
    team = make_team(tmp_path / "team.db")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        outcome = bevelbook("--db", team.path, "serve", "--port", taken.getsockname()[1])
    assert outcome.code == 2
    assert "--port" in outcome.err
