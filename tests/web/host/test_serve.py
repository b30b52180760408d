"""``bevelbook serve``: it answers where it says, and refuses what it cannot serve."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from functools import partial
from html import unescape
from http.client import HTTPConnection
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from browser_team import Site, content_of, make_team, site_over

from bevelbook.cli.opened import takes_sql
from bevelbook.plugin.registry import Registry
from bevelbook.store.last_step import LAST_STEP
from bevelbook.web.host.serve import listen_from

TAKES_MINUTES = (
    "WITH long(a, b) AS (SELECT hex(zeroblob(99000)), hex(zeroblob(47000))) SELECT "
    + " + ".join(f"instr(a, b || '{number}1')" for number in range(400))
    + " FROM long"
)
"""A question that SQLite does not break off: half a second for each function, and no step in between at which it
would."""


@pytest.fixture
def team_site(tmp_path: Path, registry: Registry) -> Iterator[Site]:
    with site_over(make_team(tmp_path / "team.db").path, registry) as site:
        yield site


def test_it_shows_what_others_change_meanwhile_and_ends_without_a_trace(
    bevelbook: Callable[..., Any], tmp_path: Path
) -> None:
    """One process does it all: to start one takes longest. This one is another, with commands of its own."""
    team = make_team(tmp_path / "our team.db", note="short")
    other = make_team(tmp_path / "other.db", note="short")
    before = content_of(team.path)
    words = [sys.executable, "-c", "from bevelbook.cli import main; main()"]
    words += ["--db", str(team.path), "serve", "--port", "0"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env) as process:
        try:
            assert process.stdout is not None
            said = process.stdout.readline()
            found = re.search(r"http://127\.0\.0\.1:(\d+)/ \(read-only\)", said)
            assert found, said
            assert str(tmp_path) not in said
            with closing(HTTPConnection("127.0.0.1", int(found[1]), timeout=30)) as browser:
                asked = partial(page_at, browser)
                assert "<h1>Shelf" in asked("/")
                assert asked("/our+team") and asked("/our+team/builds")
                assert "does not go by the name" in asked("/our+team/builds", host="elsewhere.test", status=421)
                assert "<svg" in asked("/our+team/-/chart/blend-line")
                assert content_of(team.path) == before

                assert bevelbook("--db", team.path, "record", "venue", "name=Quarry Yard").code == 0
                assert "Quarry Yard" in asked("/our+team/venues")
                assert bevelbook("--db", other.path, "record", "venue", "name=Mill Lane").code == 0
                assert bevelbook("--db", team.path, "merge", other.path).code == 0
                assert "Mill Lane" in asked("/our+team/venues")
                with closing(sqlite3.connect(team.path)) as newer, newer:
                    newer.execute("ALTER TABLE venues ADD COLUMN of_a_later_step TEXT")
                    newer.execute("UPDATE venues SET of_a_later_step = 'read on'")
                    newer.execute(f"PRAGMA user_version = {LAST_STEP + 1}")
                with closing(HTTPConnection("127.0.0.1", int(found[1]))) as other_browser:
                    other_browser.request("GET", f"/our+team.json?{urlencode({'sql': TAKES_MINUTES})}")
                    assert "read on" in asked("/our+team/venues")
                    assert "<h1>Shelf" in asked("/")

                    children = children_of(process.pid)
                    process.send_signal(signal.SIGTERM)
                    left, _ = process.communicate(timeout=20)
            assert process.returncode == 0
            assert left.splitlines()[-1] == "Stopped."
            assert "Traceback" not in left
            assert [one for one in children if Path(f"/proc/{one}").exists()] == []
        finally:
            process.kill()


def page_at(browser: HTTPConnection, path: str, *, host: str | None = None, status: int = 200) -> str:
    """A page, asked for over a connection that stays open."""
    browser.request("GET", path, headers={"Host": host} if host else {})
    answer = browser.getresponse()
    text = answer.read().decode()
    assert answer.status == status, (path, text[:500])
    return text


def children_of(process: int) -> list[str]:
    """The ids of the processes that one has started, where the system says so; at least the one that draws."""
    listed = [path.read_text() for path in Path(f"/proc/{process}/task").glob("*/children")]
    found = " ".join(listed).split()
    assert found or not listed
    return found


def damage_schema(path: Path) -> None:
    """Have the text of one trigger be none of SQL, as a bit that tipped over on the disk would."""
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        changed = "UPDATE sqlite_master SET sql = replace(sql, 'CREATE', 'CREAT?') WHERE name = 'builds_removed'"
        assert connection.execute(changed).rowcount == 1
    connection.close()


def test_a_file_damaged_while_it_is_served_is_reported_on_its_pages(team_site: Site) -> None:
    assert team_site.get("/team/-/home").status_code == 200
    path = Path(team_site.datasette.databases["team"].path)
    damage_schema(path)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("PRAGMA schema_version = 999")
    connection.close()
    answer = team_site.get("/team/-/home")
    assert answer.status_code == 400
    assert "its list of tables is damaged" in unescape(answer.text)


def test_a_record_that_was_found_and_cannot_be_read_is_reported_as_damage(tmp_path: Path, registry: Registry) -> None:
    """The page of the index by which a record is read is empty; that of the index by name still has it."""
    path = make_team(tmp_path / "team.db").path
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        size = connection.execute("PRAGMA page_size").fetchone()[0]
        find = "SELECT rootpage FROM sqlite_master WHERE name = ?"
        pages = [
            connection.execute(find, (f"sqlite_autoindex_{table}_1",)).fetchone()[0]
            for table in ("diffs", "fluids", "venues", "builds")
        ]
    connection.close()
    empty_leaf = bytes((10, 0, 0, 0, 0)) + (size % 65536).to_bytes(2, "big") + bytes(size - 7)
    with path.open("r+b") as file:
        for page in pages:
            file.seek((page - 1) * size)
            file.write(empty_leaf)
    with site_over(path, registry) as site:
        for page in ("diff/rear-a", "venue/Tannery+Hall", "fluid/7~2C000", "build/rear-a~2F1"):
            answer = site.get(f"/team/-/{page}")
            assert answer.status_code == 400, page
            assert "the file is damaged" in unescape(answer.text), page


@pytest.mark.parametrize("sort", ["missing", "folder", "text", "other", "newer", "older", "damaged schema"])
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
    elif sort == "damaged schema":
        make_team(path)
        damage_schema(path)
    outcome = bevelbook("--db", path, "serve", "--port", "0")
    assert outcome.code == 2
    assert outcome.out == ""
    assert {
        "missing": "no such database",
        "folder": "a folder",
        "text": "not a bevelbook database",
        "other": "not a bevelbook database",
        "newer": "newer version",
        "older": "new --migrate",
        "damaged schema": "its list of tables is damaged",
    }[sort] in outcome.err


def test_the_next_free_port_is_taken_where_one_is_in_use_but_not_one_that_is_left_out() -> None:
    with two_free_ports_in_a_row() as (taken, after):
        with closing(listen_from("127.0.0.1", taken, leave_out=(), remedy="")) as listening:
            assert listening.getsockname()[1] == after
        with closing(listen_from("127.0.0.1", taken, leave_out=(after,), remedy="")) as listening:
            assert listening.getsockname()[1] > after


@contextmanager
def two_free_ports_in_a_row() -> Iterator[tuple[int, int]]:
    """A port that is in use, and the one after it, which was free a moment before."""
    while True:
        with closing(socket.create_server(("127.0.0.1", 0))) as taken:
            port = taken.getsockname()[1]
            try:
                socket.create_server(("127.0.0.1", port + 1)).close()
            except (OSError, OverflowError):
                continue
            yield port, port + 1
            return


def test_an_address_that_this_computer_does_not_have_is_refused(bevelbook: Callable[..., Any], tmp_path: Path) -> None:
    team = make_team(tmp_path / "team.db")
    outcome = bevelbook("--db", team.path, "serve", "--host", "192.0.2.77", "--port", "0")
    assert outcome.code == 2
    assert "192.0.2.77:0 (Cannot assign requested address)" in outcome.err
    assert "This computer does not have that address now" in outcome.err
    unknown = bevelbook("--db", team.path, "serve", "--host", "no such host", "--port", "0")
    assert (unknown.code, "'bevelbook --db" in unknown.err) == (2, True)


@pytest.mark.parametrize("name", ["our team", "192.0.2.7", "-x", "a/b", "x" * 64, "größe", ""])
def test_what_is_no_name_of_a_machine_is_refused(bevelbook: Callable[..., Any], tmp_path: Path, name: str) -> None:
    for command in ("serve", "enter"):
        outcome = bevelbook("--db", tmp_path / "team.db", command, "--name", name)
        assert outcome.code == 2
        assert "--name takes a name alone, such as team or bench.lan" in outcome.err


def test_sql_is_for_this_computer_alone_unless_it_is_allowed(bevelbook: Callable[..., Any], tmp_path: Path) -> None:
    assert takes_sql(no_sql=False, allow_sql=False, host="127.0.0.1")
    assert not takes_sql(no_sql=True, allow_sql=False, host="127.0.0.1")
    assert not takes_sql(no_sql=False, allow_sql=False, host="0.0.0.0")
    assert takes_sql(no_sql=False, allow_sql=True, host="0.0.0.0")
    both = bevelbook("--db", tmp_path / "team.db", "serve", "--no-sql", "--allow-sql")
    assert (both.code, "exclude each other" in both.err) == (2, True)


def test_a_fault_is_logged_without_the_values_of_all_variables(
    tmp_path: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Drawing them takes seconds, in which nobody else is answered."""
    monkeypatch.setattr("datasette.handle_exception.rich", pytest.importorskip("rich"))
    with site_over(make_team(tmp_path / "team.db").path, registry) as site:
        assert site.get("/team/-/diff/no-such-diff").status_code == 404
    logged = "".join(capsys.readouterr())
    assert "locals" not in logged
    assert "no-such-diff" not in logged
