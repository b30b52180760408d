"""Addresses and methods as nobody means them, drawn with a seed: every route, with arguments of every kind.

What is asked of the answers is in ``tests/web/host/test_odd_addresses.py``; by hand, more of them and their figures:

    python tests/odd_addresses.py [--count 3000] [--seed 20]
"""

from __future__ import annotations

import argparse
import asyncio
import html
import random
import re
import resource
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl, quote, urlencode

METHODS: Final = ("GET",) * 16 + ("HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "Ödd")
DATASETTES: Final = [
    "_sort",
    "_sort_desc",
    "_size",
    "_next",
    "_where",
    "_search",
    "_search_note",
    "_through",
    "_timelimit",
    "_facet",
    "_facet_size",
    "_facet_array",
    "_facet_date",
    "_col",
    "_nocol",
    "_labels",
    "_label",
    "_shape",
    "_nl",
    "_json",
    "_json_infinity",
    "_stream",
    "_header",
    "_dl",
    "_nocount",
    "_nofacet",
    "_nosuggest",
    "_trace",
    "_extra",
    "_ttl",
    "_format",
    "_searchmode",
    "_group_count",
    "sql",
    "p0",
    "id",
    "label__in",
    "label__notin",
    "id__exact",
    "label__contains",
    "built_on__date",
    "note__arraycontains",
    "note__arraynotcontains",
    "oil_mass_g__gt",
    "id__isnull",
    "label__like",
    "label__glob",
    "nope__gt",
    "_filter_column",
    "_filter_op",
    "_filter_value",
    "_filter_column_1",
    "_blob_column",
    "_blob_hash",
    "_from",
    "_all",
    "_hide_sql",
    "_fts_table",
    "_fts_pk",
]
"""What Datasette reads in an address, some more than once."""
OF_FORMS: Final = (
    *("known", "which", "seen", "line", "car", "back", "same", "again", "at", "keys", "so_far", "stopped", "after"),
    *("diff", "build", "bottle", "piece", "side", "fields", "gone", "sheet", "odd_times", "degrees", "of", "venue"),
)
"""What pages that write, and some others of ours, read in an address."""
TABLES: Final = [
    "builds",
    "diffs",
    "runs",
    "people",
    "weighings",
    "openings",
    "fluids",
    "shelf",
    "what_worked",
    "losses",
    "build_sheet",
    "masses",
    "history",
    "entries",
    "note_files",
    "note_bytes",
    "pictures",
    "picture_bytes",
    "sqlite_master",
    "nope",
    "builds_search",
    "about",
    "calculations",
    "clashes",
]
PIECES: Final = ("/", "//", "/..", "/%2e%2e/", "~2F", "%00", "%ff", ".", ".json", ".csv", "?", "#", "☃", "a" * 3000)
VALUES: Final = (
    "",
    " ",
    "0",
    "1",
    "-1",
    "1e999",
    "nan",
    "inf",
    "999999999999999999999999999999",
    "9" * 5000,
    "max",
    "on",
    "x",
    "[]",
    "[x",
    "{}",
    "{",
    "null",
    "[1,2]",
    '{"table":"runs","column":"id","value":1}',
    '{"table":1,"column":[],"value":{}}',
    '["a","b"]',
    "id",
    "label",
    "nope",
    "built_on",
    "rowid",
    "'",
    '"',
    "]",
    "[",
    "`",
    "\\",
    "--",
    ";",
    "%",
    "_",
    "*",
    "\x00",
    "\ud83d",
    "\u202e",
    "\u2603",
    "\xe9" * 300,
    "a" * 20000,
    "2026-05-04",
    "2026-99-99",
    "0000-00-00",
    "12,4 g",
    "1 \xb1 1e400 g",
    "12 furlongs",
    "rear-a",
    "rear-a/1",
    "build:rear-a/1,diff:nope",
    "../../etc/passwd",
    "<script>",
    "{{7*7}}",
    "SELECT 1",
    "1=1",
    "1;",
    "1) or (1",
    "NEAR(",
    "OR",
    'a"b',
    "select printf('%.*c',1000,'x')",
    "select 1, 2 as a, a",
    "explain select 1",
    "pragma table_list",
    "a:b:c:d",
    "1:2:3",
    "0x10",
    "\u0661\u0662",
    "true",
    "null,null",
    ",",
    "\r\nx: y",
    "high",
    "-273.16",
    "1e308",
)


class Asked(NamedTuple):
    """One request."""

    method: str
    path: str


def routes(datasette: Any) -> list[str]:
    """Every address that is answered, its places left as ``(?P<name>...)``; ours first."""
    return [route.pattern for route, _ in datasette._routes()] if hasattr(datasette, "_routes") else []


def pages(patterns: Sequence[str]) -> list[str]:
    """The addresses of a list of patterns with places to fill in: ``/{database}/-/build/{row}``."""
    found = []
    for pattern in patterns:
        path = re.sub(r"\(\?P<(\w+)>[^()]*(?:\([^()]*\)[^()]*)*\)\??", r"{\1}", pattern)
        path = re.sub(r"\(\?[!=:][^()]*(?:\([^()]*\)[^()]*)*\)\??", "", path)
        found.append(re.sub(r"[\^$\\]|\[\^?[^\]]*\][+*]?|[()?+*]", "", path))
    return sorted({one for one in found if one.startswith("/")})


def drawn(addresses: Sequence[str], calculators: Sequence[str], named: Sequence[str], seed: int) -> Iterator[Asked]:
    """Requests without end. ``named`` are names and ids of records; ``calculators`` have inputs of their own."""
    chance = random.Random(seed)
    own = [
        *OF_FORMS,
        "q",
        "a",
        "b",
        "for",
        "grip",
        "track",
        "track_from",
        "track_to",
        "position",
        "warmer",
        "day",
        "page",
        "name",
        "mass_g",
        "dry_mass_g",
        "place",
        "runs",
        "n",
    ]

    def value() -> str:
        return chance.choice(named) if chance.random() < 0.25 else chance.choice(VALUES)

    def place(found: re.Match[str]) -> str:
        name = found[1]
        if name in ("database", "db_name") and chance.random() < 0.95:
            return "team"
        if name in ("table", "table_and_format") and chance.random() < 0.9:
            return chance.choice(TABLES)
        if name in ("as_format", "format") and chance.random() < 0.9:
            return chance.choice(("", ".json", ".csv", ".blob", ".jsono", ".nope"))
        if name == "name" and chance.random() < 0.9:
            return chance.choice((*calculators, *named))
        return quote(value()[:2000].encode("utf-8", "surrogatepass"), safe="")

    while True:
        path = re.sub(r"\{(\w+)\}", place, chance.choice(addresses))
        if chance.random() < 0.3:
            path = f"/team/{chance.choice(TABLES)}{chance.choice(('', '', '.json', '.csv'))}"
        if chance.random() < 0.05:
            path += chance.choice(PIECES)
        names = DATASETTES if chance.random() < 0.6 else own
        given = [(chance.choice(names), value()) for _ in range(chance.choice((0, 1, 1, 2, 3)))]
        query = urlencode([(name, text.encode("utf-8", "surrogatepass")) for name, text in given])
        yield Asked(chance.choice(METHODS), f"{path}?{query}" if query and "?" not in path else path)


def is_named(asked: Asked, text: str) -> bool:
    """Whether an answer names an argument of the address: in words, or as the field of a form."""
    said = html.unescape(text)
    names = [name for name, _ in parse_qsl(asked.path.partition("?")[2], keep_blank_values=True, errors="replace")]
    return any(f"{name[:80]}=" in said or f"argument {name} " in said or f'name="{name}"' in said for name in names)


async def answered(datasette: Any, asked: Asked, cookie: str = "") -> tuple[int, str, int]:
    """Status, the beginning of the answer, and how many bytes it has, asked of the application itself."""
    path, _, query = asked.path.partition("?")
    raw = quote(path, safe="/~%-._:@!$&'()*+,;=").encode()
    from urllib.parse import unquote

    scope = {
        "type": "http",
        "http_version": "1.1",
        "method": asked.method,
        "scheme": "http",
        "path": unquote(path),
        "raw_path": raw,
        "query_string": query.encode(),
        "root_path": "",
        "headers": [(b"host", b"localhost"), *([(b"cookie", cookie.encode())] if cookie else [])],
        "client": ("127.0.0.1", 1),
        "server": ("localhost", 80),
    }
    status, kept, size = 0, b"", 0

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        nonlocal status, kept, size
        if message["type"] == "http.response.start":
            status = message["status"]
        body = message.get("body", b"")
        size += len(body)
        kept = (kept + body)[:80_000]

    await datasette.app()(scope, receive, send)
    return status, kept.decode("utf-8", "replace"), size


async def _by_hand(count: int, seed: int) -> None:
    from browser_team import make_team
    from entered import entered_site

    from bevelbook.plugin.registry import load

    with tempfile.TemporaryDirectory() as folder:
        team = make_team(Path(folder) / "team.db", "a note")
        registry = load()
        with entered_site(team, registry, Path(folder)) as site:
            datasette = site.datasette
            await datasette.invoke_startup()
            named = [*team.ids.values(), *team.ids]
            addresses = pages(routes(datasette))
            below = [one for one in addresses if "/enter/" in one]
            requests = drawn([*addresses, *below, *below], list(registry.calculators), named, seed)
            cookie = "; ".join(f"{name}={value}" for name, value in site.cookies.items())
            found: Counter[int] = Counter()
            unnamed = 0
            slow: list[tuple[float, Asked]] = []
            for _, asked in zip(range(count), requests, strict=False):
                began = time.perf_counter()
                try:
                    status, text, _ = await answered(datasette, asked, cookie)
                except BaseException as fault:
                    status, text = 599, repr(fault)
                    if isinstance(fault, KeyboardInterrupt):
                        raise
                found[status] += 1
                slow.append((time.perf_counter() - began, asked))
                is_refused = status == 400 and asked.method != "HEAD" and "=" in asked.path.partition("?")[2]
                is_left_unnamed = is_refused and not is_named(asked, text)
                unnamed += is_left_unnamed
                if status >= 500 or is_left_unnamed:
                    words = re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", text.partition("<main")[2] or text))
                    print(status, asked.method, asked.path[:300], words[:300])
            most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
            print(dict(sorted(found.items())), f"{unnamed} refused without a name, {most_mb:.0f} MB at most")
            for took, asked in sorted(slow, reverse=True)[:5]:
                print(f"{took:.2f} s {asked.method} {asked.path[:200]}")


if __name__ == "__main__":
    wanted = argparse.ArgumentParser(description=__doc__)
    wanted.add_argument("--count", type=int, default=3_000)
    wanted.add_argument("--seed", type=int, default=20)
    given = wanted.parse_args()
    sys.path.insert(0, str(Path(__file__).parent))
    asyncio.run(_by_hand(given.count, given.seed))
