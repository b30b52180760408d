"""``bevelbook enter``: what it opens to, what it prints, the list of phones and the end of a pairing."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team

from bevelbook.store.book_mark import known_mark, mark_of
from bevelbook.store.opening import open_for_writing
from bevelbook.web.pairing.pairings_file import PairingsFile

Run = Callable[..., Any]


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder where the command keeps its pairings."""
    monkeypatch.setattr("bevelbook.web.pairing.settings_folder.settings_folder", lambda: tmp_path / "settings")
    return tmp_path / "settings"


def phones_of(path: Path, settings: Path) -> PairingsFile:
    with closing(open_for_writing(path)) as connection:
        return PairingsFile(settings, mark_of(connection))


def test_it_prints_where_it_is_and_a_code_and_leaves_the_records_alone(tmp_path: Path) -> None:
    team = make_team(tmp_path / "our team.db")
    words = [sys.executable, "-c", "from bevelbook.cli import main; main()"]
    words += ["--db", str(team.path), "enter", "--port", "0", "--host", "0.0.0.0", "--allow-network"]
    words += ["--name", "bench.test"]
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "XDG_CONFIG_HOME": str(tmp_path / "settings"), "COLUMNS": "400"}
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env) as process:
        try:
            assert process.stdout is not None
            said = ""
            while "The next phone pairs" not in said:
                line = process.stdout.readline()
                assert line, said
                said += line
            assert not any(str(tmp_path) in line for line in said.splitlines() if not line.startswith("  bevelbook "))
            assert "our team.db can be read and written at http://bench.test:" in said
            assert "Every device in the networks of this computer can read all of it: records, names," in said
            assert "Only paired phones write." in said
            assert "SQL from visitors is off there" in said
            assert "Plain http is not private" in said
            assert "A laptop that sleeps closes the book" in said
            assert re.search(r"http://bench\.test:\d+/our\+team/-/enter/pair with the code \d{4} \d{4}\n", said)
            port = re.search(r"http://bench\.test:(\d+)/", said)
            assert port is not None
            with urllib.request.urlopen(f"http://127.0.0.1:{port[1]}/our+team/-/enter/pair", timeout=30) as answer:
                assert "Who holds it" in answer.read().decode()
            process.send_signal(signal.SIGINT)
            left, _ = process.communicate(timeout=30)
            assert process.returncode == 0
            assert left.splitlines()[-1] == "Stopped."
        finally:
            process.kill()


def test_a_network_is_opened_only_where_that_is_allowed(bevelbook: Run, tmp_path: Path, settings: Path) -> None:
    team = make_team(tmp_path / "team.db")
    outcome = bevelbook("--db", team.path, "enter", "--host", "0.0.0.0", "--port", "0")
    assert outcome.code == 2
    assert "every device in that network could read the pages, and plain http is not private" in outcome.err
    assert "Add --allow-network" in outcome.err
    assert not settings.exists()


def test_it_says_what_it_cannot_open(bevelbook: Run, tmp_path: Path, settings: Path) -> None:
    outcome = bevelbook("--db", tmp_path / "none.db", "enter", "--port", "0")
    assert (outcome.code, "no such database" in outcome.err) == (2, True)
    team = make_team(tmp_path / "team.db")
    settings.write_text("a file is in the way", encoding="utf-8")
    outcome = bevelbook("--db", team.path, "enter", "--port", "0")
    assert (outcome.code, "the file with the paired phones cannot be used" in outcome.err) == (2, True)


def test_a_fault_in_the_teams_own_procedure_is_named_before_it_listens(
    bevelbook: Run, tmp_path: Path, settings: Path
) -> None:
    team = make_team(tmp_path / "team.db")
    path = tmp_path / "ours.yaml"
    path.write_text('title: "Ours"\nsteps:\n  - {key: "dry", title: "Dry", do: "Weigh.", screen: "poor"}\n')
    done = bevelbook("--db", team.path, "enter", "--port", "0", "--procedure", path)
    assert done.code == 2
    assert f'{path}, line 3, step dry, screen: there is no screen of the bench named "poor"' in done.err
    assert "Did you mean pour?" in done.err


def test_phones_are_listed_and_ended_by_name(bevelbook: Run, tmp_path: Path, settings: Path) -> None:
    path = make_team(tmp_path / "team.db").path
    assert "No phone is paired with team.db." in bevelbook("--db", path, "enter", "--phones").out
    assert not settings.exists()
    phones = phones_of(path, settings)
    phones.add("blue phone", "ana")
    phones.add("grey phone", "bo\x1b[2J")
    with closing(sqlite3.connect(phones.path)) as other, other:
        other.execute("UPDATE phones SET paired_at = 'long ago' WHERE name = 'grey phone'")
    listed = bevelbook("--db", path, "enter", "--phones")
    assert re.search(
        r"^blue phone: ana, paired \d{4}-\d\d-\d\d \d\d:\d\d, last seen .* \(id [0-9a-f]{16}\)$", listed.out, re.M
    )
    assert "\x1b" not in listed.out
    assert "paired at a time that cannot be read, “long ago”, last seen" in listed.out
    assert [phone["name"] for phone in bevelbook("--db", path, "enter", "--phones", "--json").json["phones"]] == [
        "blue phone",
        "grey phone",
    ]
    wrong = bevelbook("--db", path, "enter", "--end", "blew phone")
    assert (wrong.code, "Did you mean blue phone" in wrong.err) == (2, True)
    assert (
        "Ended: blue phone (ana) cannot write any more." in bevelbook("--db", path, "enter", "--end", "Blue phone").out
    )
    assert [phone.name for phone in phones.all()] == ["grey phone"]


def test_the_mark_of_a_database_is_made_once_and_its_copy_has_it(tmp_path: Path) -> None:
    path = make_team(tmp_path / "team.db").path
    with closing(open_for_writing(path)) as connection:
        assert known_mark(connection) is None
        mark = mark_of(connection)
        assert (mark_of(connection), known_mark(connection)) == (mark, mark)
        connection.execute("UPDATE about SET value = 'damaged' WHERE name = 'mark'")
        assert known_mark(connection) is None
        assert mark_of(connection) not in (mark, "damaged")


def test_it_does_not_start_where_paired_phones_would_not_find_it(
    bevelbook: Run, tmp_path: Path, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the word that it may be new it starts, says who is left, and starts there without a word from then on. Each
    command to copy has a line of its own and opens the same database."""
    path = make_team(tmp_path / "team.db").path
    phones = phones_of(path, settings)
    phones.seen(phones.add("blue phone", "ana").phone, "http://192.0.2.7:8002")
    listed = bevelbook("--db", path, "enter", "--phones")
    assert re.search(r"\n  at http://192\.0\.2\.7:8002, last \d{4}-\d\d-\d\d \d\d:\d\d\n", listed.out)
    (as_data,) = bevelbook("--db", path, "enter", "--phones", "--json").json["phones"]
    assert [one["address"] for one in as_data["addresses"]] == ["http://192.0.2.7:8002"]
    answering: list[Any] = []
    monkeypatch.setattr("bevelbook.web.host.enter.answer_until_stopped", answering.append)
    refused = bevelbook("--db", path, "enter", "--port", "0")
    assert (refused.code, answering) == (2, [])
    assert (
        "1 paired phone would not find team.db there: blue phone (ana) at http://192.0.2.7:8002, last on" in refused.err
    )
    copied = [line for line in refused.err.splitlines() if line.startswith("  bevelbook ")]
    assert copied == [
        f"  bevelbook --db {path} enter --host 0.0.0.0 --allow-network --port 8002",
        f"  bevelbook --db {path} enter --port 0 --new-address",
        f"  bevelbook --db {path} enter --end PHONE",
        f"  bevelbook --db {path} enter --host 0.0.0.0 --allow-network --name laptop.local --new-address",
    ]
    started = bevelbook(*copied[1].replace("  bevelbook ", "").split())
    assert (started.code, len(answering)) == (0, 1)
    assert "Left at an old address: blue phone (ana), at http://192.0.2.7:8002, last on" in started.out
    assert "brings it here and it is known; without one it is paired once more" in started.out
    assert "handed over only at the address where its page was opened" in started.out
    to_network = "--port 0 --new-address --host 0.0.0.0 --allow-network"
    assert f"\n  bevelbook --db {path} enter {to_network}\n" in started.out, "all else as it was typed"
    assert "where the book is no more" in bevelbook("--db", path, "enter", "--phones").out
    again = bevelbook("--db", path, "enter", "--port", "0")
    assert (again.code, len(answering)) == (0, 2)
    for one in answering:
        one.listening.close()


def test_it_starts_again_where_a_phone_was_before_it_was_seen_elsewhere(
    bevelbook: Run, tmp_path: Path, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Entries wait at the first port; one look at another one is enough for the phone to be known there as well."""
    path = make_team(tmp_path / "team.db").path
    phones = phones_of(path, settings)
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = free.getsockname()[1]
    phone = phones.add("blue phone", "ana").phone
    for known in (port, 8732):
        phones.seen(phone, f"http://127.0.0.1:{known}")
    answering: list[Any] = []
    monkeypatch.setattr("bevelbook.web.host.enter.answer_until_stopped", answering.append)
    started = bevelbook("--db", path, "enter", "--port", str(port))
    assert started.code == 0, started.err
    assert "Left at an old address: blue phone (ana), at http://127.0.0.1:8732" in started.out
    assert "paired once more" not in started.out, "it is known here"
    answering[0].listening.close()


def test_a_port_in_use_is_named_and_that_phones_know_it(bevelbook: Run, tmp_path: Path, settings: Path) -> None:
    path = make_team(tmp_path / "team.db").path
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = taken.getsockname()[1]
        alone = bevelbook("--db", path, "enter", "--no-sql", f"--port={port}", "--name", "team")
        assert f"127.0.0.1:{port} (Address already in use)" in alone.err
        again = re.search(
            rf"Choose another: 'bevelbook --db {path} enter --no-sql --name team --port (\d+)'", alone.err
        )
        assert again is not None and int(again[1]) > port, "the command as it was typed, at the next port"
        phones = phones_of(path, settings)
        phones.seen(phones.add("blue phone", "ana").phone, f"http://127.0.0.1:{port}")
        known = bevelbook("--db", path, "enter", "--port", str(port))
        assert (known.code, f"127.0.0.1:{port}" in known.err) == (2, True)
        assert "The paired phones know this port" in known.err


def test_a_scale_that_is_not_there_is_said_before_anything_is_opened(
    bevelbook: Run, tmp_path: Path, settings: Path
) -> None:
    team = make_team(tmp_path / "team.db")
    outcome = bevelbook("--db", team.path, "enter", "--port", "0", "--scale", tmp_path / "ttyUSB7")
    assert outcome.code == 2
    assert "ttyUSB7" in outcome.err
    assert "is not plugged in, or has another name" in outcome.err
    assert re.search(r"There is: |This computer has no serial port now", outcome.err)
    assert not settings.exists()
    wrong = bevelbook("--db", team.path, "enter", "--port", "0", "--scale", "x", "--scale-line", "fast")
    assert (wrong.code, "such as 9600,8N1" in wrong.err) == (2, True)
    alone = bevelbook("--db", team.path, "enter", "--port", "0", "--scale-ask", "P")
    assert (alone.code, "goes with --scale" in alone.err) == (2, True)
