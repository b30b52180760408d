"""How long each page holds up all others: what the server's one loop works without a break while the page is asked for.

The loop is asked for a beat all the time; the longest processor time of its thread between two beats is what another
person waits at least. Pages of a database of so many builds, and those that show most of it.

Run by hand:  python tests/benchmarks/bench_pauses.py [--count 10000] [--turns 3] [--over 50]
"""

from __future__ import annotations

import argparse
import asyncio
import sys
import tempfile
import time
from pathlib import Path
from typing import Any, Final

sys.path.append(str(Path(__file__).parent))

from bench_browser import PAGES, filled

from bevelbook.plugin.registry import load
from bevelbook.web.host.serve import datasette_for

LARGE: Final = {
    "table builds, largest page": "/team/builds?_size=max",
    "view shelf, largest page": "/team/shelf?_size=max",
    "view build_sheet, largest page": "/team/build_sheet?_size=max",
    "view what_worked, largest page": "/team/what_worked?_size=max",
    "builds, JSON, largest page": "/team/builds.json?_size=max",
    "builds, JSON of objects": "/team/builds.json?_size=max&_shape=objects",
    "builds, JSON, newline": "/team/builds.json?_size=max&_shape=array&_nl=on",
    "builds, CSV streamed": "/team/builds.csv?_stream=on",
    "runs, CSV streamed": "/team/runs.csv?_stream=on",
    "builds, CSV streamed with labels": "/team/builds.csv?_stream=on&_labels=on",
    "history, largest page": "/team/history?_size=max",
    "wide query": f"/team?sql=select+{','.join(['*'] * 12)}+from+builds",
    "oil choice": "/team/-/calc/oil-choice?grip=high&track_temp_c=30",
    "leak trend": "/team/-/calc/leak-trend?for=build:{build_label}",
    "charts": "/team/-/charts",
    "afternoon": "/team/-/afternoon?warmer=3",
    "calls": "/team/-/calls",
    "scales": "/team/-/scales",
    "sheet": "/team/-/sheet/{build}",
    "help": "/team/-/help",
    "calculators": "/team/-/calculators",
    "reference": "/team/-/reference",
    "clashes": "/team/-/clashes",
    "photos": "/team/-/photos",
}


class Pauses:
    """The longest that the loop's thread worked between two beats, in seconds of its processor time."""

    def __init__(self) -> None:
        self.longest_s = 0.0

    async def beat(self) -> None:
        before = time.thread_time()
        while True:
            await asyncio.sleep(0)
            now = time.thread_time()
            self.longest_s = max(self.longest_s, now - before)
            before = now


async def measured(datasette: Any, address: str) -> tuple[int, float, float, int]:
    """Status, longest pause, time by the clock and bytes of one page."""
    pauses = Pauses()
    beating = asyncio.create_task(pauses.beat())
    began = time.perf_counter()
    page = await datasette.client.get(address, follow_redirects=True)
    took = time.perf_counter() - began
    for _ in range(3):
        await asyncio.sleep(0)
    beating.cancel()
    return page.status_code, pauses.longest_s, took, len(page.content)


async def main() -> None:
    """Print the pages by their pauses, the longest first."""
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--count", type=int, default=10_000)
    wanted.add_argument("--turns", type=int, default=3)
    wanted.add_argument("--over", type=float, default=50.0, help="milliseconds from which a page is marked")
    asked = wanted.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "team.db"
        names = filled(path, asked.count)
        datasette = datasette_for(path, load())
        await datasette.invoke_startup()
        found = []
        for name, address in {**PAGES, **LARGE}.items():
            turns = [await measured(datasette, address.format(**names)) for _ in range(asked.turns + 1)][1:]
            status, _, _, size = turns[0]
            found.append((min(one[1] for one in turns), min(one[2] for one in turns), size, status, name))
        for pause, took, size, status, name in sorted(found, reverse=True):
            mark = "*" if 1_000 * pause > asked.over else " "
            print(f"{mark} {1_000 * pause:7.0f} ms of {1_000 * took:7.0f} ms {size / 1e6:6.2f} MB {status} {name}")


if __name__ == "__main__":
    asyncio.run(main())
