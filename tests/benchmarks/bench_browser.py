"""Our pages at several sizes, against plain Datasette and against an earlier version, in turn in one run.

Each way is a process of its own that holds the open database and answers one page after another; the clock and the
processor of that process are read around each. Plain Datasette has the same rows, none of our plugin and none of our
indexes, and shows the table of builds with three facets: at its default settings, and without suggesting facets, which
is what most of its time goes into; our pages are measured against the latter. The last column says how a page grows
from the smallest to the largest size.

Run by hand:  python tests/benchmarks/bench_browser.py [1000 10000 100000] [--turns 5] [--before PATH/TO/python]
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import random
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Final, NamedTuple

FACETS: Final = "_facet=builder&_facet=fluid&_facet=kind"
NOW: Final = "2026-05-04T10:00:00.000Z"
SEED: Final = 7
FIRST_DAY: Final = date(2016, 1, 1)
DAYS: Final = 3_650
DIFFS: Final = 400
SIZES: Final = {"diffs": DIFFS, "fluids": 8, "venues": 5, "people": 4}
AT_MOST: Final = dict.fromkeys(
    (
        "home",
        "build",
        "diff",
        "venue",
        "day",
        "run",
        "what worked, all",
        "what worked, conditions",
        "what worked, nearest",
        "search, rare word",
        "search, common word",
        "search, begun word",
    ),
    0.2,
)
"""Most times plain Datasette without suggested facets, at the largest size."""
FLAT: Final = 2.0
"""Most times that a page may take at the largest size what it takes at the smallest."""
GROWING: Final = frozenset({"table builds", "builds, three facets"})
"""Pages that count or facet the whole table, as they are there to do."""
PAGES: Final = {
    "home": "/",
    "diff": "/team/-/diff/{diff}",
    "build": "/team/-/build/{build}",
    "card": "/team/-/card/{build}",
    "fluid": "/team/-/fluid/{fluid}",
    "venue": "/team/-/venue/{venue}",
    "run": "/team/-/run/{run}",
    "day": "/team/-/day/{day}",
    "what worked, all": "/team/-/worked",
    "what worked, conditions": "/team/-/worked?grip=high&track_from=20&track_to=30",
    "what worked, nearest": "/team/-/worked?grip=high&track=25",
    "search, rare word": "/team/-/search?q=rare{build_number}",
    "search, common word": "/team/-/search?q=note",
    "search, begun word": "/team/-/search?q=rear",
    "compare": "/team/-/compare?a={build}&b={other}",
    "compare by label": "/team/-/compare?a={build_label}&b={other_label}",
    "calculator": "/team/-/calc/fill-target?dry_mass_g=12.4+g&oil_mass_g=1.86+g",
    "worth a look": "/team/-/look",
    "row of builds": "/team/builds/{build}",
    "table builds": "/team/builds",
    "builds, three facets": f"/team/builds?{FACETS}",
    **{f"view {name}": f"/team/{name}" for name in ("shelf", "what_worked", "losses", "build_sheet", "masses")},
    **{f"view {name} of a build": f"/team/{name}?build={{build}}" for name in ("build_sheet", "masses", "losses")},
}
PEERS: Final = {"plain": "", "plain, no suggestions": "&_nosuggest=1"}


# In the process of one way


def filled(path: Path, count: int) -> dict[str, str]:
    """A database of ``count`` builds of 400 diffs; returns what pages are asked for.

    Each build is run once, half are weighed, one in 25 of these with 0.25 g lost; builds that another one followed
    were opened. Dry masses are what the scale makes of one.
    """
    from bevelbook.records import KINDS
    from bevelbook.store.ids import new_id
    from bevelbook.store.opening import new_database, transaction
    from bevelbook.store.schema import search_fill_sql

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
        return (FIRST_DAY + timedelta(days=number * DAYS // count)).isoformat()

    ids = {name: [new_id() for _ in range(size)] for name, size in SIZES.items()}
    builds, runs = ([new_id() for _ in range(count)] for _ in range(2))
    with transaction(connection, path):
        insert("diffs", ({"id": one, "label": f"rear-{place:03d}"} for place, one in enumerate(ids["diffs"])))
        insert("people", ({"id": one, "name": f"person {place}"} for place, one in enumerate(ids["people"])))
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
                    "label": f"rear-{place % DIFFS:03d}/{place // DIFFS + 1}",
                    "diff": ids["diffs"][place % DIFFS],
                    "built_on": day(place),
                    "builder": chance.choice(ids["people"]),
                    "kind": chance.choice(("rebuild", "new", "oil change", "top-up")),
                    "fluid": chance.choice(ids["fluids"]),
                    "dry_mass_g": round(12.4 + chance.gauss(0, 0.003), 2),
                    "oil_mass_g": 1.86,
                    "target_oil_mass_g": 1.85,
                    "filled_mass_g": 14.26,
                    "closed_mass_g": 22.4,
                    "mass_basis": "open half",
                    "hand_feel": "smooth",
                    "note": f"note rare{place}",
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
                    "best_five_s": round(chance.gauss(20.0, 0.2), 3),
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
                {"id": new_id(), "build": build, "mass_g": 22.15 if place % 25 == 3 else 22.39}
                | {"mass_basis": "closed", "runs": 2.0}
                for place, build in enumerate(builds[::2])
            ),
        )
        insert(
            "openings",
            (
                {"id": new_id(), "build": build, "opened_on": day(place + DIFFS), "reason": "oil change"}
                for place, build in enumerate(builds[:-DIFFS])
            ),
        )
        insert(
            "seal_fittings",
            ({"id": new_id(), "build": one, "place": "joint", "condition": "new"} for one in builds[::50]),
        )
        for kind in KINDS:
            if kind.searched:
                search = f"{kind.table}_search"
                connection.execute(f"INSERT INTO {search} ({search}) VALUES ('delete-all')")
                connection.execute(search_fill_sql(kind))
    connection.close()
    one = count * 7 // 10
    other = one - DIFFS if one >= DIFFS else one + 1
    return {
        "diff": ids["diffs"][one % DIFFS],
        "fluid": ids["fluids"][3],
        "venue": ids["venues"][2],
        "run": runs[one],
        "day": day(one),
        "build": builds[one],
        "build_number": str(one),
        "build_label": f"rear-{one % DIFFS:03d}/{one // DIFFS + 1}",
        "other": builds[other],
        "other_label": f"rear-{other % DIFFS:03d}/{other // DIFFS + 1}",
    }


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


async def answer() -> None:
    """Read what to do line by line, and tell what it took; what a page prints of its faults goes elsewhere."""
    out = os.fdopen(os.dup(1), "w")
    os.dup2(2, 1)
    datasette: Any = None
    for line in sys.stdin:
        asked = json.loads(line)
        reply: dict[str, Any] = {}
        if asked["do"] == "fill":
            reply = filled(Path(asked["path"]), asked["count"])
        elif asked["do"] == "open":
            if asked["plain"]:
                datasette = plain_datasette(Path(asked["path"]))
            else:
                from bevelbook.plugin.registry import load
                from bevelbook.web.host.serve import datasette_for

                registry = load()
                datasette = datasette_for(Path(asked["path"]), registry)
                reply = {"charts": [one.name for one in registry.charts()]}
            await datasette.invoke_startup()
        else:
            start, work = time.perf_counter(), time.process_time()
            page = await datasette.client.get(asked["address"])
            reply = {"seconds": time.perf_counter() - start, "processor_s": time.process_time() - work}
            reply["status"] = page.status_code
        print(json.dumps(reply), file=out, flush=True)


# In the process that compares


class Taken(NamedTuple):
    """One page: seconds of the clock and of the processor, and the status."""

    seconds: float
    processor_s: float
    status: int


class Way:
    """A process that answers pages."""

    def __init__(self, python: str) -> None:
        own = python == sys.executable
        environment = {name: value for name, value in os.environ.items() if own or name != "PYTHONPATH"}
        self.process = subprocess.Popen(
            [python, __file__, "--answer"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=environment,
            cwd=Path(__file__).parent,
        )

    def ask(self, **asked: Any) -> Any:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(json.dumps(asked), file=self.process.stdin, flush=True)
        line = self.process.stdout.readline()
        if not line:
            raise SystemExit("the process that answers pages has ended")
        return json.loads(line)

    def page(self, address: str) -> Taken:
        return Taken(**self.ask(do="get", address=address))

    def close(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait()


def medians(taken: Sequence[Taken]) -> Taken:
    """The medians of a page; the worst status."""
    return Taken(
        statistics.median(one.seconds for one in taken),
        statistics.median(one.processor_s for one in taken),
        max(one.status for one in taken),
    )


def measured(count: int, turns: int, before: str | None, only: str) -> dict[str, dict[str, Taken]]:
    """Medians of every page by way, at one size."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ways = {"ours": Way(sys.executable), **{peer: Way(sys.executable) for peer in PEERS}}
        if before:
            ways["before"] = Way(before)
        known = {}
        for way in ("ours", "before"):
            if way in ways:
                (folder / way).mkdir()
                known[way] = ways[way].ask(do="fill", path=str(folder / way / "team.db"), count=count)
        without_indexes(folder / "ours" / "team.db", folder / "bare.db")
        pages = dict(PAGES)
        for way, process in ways.items():
            path = folder / "bare.db" if way in PEERS else folder / way / "team.db"
            reply = process.ask(do="open", path=str(path), plain=way in PEERS)
            if way == "ours":
                pages |= {f"chart {one}": f"/team/-/chart/{one}" for one in ("mass-lost", *reply["charts"])}
        taken: dict[str, dict[str, list[Taken]]] = {}
        for page, address in pages.items():
            if only not in page:
                continue
            for _ in range(turns + 1):
                for way in known:
                    one = ways[way].page(address.format(**known[way]))
                    taken.setdefault(page, {}).setdefault(way, []).append(one)
        for peer, asked in PEERS.items():
            for _ in range(2):
                one = ways[peer].page(f"/bare/builds?{FACETS}{asked}")
                taken.setdefault("builds, three facets", {}).setdefault(peer, []).append(one)
        for process in ways.values():
            process.close()
        return {page: {way: medians(all_[1:]) for way, all_ in by.items()} for page, by in taken.items()}


def table_line(name: str, by_size: Mapping[int, Mapping[str, Taken]], peer: Taken) -> tuple[str, list[str]]:
    """One line of the table, and what is not as it should be."""
    sizes = list(by_size)
    cells, faults = [], []
    for size, ways in by_size.items():
        ours, before = ways.get("ours"), ways.get("before")
        if ours is None:
            continue
        cells.append(f"{1000 * ours.seconds:7.0f} {1000 * ours.processor_s:6.0f}")
        if ours.status != 200:
            faults.append(f"{name} answers {ours.status} at {size:,}")
        if before is not None:
            ratio = ours.processor_s / before.processor_s
            cells.append(f"{ratio:5.2f}" if before.status == 200 else f" ({before.status})")
    first, last = (by_size[size].get("ours") for size in (sizes[0], sizes[-1]))
    if first and last:
        growth = last.processor_s / first.processor_s
        cells.append(f"{growth:5.1f}")
        if name not in GROWING and growth > FLAT:
            faults.append(f"{name} takes {growth:.1f} x as long at {sizes[-1]:,} as at {sizes[0]:,}")
        most = AT_MOST.get(name)
        if most is not None and last.seconds > most * peer.seconds:
            faults.append(f"{name} takes {last.seconds / peer.seconds:.2f} x plain Datasette, wanted {most}")
    return f"{name:28}" + "  ".join(cells), faults


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("sizes", nargs="*", type=int, default=[1_000, 10_000, 100_000])
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--before", metavar="PYTHON", help="the interpreter of an environment with an earlier version")
    parser.add_argument("--only", default="", metavar="WORDS", help="pages whose name holds these words")
    parser.add_argument("--answer", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.answer:
        asyncio.run(answer())
        return
    found: dict[str, dict[int, dict[str, Taken]]] = {}
    peer = Taken(0.0, 0.0, 200)
    for size in asked.sizes:
        for page, ways in measured(size, asked.turns, asked.before, asked.only).items():
            found.setdefault(page, {})[size] = ways
        for name in PEERS:
            one = found["builds, three facets"][size][name]
            print(f"{size:,} builds, {name}: {1000 * one.seconds:.0f} ms, processor {1000 * one.processor_s:.0f} ms")
        peer = found["builds, three facets"][size]["plain, no suggestions"]
    print(
        f"\nms by the clock and by the processor at {', '.join(f'{size:,}' for size in asked.sizes)} builds, ", end=""
    )
    print("the processor against the earlier version after each, and how it grows\n")
    faults = []
    for page, by_size in found.items():
        line, wrong = table_line(page, by_size, peer)
        print(line)
        faults += wrong
    print("\n" + "\n".join(faults))
    if faults:
        sys.exit("not as wanted")


if __name__ == "__main__":
    main()
