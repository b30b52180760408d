"""Fetching from other laptops that are slow: nobody waits for somebody else's, and stopping ends them all.

The other laptops are sockets of this machine that take a connection and never answer.
"""

from __future__ import annotations

import asyncio
import socket
import threading
from collections.abc import Iterator
from time import monotonic

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.web.entry.gathered_weekends import MOST_FETCHING, GatheredWeekends
from bevelbook.web.entry.other_laptop import LaptopAddress


@pytest.fixture
def silent() -> Iterator[LaptopAddress]:
    """A laptop that takes connections and says nothing."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        yield LaptopAddress("127.0.0.1", listening.getsockname()[1])


@pytest.fixture
def quick() -> Iterator[LaptopAddress]:
    """A laptop that gives five bytes to one that asks."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        listening.settimeout(5)

        def serve() -> None:
            reached, _ = listening.accept()
            with reached:
                reached.settimeout(5)
                while b"by=" not in reached.recv(65536):
                    pass
                reached.sendall(b"HTTP/1.1 200 OK\r\nContent-Type: application/zip\r\nContent-Length: 5\r\n\r\na zip")

        thread = threading.Thread(target=serve)
        thread.start()
        yield LaptopAddress("127.0.0.1", listening.getsockname()[1])
        thread.join()


async def begun(weekends: GatheredWeekends, there: LaptopAddress, count: int) -> list[asyncio.Task[object]]:
    """Fetches of so many phones that are under way."""
    tasks: list[asyncio.Task[object]] = [
        asyncio.create_task(weekends.fetch(f"phone {number}", there, "12345678", "bo")) for number in range(count)
    ]
    await asyncio.sleep(0)
    return tasks


def fetching_threads() -> list[threading.Thread]:
    return [one for one in threading.enumerate() if one.name == "bevelbook-fetch"]


def test_a_slow_laptop_keeps_nobody_else_waiting(silent: LaptopAddress, quick: LaptopAddress) -> None:
    async def gather() -> int:
        weekends = GatheredWeekends()
        (slow,) = await begun(weekends, silent, 1)
        came = await weekends.fetch("another phone", quick, "12345678", "ana")
        assert not slow.done()
        weekends.close()
        with pytest.raises(InputError, match="being stopped"):
            await slow
        return came.byte_count

    assert asyncio.run(gather()) == 5


def test_where_many_are_fetched_it_is_said_from_whom(silent: LaptopAddress) -> None:
    async def gather() -> None:
        weekends = GatheredWeekends()
        tasks = await begun(weekends, silent, MOST_FETCHING)
        with pytest.raises(InputError, match=f"fetching from {MOST_FETCHING} others") as stopped:
            await weekends.fetch("one more", silent, "12345678", "ana")
        assert str(silent) in str(stopped.value.found)
        weekends.close()
        await asyncio.gather(*tasks, return_exceptions=True)

    asyncio.run(gather())


def test_a_phone_that_asks_for_another_lets_go_of_the_one_before(silent: LaptopAddress, quick: LaptopAddress) -> None:
    async def gather() -> None:
        weekends = GatheredWeekends()
        (slow,) = await begun(weekends, silent, 1)
        assert (await weekends.fetch("phone 0", quick, "12345678", "ana")).byte_count == 5
        with pytest.raises(InputError, match="asked for another one"):
            await slow
        weekends.close()

    asyncio.run(gather())


def test_stopping_ends_all_of_them_at_once_and_nothing_is_fetched_after_it(silent: LaptopAddress) -> None:
    async def gather() -> float:
        weekends = GatheredWeekends()
        tasks = await begun(weekends, silent, 2)
        stopped_at = monotonic()
        await asyncio.to_thread(weekends.end_fetching)
        ended = await asyncio.gather(*tasks, return_exceptions=True)
        assert all(isinstance(one, InputError) and "being stopped" in str(one) for one in ended), ended
        with pytest.raises(InputError, match="being stopped"):
            await weekends.fetch("later", silent, "12345678", "ana")
        return monotonic() - stopped_at

    assert asyncio.run(gather()) < 2.0
    for thread in fetching_threads():
        thread.join(timeout=2.0)
    assert fetching_threads() == [], "their connections are closed"


def test_no_thread_holds_the_process(silent: LaptopAddress) -> None:
    async def gather() -> list[bool]:
        of_others = fetching_threads()
        weekends = GatheredWeekends()
        tasks = await begun(weekends, silent, 1)
        held = [one.daemon for one in fetching_threads() if one not in of_others]
        weekends.close()
        await asyncio.gather(*tasks, return_exceptions=True)
        return held

    assert asyncio.run(gather()) == [True]
