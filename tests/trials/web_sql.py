"""Questions in SQL that are to stop or fill a server, each as a page, as JSON, as CSV and as a stream, by hand:

    python tests/trials/web_sql.py [--count 0] [--seed 1]

The written ones, then ``--count`` that are put together of the same parts. Each is asked of `serve` over a copy of the
demo, while another visitor opens the first page again and again. No answer may be a fault of the server, take over 4 s
of a process (the limit of a query, the second after which its process is ended, and what starting another takes), be
larger than 20 MB, or hold up the first page for a second; the database stays as it is, and no file comes beside it.
"""

from __future__ import annotations

import argparse
import asyncio
import random
import resource
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import redirect_stdout, suppress
from io import StringIO
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent.parent))

from trials.web_requests import Asked, Sites, Tally, content_of, faults_of

NUMBERS: Final = "with recursive n(x) as (select 1 union all select x + 1 from n{}) "
QUESTIONS: Final = (
    # of one function
    "select printf('%.*c', 1000000000, 'x')",
    "select printf('%*d', 1000000000, 1)",
    "select printf('%.1000000f', 1e308)",
    "select zeroblob(2000000000)",
    "select randomblob(2000000000)",
    "select hex(randomblob(90000))",
    "select replace(hex(zeroblob(10000000)), '00', 'aaaaaaaaaaaaaaaaaaaaaaaa')",
    "select replace(hex(zeroblob(90000)), '0', 'aaaaaaaaaa')",
    "select replace(replace(replace(printf('%.*c', 1000, 'x'), 'x', 'xxxxxxxxxx'), 'x', 'xxxxxxxxxx'), 'x', 'yy')",
    "select instr(hex(zeroblob(99000)), hex(zeroblob(49000)) || '1')",
    "select quote(zeroblob(99999)), quote(hex(zeroblob(49999)))",
    "select upper(hex(zeroblob(99000))) || lower(hex(zeroblob(99000)))",
    "select char(" + ",".join(["9731"] * 500) + ")",
    "select trim(hex(zeroblob(99000)) || 'x', hex(zeroblob(49000)))",
    "select abs(-9223372036854775808)",
    "select load_extension('x')",
    "select fts5_decode(1, x'00')",
    # of many rows
    "select group_concat(a.note) from runs a, runs b, runs c",
    "select group_concat(x) from (" + NUMBERS.format("") + "select x from n)",
    NUMBERS.format("") + "select count(*) from n",
    NUMBERS.format("") + "select x, hex(zeroblob(1000)) from n",
    NUMBERS.format("") + "select max(x) from n",
    NUMBERS.format(" where x < 1000000") + "select x from n order by x desc",
    NUMBERS.format(" where x < 900000") + "select group_concat(x) from n",
    NUMBERS.format(" where x < 900000") + "select json_group_array(x) from n",
    NUMBERS.format(" where x < 900000") + "select json_group_object(x, x) from n",
    NUMBERS.format(" where x < 100000") + "select hex(randomblob(9000)) as h from n order by h",
    NUMBERS.format(" where x < 100000") + "select distinct hex(randomblob(9000)) from n",
    NUMBERS.format(" where x < 100000") + "select count(*) from n group by hex(randomblob(9000))",
    "with recursive n(x) as (select 'a' union all select x || x from n) select x from n",
    "with recursive n(x) as (select zeroblob(1000) union all select x from n) select x from n limit 9 offset 99999999",
    "with recursive a(x) as (select 1 union all select x+1 from a), b(y) as (select 1 union all select y+1 from b) "
    "select x, y from a, b",
    "select * from builds a, builds b, builds c, builds d, builds e",
    "select count(*) from builds a, builds b, builds c, builds d, builds e",
    "select * from runs a join runs b on a.note like b.note join runs c on a.note glob c.note",
    "select sum(a.rowid) over (order by a.rowid rows between unbounded preceding and unbounded following) "
    "from runs a, runs b",
    "select a.*, row_number() over (partition by a.note order by b.note) from runs a, runs b",
    "select * from history a, history b order by a.old, b.old",
    "select distinct a.note || b.note || c.note from runs a, runs b, runs c",
    "select * from calculations a, calculations b order by a.given || b.found",
    "select json_each.value from json_each('[' || (select group_concat(1) from runs a, runs b) || ']')",
    "select value from json_tree((select json_group_array(json(given)) from calculations))",
    "select json('" + "[" * 900 + "]" * 900 + "')",
    "select json_extract(json_group_array(note), '$[0]') from runs",
    # of patterns
    "select 'a' like hex(zeroblob(2000))",
    "select hex(zeroblob(99000)) like '" + "%0" * 200 + "1'",
    "select hex(zeroblob(9000)) glob '" + "*0" * 200 + "1'",
    "select hex(zeroblob(99000)) glob '" + "*[0-9]" * 150 + "x'",
    "select count(*) from runs where note like '" + "%_" * 300 + "x'",
    "select 'x' regexp '(a*)*b'",
    # of a wide or deep text
    "select " + ", ".join(["1"] * 2_001),
    "select " + "+".join(["1"] * 4_000),
    "select " + "(" * 2_000 + "1" + ")" * 2_000,
    "select " + "-" * 5_000 + "1",
    "select 1 where " + " or ".join(["1=0"] * 5_000),
    " union all ".join(["select 1"] * 600),
    "select * from " + ", ".join(f"runs r{one}" for one in range(64)),
    "select * from " + ", ".join(f"runs r{one}" for one in range(70)),
    "select (select (select (select count(*) from runs a, runs b, runs c, runs d)))",
    "select * from (select * from (select * from (select * from runs, builds), builds), runs)",
    "with " + ", ".join(f"c{one} as (select * from runs)" for one in range(300)) + " select 1 from c1",
    "values " + ",".join(["(1)"] * 20_000),
    "explain select * from runs a, runs b",
    "select 1; select 2",
    "select '" + "x" * 500_000 + "'",
    # of what is not to be read or written
    "select jpeg from picture_bytes",
    "select * from pragma_database_list",
    "pragma temp_store_directory = '/tmp'",
    "attach database 'x.db' as x",
    "vacuum into 'x.db'",
    "create table x (a)",
    "insert into people default values",
    "with x as (select 1) delete from runs",
    "select writefile('x', 'y'), readfile('/etc/hostname'), edit('x')",
    "select * from fsdir('/')",
    "select * from dbstat",
    "select * from sqlite_dbpage",
    "select * from generate_series(1, 1000000000)",
    "select sqlite_compileoption_get(1), sqlite_source_id()",
    "select * from sqlite_stmt",
)
OF_TABLES: Final = (
    ("runs", {"_facet": "note", "_facet_size": "max"}),
    ("runs", [("_facet", column) for column in ("note", "id", "label", "venue", "driver", "grip", "call", "car")]),
    ("history", {"_facet": "old", "_facet_size": "max", "_size": "max"}),
    ("what_worked", [("_facet", column) for column in ("fluid", "venue", "grip", "diff", "build", "run")]),
    ("calculations", {"_facet_array": "given", "_sort": "found"}),
    ("calculations", {"_facet_date": "given"}),
    ("build_sheet", {"_sort_desc": "note", "_size": "max"}),
    ("losses", {"_size": "max", "_facet": "build"}),
    ("runs", {"_where": "1 = (select count(*) from runs a, runs b, runs c, runs d, runs e)"}),
    ("runs", {"_where": "length(replace(hex(zeroblob(90000)), '0', 'aaaaaaaaaaaa')) > 1"}),
    ("runs", {"_where": "note like '" + "%a" * 400 + "'"}),
    ("runs", [("_where", "id in (select a.id from runs a, runs b, runs c)")] * 40),
    ("runs", {"_through": '{"table":"run_diffs","column":"build","value":"x"}'}),
    ("runs", [("_through", '{"table":"run_diffs","column":"build","value":"x"}')] * 50),
    ("runs", {"_search": "a* OR b* OR c* OR d* OR e*", "_searchmode": "raw"}),
    ("runs", {"_search": " OR ".join(["a*"] * 600), "_searchmode": "raw"}),
    ("runs", {"_search": "NEAR(" + " ".join(["a"] * 500) + ", 900000)", "_searchmode": "raw"}),
    ("runs", {"_search": "(" * 500 + "a" + ")" * 500, "_searchmode": "raw"}),
    ("runs", {"_search": '"' + "the " * 3_000 + '"', "_searchmode": "raw"}),
    ("runs", {"_search": "a NOT " * 400 + "b", "_searchmode": "raw"}),
    ("runs", {"_search": "{note label} : a", "_searchmode": "raw"}),
    ("runs", {"_search": "^" * 3_000, "_searchmode": "raw"}),
    ("runs", {"note__glob": "*a" * 400 + "x"}),
    ("runs", {"note__like": "%a" * 400 + "x"}),
    ("runs", {"id__in": ",".join(["a"] * 30_000)}),
    ("runs", {"id__in": "[" * 5_000}),
    ("runs", [(f"note__{way}", "x") for way in ("contains", "endswith", "startswith", "like", "glob", "not") * 30]),
    ("runs", [("_col", "note")] * 2_000),
    ("runs", {"_next": "a," * 3_000}),
    ("runs", {"_fts_table": "runs", "_search": "a"}),
    ("runs", {"_fts_table": "sqlite_master", "_search": "a"}),
)
PARTS: Final = (
    *("hex(zeroblob({n}))", "printf('%.*c', {n}, 'x')", "randomblob({n})", "replace({a}, '0', {b})", "{a} || {b}"),
    *(
        "instr({a}, {b})",
        "trim({a}, {b})",
        "{a} like {b}",
        "{a} glob {b}",
        "quote({a})",
        "json_quote({a})",
        "soundex({a})",
    ),
    *("(select group_concat({a}) from runs a, runs b)", "(select json_group_array({a}) from runs)", "substr({a}, {n})"),
    *("(select max({a}) from builds a, builds b, builds c)", "iif({a} > {b}, {a}, {b})", "unicode({a})", "note", "{n}"),
    *("(with recursive n(x) as (select {a} union all select x || {b} from n limit {n}) select max(length(x)) from n)",),
)
NUMBER_PARTS: Final = ("7", "1000", "49000", "99000", "199999", "2000000", "2000000000", "-1", "9e999")
WAYS: Final = (("demo", ""), ("demo.json", ""), ("demo.csv", ""), ("demo.csv", "_stream"), ("demo.json", "_shape"))
MOST_WAIT_S: Final = 1.0
MOST_SECONDS: Final = 4.0


def made(chance: random.Random, depth: int = 0) -> str:
    """A question, or a part of one, put together by chance."""
    part = chance.choice(PARTS if depth < 4 else ("note", "{n}", "hex(zeroblob({n}))"))
    for mark in ("{a}", "{b}"):
        while mark in part:
            part = part.replace(mark, made(chance, depth + 1), 1)
    while "{n}" in part:
        part = part.replace("{n}", chance.choice(NUMBER_PARTS), 1)
    return part if depth else f"select {part} from {chance.choice(('runs', 'builds, runs', 'history a, history b'))}"


def asked_ways(count: int, seed: int) -> Iterator[str]:
    """The addresses."""
    chance = random.Random(seed)
    for sql in (*QUESTIONS, *(made(chance) for _ in range(count))):
        for path, way in WAYS if len(sql) < 60_000 else WAYS[:2]:
            given = {"sql": sql, **({way: {"_stream": "on", "_shape": "array"}[way]} if way else {})}
            yield f"/{path}?{urlencode(given)}"
    for table, arguments in OF_TABLES:
        for ending in ("", ".json", ".csv"):
            yield f"/demo/{table}{ending}?{urlencode(arguments)}"


class Beside:
    """Another visitor, who opens the first page again and again."""

    def __init__(self, sites: Sites) -> None:
        self.sites = sites
        self.longest_s = 0.0
        self.opened = 0

    async def open(self) -> None:
        """Until it is ended."""
        while True:
            began = time.perf_counter()
            await self.sites.answer(Asked("serve", "GET", "/demo/-/home"))
            self.longest_s = max(self.longest_s, time.perf_counter() - began)
            self.opened += 1
            await asyncio.sleep(0.05)


async def tried(sites: Sites, addresses: Sequence[str]) -> int:
    """Ask them all; how many faults there were."""
    sites.open()
    await sites.made["serve"].invoke_startup()
    tally, secret_words, before = Tally(), sites.close_to(), content_of(sites.path("serve"))
    beside_it = sorted(one.name for one in sites.path("serve").parent.iterdir())
    for _ in range(3):
        await sites.answer(Asked("serve", "GET", "/demo?sql=select+1"))
        await sites.answer(Asked("serve", "GET", "/demo/-/home"))
    worst_s = 0.0
    for number, path in enumerate(addresses):
        asked = Asked("serve", "GET", path)
        beside = Beside(sites)
        opening = asyncio.create_task(beside.open())
        began = time.perf_counter()
        answer = await sites.answer(asked)
        took_s = time.perf_counter() - began
        opening.cancel()
        with suppress(asyncio.CancelledError):
            await opening
        tally.note(number, asked, answer, is_form=False)
        worst_s = max(worst_s, beside.longest_s)
        faults = [one for one in faults_of(asked, answer, secret_words) if not one.endswith(" s")]
        faults += [f"{answer.seconds:.1f} s of processor, {took_s:.1f} s"] if answer.seconds > MOST_SECONDS else []
        faults += [f"the first page waited {beside.longest_s:.1f} s"] if beside.longest_s > MOST_WAIT_S else []
        if faults:
            tally.faults += 1
            print(f"#{number} {path[:300]} {answer.status}\n    {faults}", flush=True)
    if content_of(sites.path("serve")) != before:
        tally.faults += 1
        print("the database is another")
    if sorted(one.name for one in sites.path("serve").parent.iterdir()) != beside_it:
        tally.faults += 1
        print("files came beside the database")
    tally.say()
    children = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1e3
    print(f"the first page waited {worst_s:.2f} s at most; {children:.0f} MB at most in a process for SQL")
    return tally.faults


def main() -> int:
    """By hand."""
    wanted = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    wanted.add_argument("--count", type=int, default=0)
    wanted.add_argument("--seed", type=int, default=1)
    given = wanted.parse_args()
    from quick_datasettes import make_datasettes_quick

    from bevelbook.cli import main as command
    from bevelbook.plugin.registry import load
    from bevelbook.web.host.visitors_sql import end_visitors_sql

    make_datasettes_quick()
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(folder) / "made.db"
        with suppress(SystemExit), redirect_stdout(StringIO()):
            command(["--db", str(demo), "-q", "demo"])
        sites = Sites(Path(folder), demo, load())
        try:
            return 1 if asyncio.run(tried(sites, list(asked_ways(given.count, given.seed)))) else 0
        finally:
            end_visitors_sql()
            sites.close()


if __name__ == "__main__":
    sys.exit(main())
