"""The file with the paired phones: closed to others, one secret for all, nothing lost where it cannot be used."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from bevelbook.declare.errors import DatabaseError, UnknownNameError
from bevelbook.web.pairing.pairings_file import FILE_NAME, PairingsFile, Phone

BOOK = "0123456789abcdef" * 2
OTHER_BOOK = "f" * 32


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_folder_and_file_are_made_for_this_user_alone(tmp_path: Path) -> None:
    folder = tmp_path / "settings" / "bevelbook"
    before = os.umask(0)
    try:
        phones = PairingsFile(folder, BOOK)
        phones.secret()
    finally:
        os.umask(before)
    assert (mode_of(folder), mode_of(phones.path)) == (0o700, 0o600)
    assert {path.name for path in folder.iterdir()} == {FILE_NAME}
    assert phones.notices == ()


def test_a_file_that_others_could_read_is_closed_and_said(tmp_path: Path) -> None:
    PairingsFile(tmp_path, BOOK).path.chmod(0o644)
    tmp_path.chmod(0o755)
    phones = PairingsFile(tmp_path, BOOK)
    assert (mode_of(tmp_path), mode_of(phones.path)) == (0o700, 0o600)
    (notice,) = phones.notices
    assert "was open to other users of this computer" in notice
    assert PairingsFile(tmp_path, BOOK).notices == ()


def test_two_processes_at_once_have_one_secret(tmp_path: Path) -> None:
    """Both make the folder, the file and the secret, if they can."""
    code = (
        "import sys, pathlib\n"
        "from bevelbook.web.pairing.pairings_file import PairingsFile\n"
        "sys.stdin.readline()\n"
        f"print(PairingsFile(pathlib.Path(sys.argv[1]), {BOOK!r}).secret())\n"
    )
    words = [sys.executable, "-c", code, str(tmp_path / "settings")]

    def started() -> subprocess.Popen[str]:
        return subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    with started() as one, started() as other:
        for process in (one, other):
            assert process.stdin is not None
            process.stdin.write("go\n")
            process.stdin.flush()
        secrets = {process.communicate()[0].strip() for process in (one, other)}
    (secret,) = secrets
    assert len(secret) == 64
    assert PairingsFile(tmp_path / "settings", OTHER_BOOK).secret() == secret


def test_what_one_process_ends_another_refuses(tmp_path: Path) -> None:
    running, command = PairingsFile(tmp_path, BOOK), PairingsFile(tmp_path, BOOK)
    phone, own_code = running.add("blue phone", "ana")
    assert command.named("BLUE phone") == phone
    command.give_to(phone, "bo")
    found = running.find(phone.id)
    assert found is not None
    assert found.person == "bo"
    command.end(phone)
    assert running.find(phone.id) is None
    assert running.with_own_code(own_code) is None
    running.seen(phone)
    running.give_to(phone, "ana")
    assert running.all() == []


def test_a_phone_writes_to_the_book_that_it_was_paired_for(tmp_path: Path) -> None:
    phone, own_code = PairingsFile(tmp_path, BOOK).add("blue phone", "ana")
    other = PairingsFile(tmp_path, OTHER_BOOK)
    assert (other.find(phone.id), other.with_own_code(own_code), other.all()) == (None, None, [])
    assert other.cookie != PairingsFile(tmp_path, BOOK).cookie


def test_of_two_phones_with_one_name_each_has_its_id(tmp_path: Path) -> None:
    phones = PairingsFile(tmp_path, BOOK)
    one, other = phones.add("phone", "ana").phone, phones.add("phone", "bo").phone
    with pytest.raises(DatabaseError, match=f"{one.id}, {other.id}"):
        phones.named("phone")
    assert phones.named(other.id) == other
    with pytest.raises(UnknownNameError, match="Did you mean phone"):
        phones.named("phon")


@pytest.mark.parametrize("damage", ["text", "folder", "other tables"])
def test_a_file_that_cannot_be_used_is_said_with_the_way_out_and_left_as_it_is(tmp_path: Path, damage: str) -> None:
    path = tmp_path / FILE_NAME
    if damage == "text":
        path.write_bytes(b"phones\n" * 200)
    elif damage == "folder":
        path.mkdir()
    else:
        with sqlite3.connect(path) as connection:
            connection.execute("CREATE TABLE phones (x)")
        connection.close()
    with pytest.raises(DatabaseError, match=r"Nothing of the book is in it.*rename it and start again") as raised:
        PairingsFile(tmp_path, BOOK).all()
    assert str(path) in str(raised.value)
    assert damage != "text" or path.read_bytes() == b"phones\n" * 200


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path) -> None:
    (tmp_path / "settings").write_text("a file is in the way", encoding="utf-8")
    with pytest.raises(DatabaseError, match="the file with the paired phones cannot be used"):
        PairingsFile(tmp_path / "settings" / "bevelbook", BOOK)


def test_a_phone_is_kept_with_the_addresses_at_which_it_was_seen(tmp_path: Path) -> None:
    phones, start = PairingsFile(tmp_path, BOOK), datetime(2026, 5, 3, 10, tzinfo=UTC)
    paired = phones.add("blue phone", "ana", now=start).phone
    assert phones.all() == [paired]

    def seen(address: str | None, **later: float) -> list[tuple[str, bool]]:
        phones.seen(phones.all()[0], address, now=start + timedelta(**later))
        return [(one.address, one.is_left) for one in phones.all()[0].addresses]

    first, second = "http://192.0.2.7:8002", "http://192.0.2.7:8123"
    assert seen(first, seconds=1) == [(first, False)], "at once, though it was paired just now"
    assert seen(second, seconds=2) == [(second, False), (first, False)], "where it was before stays"
    assert seen(first, seconds=30) == [(first, False), (second, False)]
    there = phones.all()[0]
    seen(first, seconds=80)
    assert phones.all() == [there], "at most once a minute"
    phones.leave([(there, there.addresses[0])])
    assert seen(None, minutes=5) == [(first, True), (second, False)]
    assert seen(first, minutes=5, seconds=1) == [(first, False), (second, False)], "it came again"
    assert seen(first, days=27) == [(first, False), (second, False)]
    assert seen(first, days=29) == [(first, False)], "the other was not seen for more than four weeks"
    assert seen(None, days=90) == [(first, False)], "the last one stays"
    phones.end(phones.all()[0])
    again = phones.add("blue phone", "ana").phone
    assert phones.find(again.id) == again


def test_a_file_of_the_version_before_is_taken_over_whole(tmp_path: Path) -> None:
    """Its tables are as that version made them."""
    tmp_path.chmod(0o700)
    (tmp_path / FILE_NAME).touch(mode=0o600)
    with closing(sqlite3.connect(tmp_path / FILE_NAME)) as old, old:
        old.execute("CREATE TABLE secret (one INTEGER PRIMARY KEY CHECK (one = 1), value TEXT NOT NULL) STRICT")
        old.execute(
            "CREATE TABLE phones (id TEXT PRIMARY KEY, book TEXT NOT NULL, name TEXT NOT NULL, person TEXT NOT NULL, "
            "code_hash TEXT NOT NULL UNIQUE, paired_at TEXT NOT NULL, seen_at TEXT NOT NULL) STRICT"
        )
        old.execute("INSERT INTO secret VALUES (1, 'kept')")
        at = "2026-05-03T10:00:00+00:00"
        old.execute("INSERT INTO phones VALUES ('1', ?, 'blue phone', 'ana', 'x', ?, ?)", (BOOK, at, at))
    for _ in range(2):
        phones = PairingsFile(tmp_path, BOOK)
        assert phones.secret() == "kept"
        assert phones.all() == [Phone("1", "blue phone", "ana", at, at)]
    phones.seen(phones.all()[0], "http://bench.test:8002")
    assert [one.address for one in phones.all()[0].addresses] == ["http://bench.test:8002"]


def test_a_file_that_another_program_holds_is_not_to_be_renamed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    phones = PairingsFile(tmp_path, BOOK)
    monkeypatch.setattr("bevelbook.web.pairing.pairings_file._WAIT_SECONDS", 0.0)
    with closing(sqlite3.connect(phones.path, isolation_level=None)) as holding:
        holding.execute("BEGIN EXCLUSIVE")
        with pytest.raises(DatabaseError, match="Another program holds it") as held:
            phones.find("1")
        assert "rename" not in str(held.value)


def test_a_time_that_is_none_stops_nothing(tmp_path: Path) -> None:
    phones = PairingsFile(tmp_path, BOOK)
    phone = phones.add("blue phone", "ana").phone
    with closing(sqlite3.connect(phones.path)) as other, other:
        other.execute("UPDATE phones SET seen_at = 'long ago', paired_at = '0001-01-01T00:00:00+14:00'")
    (found,) = phones.all()
    phones.seen(found)
    assert phones.all()[0].seen_at[:2] == "20"
    assert phones.find(phone.id) is not None
