"""Requests as nobody means them, at every address of `serve` and of `enter`, over a copy of the demo, by hand:

    python tests/trials/web_requests.py [--count 100000] [--seed 1] [--what reading|forms|both] [--from N] [--only N]

Of ``both`` seven in ten are for reading: every route with every method, with the arguments that the pages declare and
those of Datasette, with odd, repeated, long and torn values. The rest are the forms of the pages that write, each as it
was drawn and then spoilt. What must hold is in :func:`faults_of`. Each request follows from the seed and its number
alone, so ``--only N`` asks that one again; the forms that went before it are not stored then.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import random
import re
import resource
import shutil
import sqlite3
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from contextlib import closing, redirect_stdout, suppress
from hashlib import sha256
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path
from typing import Any, Final, NamedTuple
from urllib.parse import quote, unquote, urlencode, urlsplit

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent.parent))

from odd_addresses import DATASETTES, OF_FORMS, PIECES, TABLES, VALUES, pages, routes

METHODS: Final = (
    *("GET",) * 120,
    *("HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"),  # RFC 9110 and RFC 5789
    *("PROPFIND", "MKCOL", "COPY", "LOCK", "SEARCH", "REPORT"),  # RFC 4918, RFC 5323, RFC 3253
    *("get", "G\u00cbT", "FOO", "X" * 300, "GET GET", ""),
)
FILLERS: Final = (
    "\x00",
    "\r\nset-cookie: a=b",
    "\u202e",
    "\U0001f6de",
    "<script>alert(1)</script>",
    "'\"><b>",
    "{{7*7}}",
)
TORN: Final = ("%", "%2", "%zz", "%ff", "%00", "%u2603", "+", "&&", "=", "a=&a", ";", "%26%3D")
LONG: Final = (
    "9" * 5_000,
    "a" * 20_000,
    "\xe9" * 3_000,
    "1," * 5_000,
    "[" * 3_000,
    "(" * 2_000,
    "%" * 900,
    "a b " * 3_000,
)
MOST_SECONDS: Final = 2.0
MOST_BYTES: Final = 20_000_000
HEADERS: Final = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
}
SOUND_EVERY: Final = 3_000
"""After so many forms the database is looked at, and a fresh copy taken."""


class Asked(NamedTuple):
    """One request; ``site`` is which server it goes to."""

    site: str
    method: str
    path: str
    headers: tuple[tuple[str, str], ...] = ()
    body: bytes = b""


class Answered(NamedTuple):
    """What came of it, and the processor time that it took here and in the processes of the server."""

    status: int
    headers: tuple[tuple[bytes, bytes], ...]
    kept: bytes
    size: int
    seconds: float


class SeenForm(NamedTuple):
    """A form of a page: where it goes, and each field with what it may have."""

    address: str
    has_files: bool
    fields: tuple[tuple[str, tuple[str, ...]], ...]


class Forms(HTMLParser):
    """The forms and the links of a page."""

    def __init__(self, here: str) -> None:
        super().__init__()
        self.here = here
        self.links: list[str] = []
        self.found: list[SeenForm] = []
        self._action: str | None = None
        self._has_files = False
        self._fields: dict[str, list[str]] = {}
        self._select = ""
        self._text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "a":
            self.links.append(given.get("href", ""))
        elif tag == "form" and given.get("method", "").lower() == "post":
            self._action = given.get("action") or self.here
            self._has_files = "multipart" in given.get("enctype", "")
            self._fields = {}
        elif self._action is not None and tag in ("input", "button", "select", "textarea") and given.get("name"):
            values = self._fields.setdefault(given["name"], [])
            if tag in ("input", "button"):
                values.append(given.get("value", ""))
            self._select = given["name"] if tag == "select" else ""
            self._text = given["name"] if tag == "textarea" else ""
        elif tag == "option" and self._select:
            self._fields[self._select].append(given.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self._text and self._action is not None:
            self._fields[self._text].append(data)
            self._text = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "form" and self._action is not None:
            fields = tuple((name, tuple(dict.fromkeys(values)) or ("",)) for name, values in self._fields.items())
            self.found.append(SeenForm(self._action, self._has_files, fields))
            self._action = None


class Sites:
    """`serve` and `enter` over copies of the demo, asked in process."""

    def __init__(self, folder: Path, demo: Path, registry: Any) -> None:
        self.folder = folder
        self.demo = demo
        self.registry = registry
        self.token = ""
        self.cookies: dict[str, str] = {}
        self.entry: Any = None
        self.phone: str | None = None
        self.made: dict[str, Any] = {}

    def open(self) -> None:
        """Both once more, over fresh copies."""
        from bevelbook.store.book_mark import mark_of
        from bevelbook.store.opening import open_for_writing
        from bevelbook.web.host.datasette_state import state_of
        from bevelbook.web.host.serve import datasette_for
        from bevelbook.web.pairing.codes import PairingCodes
        from bevelbook.web.pairing.host_names import HostNames
        from bevelbook.web.pairing.pairings_file import PairingsFile
        from bevelbook.web.pairing.who_may_write import WhoMayWrite

        self.close()
        self.phone = None
        for name in ("serve", "enter"):
            (self.folder / name).mkdir(exist_ok=True)
            for ending in ("", "-wal", "-shm"):
                (self.folder / name / f"demo.db{ending}").unlink(missing_ok=True)
            shutil.copyfile(self.demo, self.path(name))
        with closing(open_for_writing(self.path("enter"))) as connection:
            mark = mark_of(connection)
        self.entry = WhoMayWrite(PairingsFile(self.folder / "settings", mark), PairingCodes(), HostNames())
        self.made = {
            "serve": datasette_for(self.path("serve"), self.registry),
            "enter": datasette_for(self.path("enter"), self.registry, entry=self.entry),
        }
        state_of(self.made["serve"]).own_names = HostNames()
        self.pair()

    def pair(self) -> None:
        """Have a phone that may write; a form ends its pairing now and then."""
        from bevelbook.web.host.phone_of_request import cookie_of

        if self.phone is not None and self.entry.phones.find(self.phone) is not None:
            return
        phone = self.entry.phones.add("grey phone", "ana").phone
        written = self.made["enter"]
        self.phone = phone.id
        self.token = written.sign("a trial", "csrftoken")
        name, _, value = cookie_of(written, self.entry, phone).partition(";")[0].partition("=")
        self.cookies = {"ds_csrftoken": self.token, name: value}

    def path(self, name: str) -> Path:
        """The file of one of them."""
        return self.folder / name / "demo.db"

    def close(self) -> None:
        """Give back what both hold."""
        for datasette in self.made.values():
            if datasette.executor is not None:
                datasette.executor.shutdown()
            for database in datasette.databases.values():
                database.close()
        self.made = {}

    async def answer(self, asked: Asked) -> Answered:
        """Ask the application itself, as a server would hand a request over."""
        path, _, query = asked.path.partition("?")
        given = {name.lower(): value for name, value in asked.headers}
        headers = [(b"host", b"localhost:80")] if "host" not in given else []
        if asked.site == "enter" and "cookie" not in given:
            kept = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
            headers.append((b"cookie", kept.encode()))
        headers += [(name.lower().encode("latin-1"), value.encode("latin-1")) for name, value in asked.headers]
        raw = quote(path, safe="/~%-._:@!$&'()*+,;=").encode()
        scope = {
            "type": "http",
            "http_version": "1.1",
            "method": asked.method,
            "scheme": "http",
            "path": unquote(path),
            "raw_path": raw,
            "query_string": query.encode("latin-1", "replace"),
            "root_path": "",
            "headers": headers,
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 80),
        }
        pieces = [asked.body[at : at + 65_536] for at in range(0, len(asked.body), 65_536)] or [b""]
        status, kept_bytes, size, sent = 0, b"", 0, []

        async def receive() -> dict[str, Any]:
            piece = pieces.pop(0) if pieces else b""
            return {"type": "http.request", "body": piece, "more_body": bool(pieces)}

        async def send(message: dict[str, Any]) -> None:
            nonlocal status, kept_bytes, size
            if message["type"] == "http.response.start":
                status = message["status"]
                sent.extend(message.get("headers", []))
            body = message.get("body", b"")
            size += len(body)
            kept_bytes = (kept_bytes + body)[:400_000]

        before = time.process_time() + seconds_of_children()
        await self.made[asked.site].app()(scope, receive, send)
        taken = time.process_time() + seconds_of_children() - before
        return Answered(status, tuple(sent), kept_bytes, size, taken)

    def close_to(self) -> tuple[str, ...]:
        """What of this machine no answer may hold."""
        import bevelbook

        secret_words = [
            str(self.folder),
            str(Path(bevelbook.__file__).parents[2]),
            sys.prefix,
            sys.base_prefix + "/lib",
            str(Path.home()),
        ]
        return tuple(one for one in secret_words if len(one) > 5)


_TICK: Final = os.sysconf("SC_CLK_TCK")


def seconds_of_children() -> float:
    """The processor time of the processes that this one has, those that ended included."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    found = ended.ru_utime + ended.ru_stime
    for thread in Path("/proc/self/task").iterdir():
        with suppress(OSError):
            for child in (thread / "children").read_text().split():
                with suppress(OSError):
                    fields = Path(f"/proc/{child}/stat").read_text().rpartition(")")[2].split()
                    found += (int(fields[11]) + int(fields[12])) / _TICK
    return found


def faults_of(asked: Asked, answer: Answered, secret_words: Sequence[str]) -> list[str]:
    """What is wrong with an answer: nothing, as a rule."""
    found = []
    if answer.status >= 500 or answer.status < 200:
        found.append(f"status {answer.status}")
    if answer.seconds > MOST_SECONDS:
        found.append(f"{answer.seconds:.1f} s")
    if answer.size > MOST_BYTES:
        found.append(f"{answer.size / 1e6:.1f} MB")
    text = answer.kept.decode("utf-8", "replace")
    if "Traceback (most recent" in text:
        found.append("a traceback")
    found += [f"tells {one}" for one in secret_words if one in text]
    headers: dict[str, list[str]] = {}
    for name, value in answer.headers:
        headers.setdefault(name.decode("latin-1").lower(), []).append(value.decode("latin-1"))
        if re.search(rb"[\r\n\x00]", name + value):
            found.append(f"a torn header {name!r}")
    for name, value in HEADERS.items():
        if headers.get(name) != [value]:
            found.append(f"{name}: {headers.get(name)}")
    policy = headers.get("content-security-policy", [])
    if len(policy) != 1 or "frame-ancestors 'none'" not in policy[0]:
        found.append(f"policy {policy}")
    for value in headers.get("location", []):
        if not re.match(r"/(?![/\\])", value):
            found.append(f"goes on to {value[:80]}")
    for value in headers.get("set-cookie", []):
        if not value.startswith("ds_csrftoken") and not re.search(
            r"; HttpOnly; SameSite=Lax|SameSite=Lax.*HttpOnly|HttpOnly.*SameSite=lax", value, re.I
        ):
            found.append(f"a cookie {value[:80]}")
    return found


def chance_of(seed: int, number: int) -> random.Random:
    """What a request is drawn with."""
    return random.Random(seed * 1_000_003 + number)


class Drawing:
    """Draws requests: of the addresses of a site, the arguments its pages take, and its forms."""

    def __init__(
        self, datasette: Any, calculators: Sequence[str], named: Sequence[str], forms: Sequence[SeenForm]
    ) -> None:
        self.addresses = [one for one in pages(routes(datasette)) if one != "/{database}/-/"]
        self.below = [one for one in self.addresses if "/enter/" in one]
        self.calculators = list(calculators)
        self.named = list(named)
        self.forms = list(forms)
        self.arguments = argument_names(datasette, self.calculators)

    def value(self, chance: random.Random) -> str:
        drawn = chance.random()
        if drawn < 0.3:
            return chance.choice(self.named)
        if drawn < 0.36:
            return chance.choice(LONG)
        if drawn < 0.44:
            return chance.choice(self.named) + chance.choice(FILLERS)
        if drawn < 0.5:
            return "".join(
                chr(chance.choice((chance.randrange(32, 127), chance.randrange(1, 0xD7FF)))) for _ in range(8)
            )
        return chance.choice(VALUES)

    def path(self, chance: random.Random) -> str:
        def place(found: re.Match[str]) -> str:
            name = found[1]
            if name in ("database", "db_name") and chance.random() < 0.96:
                return "demo"
            if name in ("table", "table_and_format", "kind") and chance.random() < 0.9:
                return chance.choice((*TABLES, "run", "diff", "build", "weighing", "person"))
            if name in ("as_format", "format") and chance.random() < 0.9:
                return chance.choice(("", ".json", ".csv", ".blob", ".jsono", ".nope"))
            if name == "name" and chance.random() < 0.9:
                return quote(chance.choice((*self.calculators, *self.named)).encode("utf-8", "replace"), safe="")
            return quote(self.value(chance)[:2_000].encode("utf-8", "surrogatepass"), safe="")

        path = re.sub(r"\{(\w+)\}", place, chance.choice(self.addresses if chance.random() < 0.8 else self.below))
        drawn = chance.random()
        if drawn < 0.25:
            path = f"/demo/{chance.choice(TABLES)}{chance.choice(('', '', '.json', '.csv'))}"
        elif drawn < 0.35:
            path = f"/demo{chance.choice(('', '', '.json', '.csv'))}"
        if chance.random() < 0.05:
            path += chance.choice(PIECES)
        return path

    def query(self, chance: random.Random, path: str) -> str:
        own = self.arguments.get(re.sub(r"^/[^/]+/-/", "", path).partition("/")[0], ())
        given = []
        for _ in range(chance.choice((0, 0, 1, 1, 1, 1, 2, 3, 5))):
            names: Sequence[str] = DATASETTES if "/-/" not in path else own
            if not names or chance.random() < 0.05:
                names = chance.choice((DATASETTES, OF_FORMS))
            name = chance.choice(list(names))
            fits = FITTING.get(name) or FITTING.get(f"__{name.rpartition('__')[2]}")
            given.append((name, chance.choice(fits) if fits and chance.random() < 0.75 else self.value(chance)))
        if given and chance.random() < 0.1:
            given.append(given[0])
        if chance.random() < 0.004:
            given += [(f"a{one}", "b") for one in range(5_000)]
        query = urlencode([(name, text.encode("utf-8", "surrogatepass")) for name, text in given])
        if chance.random() < 0.08:
            at = chance.randrange(len(query) + 1)
            query = query[:at] + chance.choice(TORN) + query[at:]
        return query

    def reading(self, chance: random.Random) -> Asked:
        path = self.path(chance)
        query = self.query(chance, path)
        method = chance.choice(METHODS)
        headers = []
        if chance.random() < 0.1:
            headers.append(chance.choice(ODD_HEADERS))
        body = chance.choice((b"", b"a=b", b"{}", b"x" * 9_000)) if method not in ("GET", "HEAD") else b""
        joined = f"{path}?{query}" if query and "?" not in path else path
        return Asked(chance.choice(("serve", "enter")), method, joined, tuple(headers), body)

    def form(self, chance: random.Random, token: str) -> Asked:
        form = chance.choice(self.forms)
        fields: list[tuple[str, str]] = []
        for name, values in form.fields:
            fields.append((name, chance.choice(values)))
        fields = [one for one in fields if one[0] not in ("csrftoken",)]
        if chance.random() < 0.7 and fields:
            fields = [(name, new_key(chance)) if name == "key" else (name, value) for name, value in fields]
        for _ in range(chance.choice((0, 1, 1, 2, 3, 8))):
            if not fields:
                break
            at = chance.randrange(len(fields))
            name, value = fields[at]
            drawn = chance.random()
            if drawn < 0.1:
                del fields[at]
            elif drawn < 0.2:
                fields.append((name, self.value(chance)))
            elif drawn < 0.25:
                fields.append((chance.choice(MORE_FIELDS), self.value(chance)))
            elif drawn < 0.35:
                fields[at] = (name, value + chance.choice(FILLERS))
            else:
                fields[at] = (name, self.value(chance))
        if chance.random() > 0.03:
            fields.append(("csrftoken", token))
        headers: list[tuple[str, str]] = []
        address = form.address if chance.random() < 0.97 else self.path(chance)
        if chance.random() < 0.2:
            headers.append(("accept", "application/json"))
        if chance.random() < 0.04:
            headers.append(chance.choice(ODD_HEADERS))
        kind, body = self._body(chance, fields, form.has_files)
        headers.append(("content-type", kind))
        return Asked("enter", "POST", address, tuple(headers), body)

    def _body(self, chance: random.Random, fields: Sequence[tuple[str, str]], has_files: bool) -> tuple[str, bytes]:
        drawn = chance.random()
        if has_files or drawn < 0.03:
            return self._with_files(chance, fields)
        body = urlencode([(name, value.encode("utf-8", "surrogatepass")) for name, value in fields]).encode()
        kind = "application/x-www-form-urlencoded"
        if drawn < 0.05:
            kind = chance.choice(
                ("application/json", "text/plain", "", "multipart/form-data", kind + "; charset=utf-16", "x" * 500)
            )
        elif drawn < 0.08:
            at = chance.randrange(len(body) + 1)
            body = body[:at] + chance.choice((b"\xff", b"%", b"%zz", b"\x00", b"&&&=", b"\r\n")) + body[at:]
        elif drawn < 0.09:
            body += b"&note=" + b"x" * chance.choice((900_000, 1_100_000, 3_000_000))
        elif drawn < 0.1:
            body += b"".join(b"&a%d=1" % one for one in range(20_000))
        return kind, body

    def _with_files(self, chance: random.Random, fields: Sequence[tuple[str, str]]) -> tuple[str, bytes]:
        boundary = "-----trial"
        parts = [
            f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode(
                "utf-8", "replace"
            )
            for name, value in fields
            if name not in FILE_FIELDS
        ]
        names = [name for name, _ in fields if name in FILE_FIELDS] or [chance.choice(FILE_FIELDS)]
        file_name, content = chance.choice(files_sent())
        for name in names:
            head = f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\n'
            parts.append(head.encode("utf-8", "replace") + b"Content-Type: image/jpeg\r\n\r\n" + content + b"\r\n")
        body = b"".join((*parts, f"--{boundary}--\r\n".encode()))
        kind = f"multipart/form-data; boundary={boundary}"
        drawn = chance.random()
        if drawn < 0.15:
            body = body[: chance.randrange(len(body))]
        elif drawn < 0.3:
            at = chance.randrange(len(body))
            body = body[:at] + chance.randbytes(3) + body[at + 1 :]
        elif drawn < 0.35:
            kind = chance.choice(
                (
                    "multipart/form-data",
                    "multipart/form-data; boundary=",
                    "multipart/form-data; boundary=" + "a" * 300,
                    "multipart/form-data; boundary=\xff",
                )
            )
        return kind, body


ODD_HEADERS: Final = (
    ("host", "elsewhere.example"),
    ("host", ""),
    ("host", "127.0.0.1:99999"),
    ("host", "[::1"),
    ("host", "localhost\xff"),
    ("origin", "http://elsewhere.example"),
    ("origin", "null"),
    ("sec-fetch-site", "cross-site"),
    ("cookie", "a=\xff"),
    ("cookie", "ds_actor=x; ds_csrftoken=y"),
    ("cookie", "; ".join(f"a{one}=b" for one in range(500))),
    ("authorization", "Bearer dstok_x"),
    ("accept", "application/json"),
    ("accept", "*" * 5_000),
    ("if-none-match", '"x"'),
    ("range", "bytes=0-1"),
    ("content-length", "99999999999"),
    ("x-forwarded-host", "elsewhere.example"),
    ("x-forwarded-for", "192.0.2.1"),
    ("x-http-method-override", "DELETE"),
    ("forwarded", "host=elsewhere.example"),
    ("accept-language", "x" * 3_000),
    ("content-type", "application/json"),
)
MORE_FIELDS: Final = (
    *(
        "sure",
        "another",
        "seen",
        "answer.weighed_on",
        "answer.build",
        "answer.clock",
        "noted.by",
        "noted.at",
        "after.drawn",
    ),
    *(
        "begun",
        "shown.day",
        "was.note",
        "carried.grip",
        "waited.after",
        "piece",
        "id",
        "created_at",
        "label",
        "note",
        "key",
    ),
)
COLUMNS: Final = (
    "id",
    "label",
    "note",
    "built_on",
    "run_on",
    "oil_mass_g",
    "diff",
    "name",
    "created_at",
    "created_by",
    "mass_g",
)
FITTING: Final[Mapping[str, Sequence[str]]] = {
    **dict.fromkeys(
        ("_sort", "_sort_desc", "_facet", "_facet_array", "_facet_date", "_col", "_nocol", "_label"), COLUMNS
    ),
    **dict.fromkeys(("_filter_column", "_filter_column_1", "_json", "_blob_column", "_fts_pk"), COLUMNS),
    **dict.fromkeys(
        ("_labels", "_nl", "_stream", "_header", "_dl", "_nocount", "_nofacet", "_all", "_hide_sql"), ("on", "off")
    ),
    "_size": ("1", "10", "100", "500", "max", "0"),
    "_facet_size": ("1", "30", "max"),
    "_shape": ("arrays", "array", "object", "objects", "arrayfirst"),
    "_search": (
        "seal",
        "rear",
        "notchy -oil",
        '"a b"',
        "NEAR(a b, 3)",
        "a*",
        "^a",
        "note:oil",
        "a OR b",
        "(a",
        "a AND",
        "+",
        "{a b}",
    ),
    "_searchmode": ("raw", "escaped"),
    "_where": (
        "1=1",
        "id > 'a'",
        "label like '%a%'",
        "id in (select id from runs)",
        "note glob '*a*a*a*'",
        "1 = (select count(*) from runs a, runs b)",
    ),
    "_through": (
        '{"table":"runs","column":"venue","value":"1"}',
        '{"table":"builds","column":"diff","value":"rear-a"}',
    ),
    "_fts_table": ("search", "builds", "runs"),
    "_timelimit": ("1", "20", "1000"),
    "_ttl": ("0", "60"),
    "_filter_op": ("exact", "contains", "gt", "isnull__1", "in"),
    "_next": ("1", "100", "0"),
    "_blob_hash": ("a" * 64,),
    "sql": (
        "select 1",
        "select * from builds",
        "select label, note from runs where id > :p0",
        "select count(*) from runs a, runs b, runs c",
        "with recursive n(x) as (select 1 union all select x + 1 from n) select x from n",
        "select group_concat(note) from runs",
        "select zeroblob(100000)",
        "select * from sqlite_master",
        "select jpeg from picture_bytes",
        "select * from pragma_table_info('runs')",
        "attach database '/tmp/x' as y",
        "delete from runs",
        "select load_extension('x')",
        "vacuum",
        "select 1 as a, 2 as a",
        "select char(0), x'00ff', 9e999",
    ),
    "__date": ("2026-05-04",),
    "__in": ("a,b", '["a"]'),
    "q": ("rear-a", "seal", '"', "a OR b", "*", "NEAR("),
    "grip": ("low", "high", "medium"),
    "track": ("30", "30,5", "86 F"),
    "day": ("2026-05-04",),
    "position": ("rear", "front", "centre"),
    "degrees": ("30", "12,5"),
    "fields": ("all",),
}
"""Values that some arguments take."""
FILE_FIELDS: Final = ("file", "photo", "picture", "sheet", "notes")


def new_key(chance: random.Random) -> str:
    """The id of an entry."""
    digits = f"{chance.getrandbits(128):032x}"
    return f"{digits[:8]}-{digits[8:12]}-7{digits[13:16]}-8{digits[17:20]}-{digits[20:]}"


def files_sent() -> Sequence[tuple[str, bytes]]:
    """Names and contents of files: pictures, sheets, and what is none."""
    if not _FILES:
        from io import BytesIO

        from PIL import Image

        jpeg, png = BytesIO(), BytesIO()
        Image.new("RGB", (60, 40), "grey").save(jpeg, "JPEG")
        Image.new("RGB", (40, 60), "red").save(png, "PNG")
        _FILES.extend(
            (
                ("a.jpg", jpeg.getvalue()),
                ("b.png", png.getvalue()),
                ("c.jpg", jpeg.getvalue()[:-90]),
                ("d.jpg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"),
                ("e.html", b"<script>alert(1)</script>"),
                ("notes.csv", b"date,diff,oil,dry\n2026-05-04,rear-a,10000,12.4\n"),
                ("notes.csv", b"date;diff;oil\n\xff\xfe;;\n" * 40),
                ("..\\..\\x.csv", b"date,diff\n04.05.2026,rear-a\n"),
                ("m.xlsx", b"PK\x03\x04" + b"\x00" * 400),
                ("", b""),
                ("\u202e.csv", b"a,b\n1,2\n"),
                ("long" * 200 + ".csv", b"date,diff,note\n2026-05-04,rear-a," + b"x" * 90_000),
            )
        )
    return _FILES


_FILES: list[tuple[str, bytes]] = []


def argument_names(datasette: Any, calculators: Sequence[str]) -> Mapping[str, tuple[str, ...]]:
    """What each page of ours says that it takes, by its name."""
    from bevelbook.web.routes import declared_entry_pages, declared_pages

    found: dict[str, list[str]] = {}
    for page in (*declared_pages(), *declared_entry_pages()):
        name = page.name
        ways: list[Mapping[str, str | None]] = [
            {"database": "demo", "name": one, "kind": one, "row": None}
            for one in (*calculators, "run", "build", "weighing")
        ]
        for places in ways if callable(page.takes) else ways[:1]:
            try:
                takes = page.takes(datasette, places) if callable(page.takes) else page.takes
            except Exception:
                continue
            found.setdefault(name, []).extend(one.name for one in takes)
    return {name: tuple(dict.fromkeys(names)) for name, names in found.items()}


async def forms_of(sites: Sites, most_pages: int = 260) -> list[SeenForm]:
    """The forms of the pages that write, found by their links."""
    waiting, seen = (
        ["/", "/demo/-/enter/record", "/demo/-/enter/import", "/demo/-/enter/photo", "/demo/-/enter/stock"],
        set(),
    )
    shapes: Counter[str] = Counter()
    found: dict[tuple[object, ...], SeenForm] = {}
    while waiting and len(seen) < most_pages:
        path = waiting.pop(0)
        shape = re.sub(r"[0-9a-f-]{36}|[^/?=&]*~2F[^/?=&]*|\d+", "*", path)
        if path in seen or shapes[shape] >= 2:
            continue
        seen.add(path)
        shapes[shape] += 1
        answer = await sites.answer(Asked("enter", "GET", path))
        read = Forms(path.partition("?")[0])
        read.feed(answer.kept.decode("utf-8", "replace"))
        for form in read.found:
            key = (re.sub(r"[0-9a-f-]{36}", "*", form.address), tuple(sorted(name for name, _ in form.fields)))
            found.setdefault(key, form)
        links = [urlsplit(one) for one in read.links]
        ours = [
            f"{one.path}?{one.query}" if one.query else one.path
            for one in links
            if not one.netloc and one.path.startswith("/")
        ]
        waiting = (
            [one for one in ours if "/enter/" in one]
            + waiting
            + [one for one in ours if "/-/" in one and "/enter/" not in one]
        )
    return list(found.values())


def named_in(path: Path) -> list[str]:
    """Names and ids of records of a database."""
    with closing(sqlite3.connect(path)) as connection:
        found = []
        for sql in (
            "SELECT id FROM builds ORDER BY id LIMIT 6",
            "SELECT label FROM builds ORDER BY label LIMIT 6",
            "SELECT id FROM diffs ORDER BY id LIMIT 4",
            "SELECT label FROM diffs ORDER BY label LIMIT 4",
            "SELECT id FROM runs ORDER BY id LIMIT 6",
            "SELECT id FROM people ORDER BY id LIMIT 2",
            "SELECT name FROM people ORDER BY name LIMIT 2",
            "SELECT id FROM fluids ORDER BY id LIMIT 3",
            "SELECT label FROM fluids ORDER BY label LIMIT 3",
            "SELECT id FROM venues ORDER BY id LIMIT 2",
            "SELECT id FROM scales ORDER BY id LIMIT 2",
            "SELECT id FROM bench_jobs ORDER BY id LIMIT 2",
            "SELECT id FROM events ORDER BY id LIMIT 2",
            "SELECT id FROM entries ORDER BY id LIMIT 2",
            "SELECT run_on FROM runs ORDER BY id LIMIT 3",
        ):
            found += [str(row[0]) for row in connection.execute(sql)]
    return found


def content_of(path: Path) -> str:
    """A hash of the file and of its log."""
    beside = path.with_name(f"{path.name}-wal")
    return sha256(path.read_bytes() + (beside.read_bytes() if beside.exists() else b"")).hexdigest()


def unsound(path: Path, registry: Any) -> list[str]:
    """What is wrong with a database that was written to: its file, its references, its facts and its search."""
    from bevelbook.reports.check import check
    from bevelbook.store.opened_to_read import open_for_reading

    with closing(sqlite3.connect(path)) as connection:
        found = [str(row[0]) for row in connection.execute("PRAGMA integrity_check") if row[0] != "ok"]
        found += [f"foreign key {tuple(row)}" for row in connection.execute("PRAGMA foreign_key_check")]
    with closing(open_for_reading(path)) as connection:
        found += check(connection, registry, recheck_facts=True).faults
    return found


class Tally:
    """What came of the requests."""

    def __init__(self) -> None:
        self.statuses: Counter[str] = Counter()
        self.faults = 0
        self.slow: list[tuple[float, int, str]] = []
        self.large: list[tuple[int, int, str]] = []
        self.seconds = 0.0

    def note(self, number: int, asked: Asked, answer: Answered, *, is_form: bool) -> None:
        """Count one."""
        self.statuses[f"{'form' if is_form else 'read'} {answer.status}"] += 1
        self.seconds += answer.seconds
        words = f"{asked.site} {asked.method[:20]} {asked.path[:160]}"
        self.slow = sorted((*self.slow, (answer.seconds, number, words)), reverse=True)[:6]
        self.large = sorted((*self.large, (answer.size, number, words)), reverse=True)[:6]

    def say(self) -> None:
        """Print it."""
        print(dict(sorted(self.statuses.items())))
        print(f"{self.faults} faults, {self.seconds:.0f} s of processor in all")
        for seconds, number, words in self.slow:
            print(f"  {seconds:.2f} s  #{number} {words}")
        for size, number, words in self.large:
            print(f"  {size / 1e6:.2f} MB  #{number} {words}")
        held = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
        print(f"{held:.0f} MB at most", flush=True)


def kind_of(seed: int, number: int, what: str) -> str:
    """Whether a request is for reading, or a form."""
    if what != "both":
        return what
    return "reading" if chance_of(seed, number).random() < 0.7 else "forms"


async def tried(sites: Sites, given: argparse.Namespace) -> int:
    """Ask them all; how many faults there were."""
    sites.open()
    for datasette in sites.made.values():
        await datasette.invoke_startup()
    forms = await forms_of(sites)
    fields, with_files = sum(len(one.fields) for one in forms), sum(one.has_files for one in forms)
    print(f"{len(forms)} forms, {fields} fields, {with_files} with files")
    drawing = Drawing(sites.made["enter"], list(sites.registry.calculators), named_in(sites.demo), forms)
    secret_words, tally, stored, last = sites.close_to(), Tally(), 0, ""
    before = {name: content_of(sites.path(name)) for name in ("serve", "enter")}
    numbers = [given.only] if given.only is not None else range(given.begin, given.begin + given.count)
    for number in numbers:
        chance = chance_of(given.seed, number)
        is_form = kind_of(given.seed, number, given.what) == "forms"
        chance.random()
        if is_form and "phone" in last:
            sites.pair()
        asked = drawing.form(chance, sites.token) if is_form else drawing.reading(chance)
        try:
            answer = await sites.answer(asked)
            faults = faults_of(asked, answer, secret_words)
        except Exception as fault:
            answer, faults = Answered(599, (), b"", 0, 0.0), [repr(fault)[:300]]
        last = asked.path if is_form else last
        tally.note(number, asked, answer, is_form=is_form)
        if not is_form:
            wrote = (
                [name for name in before if content_of(sites.path(name)) != before[name]] if number % 50 == 0 else []
            )
            faults += [f"{name} was written to by what only reads" for name in wrote]
        else:
            stored += 1
            before["enter"] = content_of(sites.path("enter")) if number % 50 == 0 else before["enter"]
        if faults:
            tally.faults += 1
            body = asked.body[:600] if is_form else b""
            print(
                f"#{number} {asked.site} {asked.method[:20]} {asked.path[:300]} {asked.headers} {body!r}\n    {faults}",
                flush=True,
            )
        if given.only is not None:
            print(asked, answer.status, answer.kept[:3_000].decode("utf-8", "replace"), sep="\n")
        if is_form and stored % SOUND_EVERY == 0:
            tally.faults += len(wrong := unsound(sites.path("enter"), sites.registry))
            print(f"after #{number}: the database {wrong if wrong else 'is sound'}", flush=True)
            tally.say()
            sites.open()
            for datasette in sites.made.values():
                await datasette.invoke_startup()
            before = {name: content_of(sites.path(name)) for name in ("serve", "enter")}
    tally.faults += len(wrong := unsound(sites.path("enter"), sites.registry))
    if before["serve"] != content_of(sites.path("serve")):
        tally.faults += 1
        print("what is only served was written to")
    print(f"in the end the database {wrong if wrong else 'is sound'}")
    tally.say()
    return tally.faults


def main() -> int:
    """By hand."""
    wanted = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    wanted.add_argument("--count", type=int, default=100_000)
    wanted.add_argument("--seed", type=int, default=1)
    wanted.add_argument("--what", choices=("reading", "forms", "both"), default="both")
    wanted.add_argument("--from", dest="begin", type=int, default=0)
    wanted.add_argument("--only", type=int)
    given = wanted.parse_args()
    from quick_datasettes import make_datasettes_quick

    make_datasettes_quick()
    import logging

    logging.disable(logging.CRITICAL)
    with tempfile.TemporaryDirectory() as folder:
        demo = Path(folder) / "made.db"
        from bevelbook.cli import main as command
        from bevelbook.plugin.registry import load

        with suppress(SystemExit), redirect_stdout(StringIO()):
            command(["--db", str(demo), "-q", "demo"])
        sites = Sites(Path(folder), demo, load())
        try:
            return 1 if asyncio.run(tried(sites, given)) else 0
        finally:
            sites.close()


if __name__ == "__main__":
    sys.exit(main())
