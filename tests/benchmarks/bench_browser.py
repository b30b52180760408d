"""Our pages at several sizes, against plain Datasette and, if wanted, an earlier version, in turn in one run.

Each way is a process of its own that holds the open database and answers one page after another; the clock and the
processor of that process are read around each, and each turn asks each of them once. Plain Datasette stands in an
environment without our plugin, has the same rows and none of our indexes, and shows the table of builds with three
facets and without suggesting more, which is what most of its time would go into.

Run by hand:  python tests/benchmarks/bench_browser.py [1000 10000 100000] [--turns 5] [--peers BIN] [--only WORDS]
                  [--before PATH/TO/python]
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
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from pathlib import Path
from typing import Any, Final, NamedTuple

sys.path.append(str(Path(__file__).parents[1]))  # where the folder of benchmarks is, when run by hand

from benchmarks.measured import Table, add_peers, peers, ratio
from benchmarks.measured import Taken as TakenOf

FACETS: Final = "_facet=builder&_facet=fluid&_facet=kind"
NOW: Final = "2026-05-04T10:00:00.000Z"
SEED: Final = 7
FIRST_DAY: Final = date(2016, 1, 1)
DAYS: Final = 3_650
DIFFS: Final = 400
SIZES: Final = {"diffs": DIFFS, "fluids": 8, "venues": 5, "people": 4, "cars": 3}
PLACES: Final = ("front", "rear")
AT_MOST: Final = dict.fromkeys(
    (
        "home",
        "build",
        "diff",
        "venue",
        "day",
        "run",
        "plan",
        "compare",
        "what worked, all",
        "what worked, conditions",
        "what worked, nearest",
        "search, rare word",
        "search, common word",
        "search, begun word",
    ),
    0.2,
)
"""Most times plain Datasette's table of builds, at the largest size."""
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
    "plan": "/team/-/plan/{event}",
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
PLAIN: Final = f"/bare/builds?{FACETS}&_nosuggest=1"


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
        event = new_id()
        insert("cars", ({"id": one, "name": f"car {place}"} for place, one in enumerate(ids["cars"])))
        insert(
            "car_diffs",
            (
                {"id": new_id(), "car": car, "position": position, "diff": ids["diffs"][2 * place + at]}
                | {"from_on": FIRST_DAY.isoformat()}
                for place, car in enumerate(ids["cars"])
                for at, position in enumerate(PLACES)
            ),
        )
        insert(
            "events",
            [
                {"id": event, "name": "quay race", "venue": ids["venues"][0], "first_on": day(count), "grip": "medium"}
                | {"track_low_c": 18.0, "track_high_c": 24.0, "runs_per_car": 6.0}
            ],
        )
        insert("event_cars", ({"id": new_id(), "event": event, "car": one} for one in ids["cars"]))
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
        "event": event,
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
    """Datasette at its default settings; its environment has no plugin."""
    from datasette.app import Datasette

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


class Answered(NamedTuple):
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

    def page(self, address: str) -> Answered:
        return Answered(**self.ask(do="get", address=address))

    def close(self) -> None:
        assert self.process.stdin is not None
        self.process.stdin.close()
        self.process.wait()


ByWay = dict[str, list[Answered]]
"""Turn by turn, what each way took for a page."""


def measured(count: int, turns: int, pythons: Mapping[str, str], only: str) -> dict[str, ByWay]:
    """What every page took at one size; the first turn, which loads files, is left out."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ways = {way: Way(python) for way, python in pythons.items()}
        known = {}
        for way in ways.keys() - {"plain"}:
            (folder / way).mkdir()
            known[way] = ways[way].ask(do="fill", path=str(folder / way / "team.db"), count=count)
        without_indexes(folder / "ours" / "team.db", folder / "bare.db")
        pages = dict(PAGES)
        for way, process in ways.items():
            path = folder / "bare.db" if way == "plain" else folder / way / "team.db"
            reply = process.ask(do="open", path=str(path), plain=way == "plain")
            if way == "ours":
                pages |= {f"chart {one}": f"/team/-/chart/{one}" for one in ("mass-lost", *reply["charts"])}
        taken: dict[str, ByWay] = {}
        for page, address in pages.items():
            if only not in page:
                continue
            by_way: ByWay = {way: [] for way in ways}
            for turn in range(turns + 1):
                for way, process in ways.items():
                    one = process.page(PLAIN if way == "plain" else address.format(**known[way]))
                    if turn:
                        by_way[way].append(one)
            taken[page] = by_way
        for process in ways.values():
            process.close()
        return taken


def as_taken(answers: Iterable[Answered]) -> list[TakenOf]:
    return [TakenOf(one.seconds, one.processor_s, 0.0) for one in answers]


def middle_ms(answers: Iterable[Answered]) -> float:
    """The median of the processor's time, in ms."""
    return 1000 * statistics.median(one.processor_s for one in answers)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("sizes", nargs="*", type=int, default=[1_000, 10_000, 100_000])
    parser.add_argument("--turns", type=int, default=5)
    parser.add_argument("--before", metavar="PYTHON", help="the interpreter of an environment with an earlier version")
    parser.add_argument("--only", default="", metavar="WORDS", help="pages whose name holds these words")
    parser.add_argument("--answer", action="store_true", help=argparse.SUPPRESS)
    add_peers(parser)
    asked = parser.parse_args()
    if asked.answer:
        asyncio.run(answer())
        return
    table = Table()
    with peers(asked.peers) as bin_folder:
        pythons = {"ours": sys.executable, "plain": str(bin_folder / "python")}
        if asked.before:
            pythons["before"] = asked.before
        found = {size: measured(size, asked.turns, pythons, asked.only) for size in asked.sizes}
    wrong = []
    least, most = asked.sizes[0], asked.sizes[-1]
    for page in found[most]:
        by_size = {size: found[size][page] for size in asked.sizes if page in found[size]}
        said = ", ".join(f"{size:,}: {middle_ms(by_way['ours']):.0f}" for size, by_way in by_size.items())
        print(f"{page}: ms of the processor at {said} builds; plain Datasette {middle_ms(by_size[most]['plain']):.0f}")
        wrong += [
            f"{page} answers {one.status}" for ways in by_size.values() for one in ways["ours"] if one.status != 200
        ]
        ours = by_size[most]["ours"]
        if page in AT_MOST:
            against = as_taken(by_size[most]["plain"])
            limit = AT_MOST[page]
            found_ratio = ratio(as_taken(ours), against)
            table.ratio(f"page: {page}", f"{most:,} builds", "plain Datasette's builds", found_ratio, limit, limit)
        if page not in GROWING and least in by_size:
            grown = middle_ms(ours) / middle_ms(by_size[least]["ours"])
            table.figure(f"page: {page}", f"{least:,} to {most:,}", "itself", grown, " x", FLAT)
        if asked.before:
            table.ratio(
                f"page: {page}",
                f"{most:,} builds",
                "before",
                ratio(as_taken(ours), as_taken(by_size[most]["before"])),
                None,
                None,
            )
    for line in dict.fromkeys(wrong):
        print(line)
    table.end()
    if wrong:
        sys.exit("not every page answers")


if __name__ == "__main__":
    main()
