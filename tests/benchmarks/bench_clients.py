"""32 visitors at once on the first page of a book of 100,000 builds, and as many on plain Datasette's table of builds.

Both serve as processes of their own, one after the other in each turn; plain Datasette stands in an environment without
our plugin, over the same rows without our indexes. The visitors are one process too, so that what they take is taken
from both alike. All data are constructed.

Run by hand:  python tests/benchmarks/bench_clients.py [--clients 32] [--seconds 10] [--turns 3] [--builds 100000]
                  [--peers BIN]
"""

from __future__ import annotations

import argparse
import asyncio
import statistics
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from time import monotonic

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.bench_browser import filled, without_indexes
from benchmarks.bench_served import Asked, answered, said, visit
from benchmarks.measured import Table, add_peers, command, peers
from many_servers import free_port, reached, serving

AT_LEAST = 2.0


async def _crowd(port: int, address: str, clients: int, seconds: float) -> Asked:
    """So many visitors who ask for one page again and again; the first answer, which loads files, is left out."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(f"GET {address} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    await answered(reader)
    writer.close()
    asked = Asked()
    until = monotonic() + seconds
    await asyncio.gather(*(visit(port, [address], until, seed, asked) for seed in range(clients)))
    return asked


def per_second(words: Sequence[str], port: int, address: str, folder: Path, clients: int, seconds: float) -> Asked:
    """What came of the requests to a server while it ran."""
    with serving([*words, "--port", str(port)], folder):
        reached(port)
        return asyncio.run(_crowd(port, address, clients, seconds))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clients", type=int, default=32)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--turns", type=int, default=3)
    parser.add_argument("--builds", type=int, default=100_000)
    add_peers(parser)
    asked = parser.parse_args()
    table = Table()
    ratios, failed = [], 0
    with tempfile.TemporaryDirectory() as name, peers(asked.peers) as bin_folder:
        folder = Path(name)
        filled(folder / "team.db", asked.builds)
        without_indexes(folder / "team.db", folder / "bare.db")
        ours = [command("bevelbook"), "--db", str(folder / "team.db"), "serve"]
        plain = [str(bin_folder / "datasette"), "serve", str(folder / "bare.db")]
        for _ in range(asked.turns):
            rates = []
            for what, words, address in (("ours, home", ours, "/"), ("plain, builds", plain, "/bare/builds")):
                found = per_second(words, free_port(), address, folder, asked.clients, asked.seconds)
                print(f"  {what}: {said(found, asked.seconds)}", flush=True)
                rates.append(found.statuses["200"] / asked.seconds)
                if what.startswith("ours"):
                    failed += sum(found.statuses.values()) - found.statuses["200"]
            ratios.append(rates[0] / max(rates[1], 1e-9))
    size = f"{asked.builds:,} builds, {asked.clients} clients"
    table.at_least(
        "requests a second on home", size, "plain Datasette's builds", statistics.median(ratios), " x", AT_LEAST
    )
    table.figure("requests of home that failed", size, "", float(failed), "", 0.0)
    table.end()


if __name__ == "__main__":
    main()
