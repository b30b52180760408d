"""Fetching from another laptop: only from a private network, only a zip, of a size and in a time that are bounded.

Each odd laptop is a socket of this machine that answers what the test says. Which networks are private is in RFC 1918
(10/8, 172.16/12, 192.168/16), RFC 3927 (169.254/16), RFC 4193 (fc00::/7) and RFC 4291 (fe80::/10, ::1).
"""

from __future__ import annotations

import io
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from time import monotonic
from urllib.parse import parse_qs

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.web.entry.other_laptop import WEEKEND_ADDRESS, LaptopAddress, fetch_weekend, laptop_address

ZIP = b"HTTP/1.1 200 OK\r\nContent-Type: application/zip\r\nContent-Length: %d\r\n\r\n"
Answer = Callable[[socket.socket], None]


@contextmanager
def laptop(answer: Answer | bytes, asked: list[bytes] | None = None) -> Iterator[LaptopAddress]:
    """A laptop that answers one request so, and then no other."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(5)

        def serve() -> None:
            with suppress(OSError):
                reached, _ = listening.accept()
                with reached:
                    reached.settimeout(5)
                    came = b""
                    while b"\r\n\r\n" not in came or not came.endswith(b"by=bo"):
                        piece = reached.recv(65536)
                        if not piece:
                            return
                        came += piece
                    if asked is not None:
                        asked.append(came)
                    if callable(answer):
                        answer(reached)
                    else:
                        reached.sendall(answer)

        thread = threading.Thread(target=serve)
        thread.start()
        try:
            yield LaptopAddress("127.0.0.1", listening.getsockname()[1])
        finally:
            listening.close()
            thread.join()


def fetched(answer: Answer | bytes, *, silent_s: float = 2.0, whole_s: float = 2.0, most_bytes: int = 100_000) -> bytes:
    file = io.BytesIO()
    with laptop(answer) as there:
        count = fetch_weekend(there, "12345678", "bo", file, silent_s=silent_s, whole_s=whole_s, most_bytes=most_bytes)
    assert count == len(file.getvalue())
    return file.getvalue()


def test_the_code_is_sent_without_a_cookie_and_the_zip_comes_back() -> None:
    asked: list[bytes] = []
    file = io.BytesIO()
    with laptop(ZIP % 5 + b"a zip", asked) as there:
        assert fetch_weekend(there, "1234 5678", "bo", file) == 5
    assert file.getvalue() == b"a zip"
    head, _, body = asked[0].partition(b"\r\n\r\n")
    assert head.startswith(f"POST {WEEKEND_ADDRESS} HTTP/1.1\r\n".encode())
    assert f"Host: 127.0.0.1:{there.port}".encode() in head
    assert b"cookie" not in head.lower()
    assert parse_qs(body.decode()) == {"code": ["1234 5678"], "by": ["bo"]}


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("192.168.1.7:8002", "192.168.1.7:8002"),
        (" http://10.1.2.3/team/-/home ", "10.1.2.3:8002"),
        ("172.31.255.1:9000", "172.31.255.1:9000"),
        ("169.254.3.4", "169.254.3.4:8002"),
        ("127.0.0.1:8003", "127.0.0.1:8003"),
        ("[fd00::7]:8002", "[fd00::7]:8002"),
        ("[fe80::7]", "[fe80::7]:8002"),
        ("[::ffff:10.0.0.1]:8002", "10.0.0.1:8002"),
    ],
)
def test_an_address_of_a_private_network_is_read(typed: str, meant: str) -> None:
    assert str(laptop_address(typed)) == meant


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("", "not the address of a laptop"),
        ("laptop.local:8002", "this is a name"),
        ("localhost:8002", "this is a name"),
        ("192.168.1:8002", "this is a name"),
        ("0x7f000001:8002", "this is a name"),
        ("93.184.216.34:8002", "not of a private network"),
        ("172.32.0.1", "not of a private network"),
        ("0.0.0.0:8002", "not of a private network"),
        ("192.0.2.1:8002", "not of a private network"),
        ("[2606:2800:220:1::1]:8002", "not of a private network"),
        ("[::ffff:93.184.216.34]:8002", "not of a private network"),
        ("192.168.1.7:80", "belong to other services"),
        ("192.168.1.7:0", "belong to other services"),
        ("192.168.1.7:99999", "not the address of a laptop"),
        ("https://192.168.1.7:8002", "only plain http"),
        ("file:///etc/passwd", "only plain http"),
        ("ana@192.168.1.7:8002", "not the address of a laptop"),
        ("192.168.1.7:8002\r\nHost: elsewhere", "not the address of a laptop"),
    ],
)
def test_any_other_address_is_refused_before_anything_is_sent(typed: str, why: str) -> None:
    with pytest.raises(InputError, match=why) as stopped:
        laptop_address(typed)
    assert stopped.value.code == "laptop_address"


def test_an_address_as_the_other_laptop_shows_it_is_not_to_be_typed_again() -> None:
    with pytest.raises(InputError) as stopped:
        laptop_address("192.0.2.2:8812")
    assert "Type it" not in str(stopped.value)
    assert "such as a phone's hotspot, or have that laptop write a file" in str(stopped.value)


def endless(reached: socket.socket) -> None:
    with suppress(OSError):
        while True:
            reached.sendall(b"x" * 65536)


def endless_after(head: bytes) -> Answer:
    def answer(reached: socket.socket) -> None:
        reached.sendall(head)
        endless(reached)

    return answer


def drop_by_drop(head: bytes, drop: bytes) -> Answer:
    """Never silent for long, and never done."""

    def answer(reached: socket.socket) -> None:
        pause = threading.Event()
        with suppress(OSError):
            reached.sendall(head)
            while not pause.wait(0.02):
                reached.sendall(drop)

    return answer


def silent(reached: socket.socket) -> None:
    with suppress(OSError):
        reached.recv(1)


def refusal(status: bytes, code: bytes) -> bytes:
    said = b'{"done": "refused", "code": "%s", "words": "no"}' % code
    head = b"HTTP/1.1 %s\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n"
    return head % (status, len(said)) + said


def announcing(reached: socket.socket) -> None:
    with suppress(OSError):
        while True:
            reached.sendall(b"HTTP/1.1 100 Continue\r\n\r\n" * 100)


REFUSED: dict[str, tuple[Answer | bytes, str]] = {
    "a wrong code": (refusal(b"403 Forbidden", b"weekend_code_wrong"), "no weekend waits there with this code"),
    "too many wrong codes": (refusal(b"429 Wait", b"pairing_codes_wait"), "too many wrong codes"),
    "another program that refuses": (
        b"HTTP/1.1 403 Forbidden\r\nContent-Length: 0\r\n\r\n",
        "no laptop that gives a weekend",
    ),
    "another program that refuses in data": (refusal(b"403 Forbidden", b"other"), "no laptop that gives a weekend"),
    "another program that has us wait": (
        b"HTTP/1.1 429 Wait\r\nContent-Length: 0\r\n\r\n",
        "no laptop that gives a weekend",
    ),
    "announcements without an end": (announcing, "no laptop that gives a weekend"),
    "a redirect": (
        b"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:1/\r\nContent-Length: 0\r\n\r\n",
        "sends on to another address, which is not gone to",
    ),
    "a page": (
        b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 6\r\n\r\n<html>",
        "no laptop that gives a weekend",
    ),
    "no such page": (b"HTTP/1.1 404 Not Found\r\nContent-Length: 0\r\n\r\n", "no laptop that gives a weekend"),
    "another name": (b"HTTP/1.1 421 Elsewhere\r\nContent-Length: 0\r\n\r\n", "no laptop that gives a weekend"),
    "no length": (
        endless_after(b"HTTP/1.1 200 OK\r\nContent-Type: application/zip\r\n\r\n"),
        "no laptop that gives a weekend",
    ),
    "pieces without an end": (
        endless_after(b"HTTP/1.1 200 OK\r\nContent-Type: application/zip\r\nTransfer-Encoding: chunked\r\n\r\n"),
        "no laptop that gives a weekend",
    ),
    "too long": (endless_after(ZIP % 200_000), "it would send 200 kB, and at most 100 kB are taken"),
    "too short": (ZIP % 100 + b"a zip", "it did not come whole"),
    "not http": (b"220 mail.example ready\r\n", "no laptop that gives a weekend"),
    "a line without an end": (endless, "no laptop that gives a weekend"),
    "headers without an end": (
        lambda reached: endless_after(b"HTTP/1.1 200 OK\r\n" + b"x: y\r\n" * 200)(reached),
        "no laptop that gives a weekend",
    ),
    "nothing": (b"", "no laptop that gives a weekend"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_whatever_is_no_weekend_is_refused_in_words(name: str) -> None:
    answer, why = REFUSED[name]
    with pytest.raises(InputError, match=why):
        fetched(answer)


def test_a_long_answer_brings_no_more_than_it_said() -> None:
    assert fetched(endless_after(ZIP % 1000)) == b"x" * 1000


@pytest.mark.parametrize(
    ("answer", "why"),
    [
        (drop_by_drop(b"HTTP/1.1 200 OK\r\n", b"x"), "it takes longer than"),
        (drop_by_drop(b"", b"HTTP/1.1 100 Continue\r\n\r\n"), "it takes longer than"),
        (drop_by_drop(ZIP % 90_000, b"x" * 200), "it takes longer than"),
        (silent, "says nothing"),
    ],
    ids=["headers", "announcements", "content", "nothing"],
)
def test_a_slow_laptop_is_left(answer: Answer, why: str) -> None:
    begun = monotonic()
    with pytest.raises(InputError, match=why):
        fetched(answer, silent_s=0.2, whole_s=0.3)
    assert monotonic() - begun < 4.0


def test_what_comes_drop_by_drop_is_given_up_long_before_the_end_of_the_time() -> None:
    begun = monotonic()
    with pytest.raises(InputError, match="almost nothing comes"):
        fetched(drop_by_drop(ZIP % 90_000, b"x"), silent_s=0.2, whole_s=60.0)
    assert monotonic() - begun < 4.0


def test_before_a_file_begins_less_time_is_given_than_for_all_of_it() -> None:
    with laptop(drop_by_drop(b"HTTP/1.1 200 OK\r\n", b"x")) as there, pytest.raises(InputError, match="than 0 s"):
        fetch_weekend(there, "12345678", "bo", io.BytesIO(), head_s=0.2)


@pytest.mark.parametrize("address", ["127.0.0.1:8003", "[::1]:8003", "[::ffff:127.0.0.1]:8003"])
def test_from_another_machine_nothing_of_the_laptop_itself_is_asked(address: str) -> None:
    with pytest.raises(InputError, match="the laptop itself"):
        laptop_address(address, may_be_here=False)


def test_where_nothing_listens_that_is_said() -> None:
    with socket.create_server(("127.0.0.1", 0)) as once:
        there = LaptopAddress("127.0.0.1", once.getsockname()[1])
    with pytest.raises(InputError, match="nothing answers there"):
        fetch_weekend(there, "12345678", "bo", io.BytesIO())
