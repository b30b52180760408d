"""Our pages on 100,000 builds, against plain Datasette's page of that table with the same facets, in one run.

Plain: default settings, none of our plugin, none of our indexes. Run by hand:

    python tests/benchmarks/bench_browser.py [COUNT]
"""

from __future__ import annotations

import asyncio
import random
import shutil
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final

from bevelbook.browser.serving import datasette_for
from bevelbook.records import KINDS
from bevelbook.registry import load
from bevelbook.store.ids import new_id
from bevelbook.store.opening import new_database, transaction
from bevelbook.store.schema import search_fill_sql

TURNS: Final = 5
FACETS: Final = "_facet=diff&_facet=kind&_facet=fluid"
NOW: Final = "2026-05-04T10:00:00.000Z"
SEED: Final = 7


def filled(path: Path, count: int) -> str:
    """A database of ``count`` builds of 400 diffs, each run once, half of them weighed; returns the id of one build."""
    connection = new_database(path)
    chance = random.Random(SEED)

    def insert(table: str, rows: Iterable[Mapping[str, object]]) -> None:
        rows = list(rows)
        names = [*rows[0], "created_at", "updated_at"]
        connection.executemany(
            f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join('?' * len(names))})",
            ((*row.values(), NOW, NOW) for row in rows),
        )

    def day(number: int) -> str:
        return f"{2016 + number * 10 // count}-{chance.randrange(1, 13):02d}-{chance.randrange(1, 29):02d}"

    ids = {name: [new_id() for _ in range(size)] for name, size in (("diffs", 400), ("fluids", 8), ("venues", 5))}
    builds, runs = ([new_id() for _ in range(count)] for _ in range(2))
    with transaction(connection, path):
        insert("diffs", ({"id": one, "label": f"rear-{place:03d}"} for place, one in enumerate(ids["diffs"])))
        insert("venues", ({"id": one, "name": f"Hall {place}"} for place, one in enumerate(ids["venues"])))
        insert(
            "fluids",
            (
                {"id": one, "label": f"{1000 * (place + 1):,}", "viscosity_cst": 1000.0 * (place + 1)}
                for place, one in enumerate(ids["fluids"])
            ),
        )
        insert(
            "builds",
            (
                {
                    "id": one,
                    "label": f"rear-{place % 400:03d}/{place // 400 + 1}",
                    "diff": ids["diffs"][place % 400],
                    "built_on": day(place),
                    "kind": chance.choice(("rebuild", "new", "oil change", "top-up")),
                    "fluid": chance.choice(ids["fluids"]),
                    "dry_mass_g": round(12.4 + chance.gauss(0, 0.02), 2),
                    "oil_mass_g": 1.86,
                    "filled_mass_g": 14.26,
                    "closed_mass_g": 22.4,
                    "mass_basis": "open half",
                    "hand_feel": "smooth",
                    "note": f"note {place}",
                }
                for place, one in enumerate(builds)
            ),
        )
        insert(
            "runs",
            (
                {
                    "id": one,
                    "label": f"run {place}",
                    "run_on": day(place),
                    "day_order": 1 + place % 9,
                    "venue": chance.choice(ids["venues"]),
                    "grip": chance.choice(("low", "medium", "high")),
                    "track_temp_c": round(chance.uniform(10, 48), 1),
                    "runs": 2.0,
                    "call": chance.choice(("keep", "change", "undecided")),
                }
                for place, one in enumerate(runs)
            ),
        )
        pairs = list(zip(runs, builds, strict=True))
        insert("run_diffs", ({"id": new_id(), "run": run, "build": build, "position": "rear"} for run, build in pairs))
        insert(
            "weighings",
            (
                {"id": new_id(), "build": build, "mass_g": 22.39, "mass_basis": "closed", "runs": 2.0}
                for build in builds[::2]
            ),
        )
        insert(
            "seal_fittings",
            ({"id": new_id(), "build": one, "place": "joint", "condition": "new"} for one in builds[::50]),
        )
        for kind in KINDS:
            if kind.searched:
                connection.execute(search_fill_sql(kind))
    connection.close()
    return builds[count * 7 // 10]


def without_indexes(path: Path, target: Path) -> None:
    """A copy that has the same rows and none of our indexes."""
    shutil.copy(path, target)
    connection = sqlite3.connect(target, isolation_level=None)
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = 'index' AND sql IS NOT NULL").fetchall()
    for (name,) in found:
        connection.execute(f'DROP INDEX "{name}"')
    connection.close()


def plain_datasette(path: Path) -> Any:
    """Datasette at its default settings, without our plugin."""
    from datasette.app import Datasette
    from datasette.plugins import pm

    for plugin in list(pm.get_plugins()):
        if getattr(plugin, "__name__", "").startswith("bevelbook"):
            pm.unregister(plugin)
    return Datasette([str(path)])


async def seconds(datasette: Any, address: str) -> float:
    """The median time of a page."""
    await datasette.invoke_startup()
    times = []
    for _ in range(TURNS):
        start = time.perf_counter()
        answer = await datasette.client.get(address)
        times.append(time.perf_counter() - start)
        assert answer.status_code == 200, (address, answer.status_code)
    return statistics.median(times)


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "team.db"
        build = filled(path, count)
        ours = datasette_for(path, load())
        pages = (
            ("builds with three facets", f"/team/builds?{FACETS}", 0.2),
            ("home", "/", 0.5),
            ("a build page", f"/team/-/build/{build}", 0.5),
            ("a calculator page", "/team/-/calc/fill-target?dry_mass_g=12.4+g&oil_mass_g=1.86+g", 0.5),
        )
        taken = [(words, most, asyncio.run(seconds(ours, address))) for words, address, most in pages]
        bare = Path(folder) / "bare.db"
        without_indexes(path, bare)
        peer = asyncio.run(seconds(plain_datasette(bare), f"/bare/builds?{FACETS}"))
    print(f"plain Datasette, builds with the same facets: {1000 * peer:.0f} ms")
    for words, most, one in taken:
        print(f"{words}: {1000 * one:.0f} ms, {one / peer:.2f} x (at most {most} x)")
    if any(one / peer > most for _, most, one in taken):
        sys.exit("slower than wanted")


if __name__ == "__main__":
    main()
