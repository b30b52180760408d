"""Files that wait on the laptop: whose they are, how many, how long."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator

import pytest

from bevelbook.web.entry.waiting_files import LONGEST_S, MOST_FILES, MOST_OF_A_PHONE, WaitingFiles


class Clock:
    """A clock that stands still until it is set."""

    now = 0.0

    def __call__(self) -> float:
        return self.now


class Waiting:
    """Files that wait, asked one after the other."""

    def __init__(self) -> None:
        self.clock = Clock()
        self.files = WaitingFiles(self.clock)

    def keep(self, phone: str, content: bytes) -> str:
        return asyncio.run(self.files.keep(phone, content))

    def content(self, phone: str, sha256: str) -> bytes | None:
        return asyncio.run(self.files.read(phone, sha256, lambda file: file.read()))


@pytest.fixture
def waiting() -> Iterator[Waiting]:
    made = Waiting()
    yield made
    made.files.close()


def test_a_file_waits_for_the_phone_that_sent_it_until_it_is_dropped(waiting: Waiting) -> None:
    sha256 = waiting.keep("grey", b"notes")
    assert [waiting.content("grey", sha256) for _ in range(2)] == [b"notes", b"notes"]
    assert waiting.content("green", sha256) is None
    waiting.keep("green", b"notes")
    asyncio.run(waiting.files.drop("grey", sha256))
    assert waiting.content("grey", sha256) is None
    assert waiting.content("green", sha256) == b"notes"


def test_the_oldest_of_a_phone_goes_first_and_one_that_was_asked_for_is_new_again(waiting: Waiting) -> None:
    kept = []
    for number in range(MOST_OF_A_PHONE):
        waiting.clock.now += 1
        kept.append(waiting.keep("grey", bytes([number])))
    waiting.clock.now += 1
    assert waiting.content("grey", kept[0]) is not None
    waiting.keep("grey", b"one more")
    assert [waiting.content("grey", one) is not None for one in kept] == [True, False, True]


def test_the_same_file_sent_again_takes_no_second_place(waiting: Waiting) -> None:
    first = waiting.keep("grey", b"first")
    for _ in range(MOST_OF_A_PHONE + 1):
        waiting.clock.now += 1
        waiting.keep("grey", b"second")
    assert waiting.content("grey", first) == b"first"


def test_all_phones_together_have_a_limit(waiting: Waiting) -> None:
    kept = []
    for number in range(MOST_FILES + 2):
        waiting.clock.now += 1
        kept.append(waiting.keep(f"phone {number}", b"notes"))
    there = [waiting.content(f"phone {number}", one) is not None for number, one in enumerate(kept)]
    assert there == [False, False] + [True] * MOST_FILES


def test_a_file_that_nobody_asks_for_goes_after_a_while(waiting: Waiting) -> None:
    sha256 = waiting.keep("grey", b"notes")
    waiting.clock.now += LONGEST_S
    assert waiting.content("grey", sha256) == b"notes"
    waiting.clock.now += LONGEST_S + 1
    assert waiting.content("grey", sha256) is None
