"""A weekend gathered from another laptop, with two real servers on this machine: looked at first, then taken in."""

from __future__ import annotations

import io
import socket
import sqlite3
import threading
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import httpx
import pytest
from browser_team import make_team
from conftest import empty_database
from two_laptops import ServedLaptop, said, served_laptop

from bevelbook.meeting import taken_in
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.soundness import faults
from bevelbook.store.writing import Writer
from bevelbook.web.entry import weekend_met
from bevelbook.web.entry.gathered_weekends import gathered_weekends

ALL = ("SELECT count(*) FROM runs", "SELECT count(*) FROM builds", "SELECT count(*) FROM entries")


@contextmanager
def laptop_of(person: str, path: Path, registry: Registry) -> Iterator[ServedLaptop]:
    """A laptop of bo with five builds and eight runs, or of ana with an empty book that is called otherwise."""
    path.mkdir()
    book = make_team(path / "team.db", "a note").path if person == "bo" else empty_database(path / "pit.db")
    with served_laptop(book, person, path / "settings", registry) as made:
        yield made


@pytest.fixture(scope="module")
def giver(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[ServedLaptop]:
    with laptop_of("bo", tmp_path_factory.mktemp("give") / "bo", registry) as made:
        yield made


@pytest.fixture(scope="module")
def looker(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[ServedLaptop]:
    """A laptop of ana that never takes anything in."""
    with laptop_of("ana", tmp_path_factory.mktemp("look") / "ana", registry) as made:
        yield made
        assert counts(made) == [0, 0, 0]
        waiting = [one for one in gathered_weekends(made.datasette)._gathered if one.state == "waits"]
        assert len(waiting) <= 1


@pytest.fixture
def gatherer(tmp_path: Path, registry: Registry) -> Iterator[ServedLaptop]:
    """A new laptop of ana."""
    with laptop_of("ana", tmp_path / "ana", registry) as made:
        yield made


def counts(laptop: ServedLaptop) -> list[int]:
    return [laptop.rows(sql)[0][0] for sql in ALL]


def kept_before(laptop: ServedLaptop) -> list[str]:
    return [one.name for one in laptop.path.parent.glob("*.before-merge*")]


def test_what_comes_is_seen_first_then_taken_in_once_and_both_sides_say_so(
    giver: ServedLaptop, gatherer: ServedLaptop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It starts two servers, and gathers from one of them three times."""
    with closing(open_for_writing(gatherer.path)) as connection, transaction(connection, gatherer.path, by="ana"):
        Writer(connection, "ana").insert(BY_NAME["idea"], {"text": "thinner in front", "noted_on": "2026-05-01"})
    before = counts(gatherer)
    assert "plain http" in said(gatherer.open(f"{gatherer.page}/gather"))
    looked = gatherer.gathers(giver.address, giver.shows_code())
    assert "What would come" in said(looked)
    assert "5 builds" in said(looked)
    assert "8 runs" in said(looked)
    assert counts(gatherer) == before, "nothing is stored before it is said"
    assert "ana fetched it at" in said(giver.open(giver.giving))
    left = gatherer.send(looked.url.path, leave="yes")
    assert "It was left: nothing was stored." in said(left)
    assert counts(gatherer) == before

    looked = gatherer.gathers(giver.address, giver.shows_code())
    with monkeypatch.context() as broken:
        broken.setattr(taken_in, "merge_into", _stops_in_the_middle)
        stopped = gatherer.send(looked.url.path, take="yes")
    assert "disk is full" in said(stopped)
    assert (counts(gatherer), kept_before(gatherer)) == (before, [])
    taken = gatherer.send(looked.url.path, take="yes")
    assert "Taken in" in said(taken)
    assert counts(gatherer) == [here + there for here, there in zip(before, counts(giver), strict=True)]
    assert gatherer.rows("SELECT count(*) FROM ideas WHERE text = 'thinner in front'") == [(1,)]
    assert kept_before(gatherer)[0] in said(taken)
    with closing(open_for_writing(gatherer.path)) as connection:
        assert list(faults(connection)) == []
    there = counts(gatherer)
    token = gatherer.browser.cookies["ds_csrftoken"]
    assert gatherer.browser.post(looked.url.path, data={"take": "yes", "csrftoken": token}).status_code == 303
    assert counts(gatherer) == there, "pressed twice it is taken in once"

    again = gatherer.gathers(giver.address, giver.shows_code())
    assert "All of it was here already." in said(again)
    assert "Take it in" not in said(again)
    assert (counts(gatherer), len(kept_before(gatherer))) == (there, 1)


def _stops_in_the_middle(connection: sqlite3.Connection, path: Path, *_: object, **__: object) -> None:
    with transaction(connection, path, stores_entry=False):
        Writer(connection, "bo").insert(BY_NAME["person"], {"name": "bo"})
        raise sqlite3.OperationalError("database or disk is full")


def test_a_wrong_code_and_one_used_are_said_beside_the_field(giver: ServedLaptop, looker: ServedLaptop) -> None:
    code = giver.shows_code()
    other = f"{(int(code) + 1) % 10**8:08d}"
    wrong = looker.gathers(giver.address, other)
    assert wrong.status_code == 400
    assert "No weekend waits there with this code" in said(wrong)
    assert f'value="{giver.address}"' in wrong.text, "what was typed stays"
    looker.gathers(giver.address, code)
    used = looker.gathers(giver.address, code)
    assert "No weekend waits there with this code" in said(used)


@pytest.mark.parametrize(
    ("address", "why"),
    [
        ("93.184.216.34:8002", "not of a private network"),
        ("bench.test:8002", "only the numbers of an address are taken"),
        ("192.168.1.7:22", "belong to other services"),
        ("", "not the address of a laptop"),
    ],
)
def test_an_address_elsewhere_is_refused(looker: ServedLaptop, address: str, why: str) -> None:
    refused = looker.gathers(address, "12345678")
    assert refused.status_code == 400
    assert why in said(refused)


def test_only_a_paired_phone_gives_and_gathers(giver: ServedLaptop, looker: ServedLaptop) -> None:
    for laptop in (giver, looker):
        for page in ("give", "gather"):
            address = f"http://{laptop.address}{laptop.page}/{page}"
            assert httpx.get(address).status_code == 403
            assert httpx.post(address, data={"address": giver.address, "since": "2020-01-01"}).status_code == 403


@contextmanager
def third_machine(content: bytes, kind: str = "application/zip") -> Iterator[str]:
    """Something that answers whoever asks it with a file."""
    head = f"HTTP/1.1 200 OK\r\nContent-Type: {kind}\r\nContent-Length: {len(content)}\r\n\r\n".encode()
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(5)

        def serve() -> None:
            reached, _ = listening.accept()
            with reached:
                reached.recv(65536)
                reached.sendall(head + content)
                reached.shutdown(socket.SHUT_WR)
                while reached.recv(65536):
                    pass

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield f"127.0.0.1:{listening.getsockname()[1]}"
        finally:
            thread.join()


def zipped(**files: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name.replace("__", "/"), content)
    return file.getvalue()


@pytest.mark.parametrize(
    ("content", "kind", "why"),
    [
        (b"<html>", "text/html", "no laptop that gives a weekend"),
        (b"no zip at all", "application/zip", "othing was"),
        (zipped(a=b"x" * 60_000_000), "application/zip", "othing was"),
        (zipped(**{"..__..__evil": b"x"}), "application/zip", "othing was"),
        (zipped(**{"datapackage.json": b"{}"}), "application/zip", "it sent is not a weekend"),
    ],
    ids=["a page", "no zip", "a bomb", "a path", "no export"],
)
def test_what_a_third_machine_sends_is_refused_and_nothing_is_left(
    looker: ServedLaptop, content: bytes, kind: str, why: str
) -> None:
    with third_machine(content, kind) as address:
        refused = looker.gathers(address, "12345678")
    assert refused.status_code == 400, said(refused)
    assert why in said(refused)
    assert "/tmp" not in refused.text, "no path of the laptop"


def test_more_than_a_page_takes_in_is_refused(
    giver: ServedLaptop, looker: ServedLaptop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(weekend_met, "MOST_ROWS", 20)
    refused = looker.gathers(giver.address, giver.shows_code())
    assert refused.status_code == 400
    assert "rows, and a page takes in at most 20" in said(refused)
