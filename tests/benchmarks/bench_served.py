"""Many visitors at once, by hand: ``clients`` has 100 of them read the pages of the demo under ``bevelbook serve`` for
30 s and prints faults, requests a second and memory over time; ``processes`` compares one ``datasette`` process over an
immutable file with two of them behind a reverse proxy. All data are invented.

    python tests/benchmarks/bench_served.py clients [--clients 100] [--seconds 30]
    python tests/benchmarks/bench_served.py processes [--clients 16] [--seconds 10]
"""

from __future__ import annotations

import argparse
import asyncio
import html
import random
import re
import sys
import tempfile
from collections import Counter
from pathlib import Path
from statistics import median
from time import monotonic

sys.path.insert(0, str(Path(__file__).parent.parent))

from many_servers import Behind, datasettes_of, ended, free_port, proxied, reached, serving

LINK = re.compile(r'href="(/[^"#]*)"')
LEFT_OUT = re.compile(r"/-/(static|calc/)|\.(css|js|csv|json|svg|db)\b|/-/photo")


class Asked:
    """What came of the requests of all visitors."""

    def __init__(self) -> None:
        self.statuses: Counter[str] = Counter()
        self.took_s: list[float] = []
        self.wrong: list[str] = []


async def answered(reader: asyncio.StreamReader) -> tuple[int, bytes]:
    """The status and the body of one answer of HTTP/1.1, with its length or in pieces."""
    head = await reader.readuntil(b"\r\n\r\n")
    status = int(head.split(b" ", 2)[1])
    length = re.search(rb"(?i)\r\ncontent-length: *(\d+)", head)
    if length:
        return status, await reader.readexactly(int(length[1]))
    body = b""
    if re.search(rb"(?i)\r\ntransfer-encoding: *chunked", head):
        while size := int(await reader.readline(), 16):
            body += await reader.readexactly(size)
            await reader.readline()
        await reader.readline()
    return status, body


async def visit(port: int, addresses: list[str], until: float, seed: int, asked: Asked) -> None:
    """One visitor, who asks for one page after the other on one connection, in an order of its own."""
    chosen = random.Random(seed)
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    while monotonic() < until:
        address = chosen.choice(addresses)
        began = monotonic()
        try:
            writer.write(f"GET {address} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
            status, _ = await answered(reader)
        except (OSError, asyncio.IncompleteReadError) as fault:
            asked.statuses[type(fault).__name__] += 1
            reader, writer = await asyncio.open_connection("127.0.0.1", port)
            continue
        asked.statuses[str(status)] += 1
        asked.took_s.append(monotonic() - began)
        if status != 200:
            asked.wrong.append(f"{status} {address}")
    writer.close()


async def addresses_at(port: int, most: int) -> list[str]:
    """Pages that the first page and those behind it lead to."""
    found, seen = ["/"], {"/"}
    for address in found:
        if len(found) >= most:
            break
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(f"GET {address} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        status, body = await answered(reader)
        writer.close()
        if status != 200:
            found.remove(address)
        for link in map(html.unescape, LINK.findall(body.decode())):
            if link not in seen and not LEFT_OUT.search(link):
                seen.add(link)
                found.append(link)
    return found[:most]


def memory_mb(pid: int) -> float:
    """The memory of a process and of those that it started, in MB."""
    total = 0
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            said = dict(line.split(":\t", 1) for line in status.read_text().splitlines() if ":\t" in line)
        except OSError:
            continue
        if status.parent.name == str(pid) or said.get("PPid") == str(pid):
            total += int(said.get("VmRSS", "0 kB").split()[0])
    return total / 1024


async def crowd(port: int, clients: int, seconds: float, pages: int, pid: int | None = None) -> Asked:
    """Let them all read for a while; with ``pid`` the memory of that process is printed every 5 s."""
    addresses = await addresses_at(port, pages)
    asked = Asked()
    until = monotonic() + seconds
    visits = [asyncio.create_task(visit(port, addresses, until, seed, asked)) for seed in range(clients)]
    began = monotonic()
    while pid is not None and monotonic() < until:
        print(f"  {monotonic() - began:5.1f} s  {memory_mb(pid):7.1f} MB  {sum(asked.statuses.values())} answers")
        await asyncio.sleep(min(5.0, max(0.1, until - monotonic())))
    await asyncio.gather(*visits)
    if pid is not None:
        print(f"  {monotonic() - began:5.1f} s  {memory_mb(pid):7.1f} MB  {sum(asked.statuses.values())} answers")
    return asked


def said(asked: Asked, seconds: float) -> str:
    """The figures of one crowd in a line."""
    took = sorted(asked.took_s) or [0.0]
    return (
        f"{len(took) / seconds:.0f} requests a second, median {median(took) * 1000:.0f} ms, "
        f"99 of 100 within {took[int(len(took) * 0.99) - 1] * 1000:.0f} ms, {dict(asked.statuses)} {asked.wrong[:5]}"
    )


def clients(folder: Path, count: int, seconds: float, pages: int) -> int:
    """``bevelbook serve`` on the demo and its visitors; whether anything went wrong."""
    port = free_port()
    with serving(["bevelbook", "--db", str(folder / "demo.db"), "serve", "--port", str(port)], folder) as process:
        reached(port)
        asked = asyncio.run(crowd(port, count, seconds, pages, process.pid))
    print(f"{count} clients for {seconds:g} s: {said(asked, seconds)}")
    return 0 if set(asked.statuses) == {"200"} else 1


def processes(folder: Path, count: int, seconds: float, pages: int) -> int:
    """One process alone, one behind the proxy, two behind it, one after the other, three times."""
    for _ in range(3):
        for number in (1, 2):
            with datasettes_of(folder / "demo.db", number, folder) as ports:
                if number == 1:
                    asked = asyncio.run(crowd(ports[0], count, seconds, pages))
                    print(f"1 process:              {said(asked, seconds)}")
                with proxied(Behind(ports), folder) as port:
                    reached(port)
                    asked = asyncio.run(crowd(port, count, seconds, pages))
                    print(f"{number} behind the proxy:     {said(asked, seconds)}")
    return 0


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("clients", "processes"))
    parser.add_argument("--clients", type=int)
    parser.add_argument("--seconds", type=float)
    parser.add_argument("--pages", type=int, default=60, help="how many different pages are asked for")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        ended(["bevelbook", "--db", str(folder / "demo.db"), "demo"], folder)
        if given.what == "clients":
            return clients(folder, given.clients or 100, given.seconds or 30, given.pages)
        return processes(folder, given.clients or 16, given.seconds or 10, given.pages)


if __name__ == "__main__":
    sys.exit(main())
