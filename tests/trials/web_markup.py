"""Hostile text in every text field of every kind of record, and pages read for what came of it, by hand:

    python tests/trials/web_markup.py [--hard] [--pages 3000] [--browser]

The demo is filled up until each kind has a record, and each text field of each record, as they are declared, what was
typed, kept cells, names of files and results get a text that tries to leave the place where it stands. Then the pages
of `serve` and of `enter` are opened by their links, forms are sent with that text in one field after the other,
addresses asked for with it, and what is written to be printed, sent on or put up elsewhere is made: all is read by a
parser of HTML for a tag or an attribute of that text, for an address that runs a script, and for a template that was
worked out.

--hard puts it into fields of a list of words and days too, as in a database of a stranger: pages may refuse those.
--browser has a Chromium read each answer as well.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import random
import re
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from contextlib import closing, redirect_stderr, redirect_stdout, suppress
from html.parser import HTMLParser
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote, urlencode, urlsplit

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parent.parent))

from odd_addresses import pages, routes
from trials.web_requests import Asked, Sites, argument_names, forms_of, new_key

MARKUP: Final = (
    "q7\"'><q7-el q7-at=1 onq7=1></q7-el><img src=q7 onerror=q7()></script></style></textarea></title></svg>"
    "</select></option></details>--><script>q7()</script>{{7*7}}q7{% q7 %}${7*7}`q7`\u202e&lt;q7-el&gt;"
)
ADDRESS: Final = "javascript:q7()//"
_RUNS: Final = re.compile(r"^[\x00-\x20]*(?:javascript|vbscript|data:(?!image/))", re.IGNORECASE)
_ADDRESSES: Final = (
    "href",
    "src",
    "action",
    "formaction",
    "xlink:href",
    "data",
    "srcdoc",
    "poster",
    "background",
    "content",
)


OWN_SCRIPT: Final = "a script in the page"
"""Datasette's own pages beside the databases may have one; no page of ours does."""


class Read(HTMLParser):
    """A page, with what in it came of a text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.holds_text = False
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if "q7" in tag:
            self.found.append(f"element {tag}")
        if tag == "script" and not any(
            name == "src" or (name == "type" and "json" in (value or "")) for name, value in attrs
        ):
            self.found.append(OWN_SCRIPT)
        for name, value in attrs:
            text = value or ""
            if "q7" in name or (name.startswith("on") and "q7" in text):
                self.found.append(f"attribute {name} of {tag}")
            if name == "style" and "q7" in text:
                self.found.append(f"style of {tag}: {text[:60]}")
            if name in _ADDRESSES and _RUNS.match(text):
                self.found.append(f"address of {tag}: {text[:60]}")
            if name == "href" and tag == "a":
                self.links.append(text)

    handle_startendtag = handle_starttag

    def handle_data(self, data: str) -> None:
        self.holds_text = self.holds_text or "q7" in data
        if "49q7" in data:
            self.found.append("a template was worked out")


def read(text: str) -> Read:
    """A page that was read."""
    found = Read()
    found.feed(text)
    found.close()
    return found


def bevelbook(*words: object) -> None:
    """A command, in process."""
    from bevelbook.cli import main

    said = StringIO()
    with suppress(SystemExit), redirect_stdout(said), redirect_stderr(said):
        main([str(word) for word in words])


def fill_up(path: Path) -> None:
    """Have a record of each kind in the demo, and a past."""
    from PIL import Image

    picture = path.with_name("seen.jpg")
    made = BytesIO()
    Image.new("RGB", (90, 60), "grey").save(made, "JPEG")
    picture.write_bytes(made.getvalue())
    db = ("--db", path)
    bevelbook(*db, "demo")
    with closing(sqlite3.connect(path)) as connection:
        build = connection.execute("SELECT label FROM builds ORDER BY built_on DESC, id LIMIT 1").fetchone()[0]
        event = connection.execute("SELECT name FROM events ORDER BY first_on DESC, id LIMIT 1").fetchone()[0]
        scale = connection.execute("SELECT name FROM scales ORDER BY name LIMIT 1").fetchone()[0]
        people = [row[0] for row in connection.execute("SELECT name FROM people ORDER BY name")]
        diff = connection.execute("SELECT label FROM diffs ORDER BY label LIMIT 1").fetchone()[0]
    bevelbook(*db, "record", "photo", f"build={build}", "note=seen", "--file", picture)
    bevelbook(*db, "plan", event, "--keep")
    bevelbook(
        *db, "record", "scale-reading", f"scale={scale}", "reading_g=20", "true_g=20", "thing=a coin", "note=steady"
    )
    bevelbook(*db, "join", "person", people[0], people[-1], "--not", "--note", "two people")
    bevelbook(*db, "record", "person", people[0], "note=drives")
    bevelbook(*db, "record", "person", people[0], "note=drives fast", "--by", people[0])
    bevelbook(*db, "record", "diff", diff, "note=has a scratch", "mark=two dots")
    said = StringIO()
    with suppress(SystemExit), redirect_stdout(said):
        from bevelbook.cli import main

        main(["--db", str(path), "check", "--past", "--json"])
    with suppress(ValueError, KeyError, IndexError, StopIteration, TypeError):
        found = next(one["name"] for one in _findings(json.loads(said.getvalue())))
        bevelbook(*db, "check", "--put-by", found, "it may rest")
    sheet = path.with_name("notes.csv")
    sheet.write_text(
        f"date,diff,dry mass,oil mass,note,our own heading\n2026-05-04,{diff},12.40,1.86,fresh,x\nnix,{diff},,,,\n"
    )
    bevelbook(*db, "import", sheet, "--by", people[0])


def _findings(data: Any) -> Iterable[dict[str, Any]]:
    if isinstance(data, dict):
        if "name" in data and "code" in data:
            yield data
        data = list(data.values())
    if isinstance(data, list):
        for one in data:
            yield from _findings(one)


_OF_THE_TOOL: Final = {
    "entries": ("asked", "reason", "made_by"),
    "note_files": ("name",),
    "note_rejects": ("column_name", "value", "words", "raw"),
    "note_extras": ("cells",),
    "calculations": ("calculated_by", "reasons", "origins", "given", "found", "rows"),
    "history": ("content",),
    "plans": ("said",),
    "bench_steps": ("step",),
}


def _is_plain(text: str) -> bool:
    """Whether a text is an id, a hash, a time or a word of a list, by its look."""
    return re.fullmatch(r"[0-9a-f-]{16,64}|\d{4}-\d\d-\d\d.*|[\d.:-]+|", text) is not None


def spoilt(text: str | None, hostile: str) -> str | None:
    """A text with the hostile one in it; of JSON each text in it."""
    if text is None:
        return None
    if text[:1] in "[{":
        with suppress(ValueError):
            return json.dumps(_spoilt_json(json.loads(text), hostile))
    return f"{text} {hostile}" if hostile is MARKUP else hostile


def _spoilt_json(value: Any, hostile: str) -> Any:
    if isinstance(value, str):
        return value if _is_plain(value) else spoilt(value, hostile)
    if isinstance(value, list):
        return [_spoilt_json(one, hostile) for one in value]
    if isinstance(value, dict):
        return {name: _spoilt_json(one, hostile) for name, one in value.items()}
    return value


def spoil(path: Path, hostile: str, *, hard: bool) -> int:
    """Put it everywhere; how many columns of a row that is."""
    from bevelbook.declare.fields import fields_of
    from bevelbook.records import KINDS

    columns = {table: list(names) for table, names in _OF_THE_TOOL.items()}
    for kind in KINDS:
        wanted = columns.setdefault(kind.table, [])
        for field in fields_of(kind.cls):
            is_free = field.kind == "text" and not field.choices
            if is_free or field.name == kind.label or (hard and field.kind in ("choice", "date", "clock")):
                wanted.append(field.name)
        wanted.append("updated_by")
    count = 0
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
        ).fetchall():
            connection.execute(f'DROP TRIGGER "{name}"')
        for table, names in columns.items():
            there = {row[1] for row in connection.execute(f'PRAGMA table_info("{table}")') if row[2] == "TEXT"}
            for name in dict.fromkeys(names):
                if name not in there:
                    continue
                key = next(row[1] for row in connection.execute(f'PRAGMA table_info("{table}")') if row[5])
                rows = connection.execute(f'SELECT "{key}", "{name}" FROM "{table}" ORDER BY "{key}"').fetchall()
                is_free = name not in ("label", "name") and table not in ("history", "calculations")
                for at, (row, text) in enumerate(rows):
                    if text is None and not is_free:
                        continue
                    new = spoilt(text if text is not None else "filled", hostile)
                    if hostile is ADDRESS and name in ("label", "name"):
                        new = f"{hostile}{at}"
                    with suppress(sqlite3.IntegrityError):
                        connection.execute(f'UPDATE "{table}" SET "{name}" = ? WHERE "{key}" = ?', (new, row))
                        count += 1
        connection.commit()
        for (name,) in connection.execute(
            "SELECT name FROM sqlite_master WHERE name LIKE '%\\_search' ESCAPE '\\' AND type = 'table' ORDER BY name"
        ).fetchall():
            with suppress(sqlite3.Error):
                connection.execute(f"INSERT INTO {name} ({name}) VALUES ('rebuild')")
        connection.commit()
    return count


class Reading:
    """Reads answers, and keeps what was wrong."""

    def __init__(self) -> None:
        self.read = 0
        self.with_text = 0
        self.faults: Counter[str] = Counter()
        self.statuses: Counter[int] = Counter()
        self.kept: list[tuple[str, str]] = []

    def take(self, where: str, text: str, status: int = 200) -> Read:
        """Read one."""
        found = read(text)
        if re.search(r" /-/", where):
            found.found = [one for one in found.found if one != OWN_SCRIPT]
        self.read += 1
        self.with_text += found.holds_text
        self.statuses[status] += 1
        if status >= 500:
            found.found.append(f"status {status}")
        for one in dict.fromkeys(found.found):
            if not self.faults[one]:
                print(f"{where[:300]}\n    {one}", flush=True)
            self.faults[one] += 1
        self.kept.append((where, text))
        return found

    def say(self, what: str) -> None:
        """Print it."""
        faults = dict(self.faults) or "none"
        print(
            f"{what}: {self.read} read, {self.with_text} with the text in them, {dict(self.statuses)}; "
            f"faults: {faults}",
            flush=True,
        )


def _shape(path: str) -> str:
    return re.sub(r"[0-9a-f-]{36}|[0-9a-f]{16,64}|q7[^/]*|\d+", "*", path.partition("?")[0])


async def crawl(sites: Sites, site: str, most: int, each: int, *, hard: bool) -> Reading:
    """Open the pages by their links, a few of each shape."""
    found, waiting, seen, shapes = Reading(), ["/", "/demo", "/-/metadata", "/-/databases"], set(), Counter[str]()
    tables = sorted(await sites.made[site].databases["demo"].table_names())
    waiting += [f"/demo/{quote(one)}" for one in tables]
    waiting += [f"/demo/-/calc/{name}" for name in sites.registry.calculators]
    while waiting and found.read < most:
        path = waiting.pop(0)
        shape = _shape(path) + (
            "?" + ",".join(sorted(one.partition("=")[0] for one in path.partition("?")[2].split("&")))
            if "?" in path
            else ""
        )
        if path in seen or shapes[shape] >= each:
            continue
        seen.add(path)
        shapes[shape] += 1
        answer = await sites.answer(Asked(site, "GET", path))
        kinds = dict(answer.headers).get(b"content-type", b"")
        if 300 <= answer.status < 400:
            waiting.insert(
                0, dict(answer.headers).get(b"location", dict(answer.headers).get(b"Location", b"/")).decode("latin-1")
            )
            continue
        if b"html" not in kinds and b"svg" not in kinds:
            continue
        read_page = found.take(f"{site} {path}", answer.kept.decode("utf-8", "replace"), 200 if hard else answer.status)
        for link in read_page.links:
            parts = urlsplit(link) if not _RUNS.match(link) else None
            if parts and not parts.netloc and not parts.scheme and parts.path.startswith("/"):
                waiting.append(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    return found


async def send_forms(sites: Sites, hostile: str) -> Reading:
    """Each form with the text in one field after the other."""
    found = Reading()
    chance = random.Random(1)
    for form in await forms_of(sites):
        for name, _ in form.fields:
            if name in ("csrftoken", "end"):
                continue
            fields = {one: values[0] for one, values in form.fields} | {name: hostile, "csrftoken": sites.token}
            if name != "key" and "key" in fields:
                fields["key"] = new_key(chance)
            body = urlencode(fields).encode()
            headers = (("content-type", "application/x-www-form-urlencoded"),)
            answer = await sites.answer(Asked("enter", "POST", form.address, headers, body))
            where = f"{form.address} with {name}"
            for header, value in answer.headers:
                if header.lower() == b"location":
                    answer = await sites.answer(Asked("enter", "GET", value.decode("latin-1")))
                    break
            found.take(where, answer.kept.decode("utf-8", "replace"), answer.status)
            sites.pair()
    return found


async def ask_addresses(sites: Sites, hostile: str) -> Reading:
    """Each address with the text in each place and argument."""
    found = Reading()
    sent = quote(hostile, safe="")
    arguments = argument_names(sites.made["enter"], list(sites.registry.calculators))
    for pattern in pages(routes(sites.made["enter"])):
        places = re.findall(r"\{(\w+)\}", pattern)
        base = pattern.replace("{database}", "demo").replace("{db_name}", "demo")
        filled = re.sub(r"\{\w+\}", sent, base)
        asked = [filled, f"{filled}?{sent}=1&_sort={sent}", re.sub(r"\{\w+\}", sent, pattern)]
        page = base.rpartition("/-/")[2].partition("/")[0].replace("enter", "")
        plain = base.replace("{name}", "fill-target").replace("{kind}", "run").replace("{topic}", "units")
        plain = re.sub(r"/?\{\w+\}", "", plain)
        asked += [f"{plain}?{urlencode({one: hostile})}" for one in arguments.get(page or base.rpartition("/")[2], ())]
        asked += (
            [f"{plain}?{urlencode({one: hostile})}" for one in ("sql", "_where", "_search", "_sort", "q", "_facet")]
            if places
            else []
        )
        for path in asked:
            for site in ("serve", "enter"):
                answer = await sites.answer(Asked(site, "GET", path))
                if b"html" in dict(answer.headers).get(b"content-type", b""):
                    found.take(f"{site} {path}", answer.kept.decode("utf-8", "replace"), answer.status)
    return found


def write_files(path: Path, folder: Path) -> Reading:
    """What is printed, sent on or put up elsewhere, and what a database kept."""
    found = Reading()
    with closing(sqlite3.connect(path)) as connection:
        builds = [row[0] for row in connection.execute("SELECT label FROM builds ORDER BY built_on DESC, id LIMIT 3")]
        bottles = [row[0] for row in connection.execute("SELECT id FROM bottles ORDER BY id LIMIT 3")]
    db = ("--db", path)
    for at, build in enumerate(builds):
        bevelbook(*db, "card", build, "--html", folder / f"card{at}.html")
    bevelbook(*db, "card", "--run-sheet", "--html", folder / "sheet.html")
    bevelbook(*db, "card", "--run-sheet", "--all-fields", "--html", folder / "all.html")
    bevelbook(*db, "labels", *builds, *bottles, "--html", folder / "labels.html")
    bevelbook(
        *db,
        "edition",
        folder / "edition",
        "--static",
        "--yes",
        "--title",
        MARKUP,
        "--license",
        MARKUP,
        "--source",
        MARKUP,
    )
    bevelbook(*db, "edition", folder / "without", "--static", "--yes", "--without-people", "--without-days")
    for one in sorted((*folder.rglob("*.html"), *folder.rglob("*.svg"))):
        found.take(str(one.relative_to(folder)), one.read_text("utf-8"))
    return found


def read_in_browser(answers: Sequence[tuple[str, str]]) -> None:
    """Have a Chromium read them, as a page and as what a script puts into one."""
    from browsing import ARGUMENTS, CHROMIUM
    from playwright.sync_api import sync_playwright

    script = """(pages) => pages.map(text => {
        const held = new DOMParser().parseFromString(text, 'text/html');
        const wrong = [];
        for (const one of held.querySelectorAll('*')) {
            if (one.localName.includes('q7')) wrong.push('element ' + one.localName);
            for (const attribute of one.attributes)
                if (attribute.name.includes('q7') || /^on.*q7/s.test(attribute.name + attribute.value))
                    wrong.push('attribute ' + attribute.name + ' of ' + one.localName);
            if (one.localName === 'script' && !one.src && !one.type.includes('json')) wrong.push('a script');
            for (const name of ['href', 'src', 'action'])
                if (/^[\\x00-\\x20]*(javascript|vbscript)/i.test(one.getAttribute(name) || ''))
                    wrong.push(name + ' of ' + one.localName);
        }
        return wrong;
    })"""
    wrong: Counter[str] = Counter()
    with (
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS)) as browser,
    ):
        page = browser.new_page()
        for at in range(0, len(answers), 40):
            some = answers[at : at + 40]
            for (where, _), found in zip(some, page.evaluate(script, [text for _, text in some]), strict=True):
                for one in set(found):
                    if not wrong[one]:
                        print(f"Chromium: {where[:300]}\n    {one}", flush=True)
                    wrong[one] += 1
    print(f"Chromium: {len(answers)} read; faults: {dict(wrong) or 'none'}", flush=True)


def main() -> int:
    """By hand."""
    wanted = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    wanted.add_argument("--hard", action="store_true")
    wanted.add_argument("--pages", type=int, default=3_000)
    wanted.add_argument("--each", type=int, default=3)
    wanted.add_argument("--browser", action="store_true")
    given = wanted.parse_args()
    import logging

    from quick_datasettes import make_datasettes_quick

    from bevelbook.plugin.registry import load

    make_datasettes_quick()
    logging.disable(logging.CRITICAL)
    faults, answers = 0, []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        filled = folder / "filled.db"
        fill_up(filled)
        for hostile in (MARKUP, ADDRESS):
            made = folder / "made.db"
            made.write_bytes(filled.read_bytes())
            print(f"{spoil(made, hostile, hard=given.hard)} texts begin with {hostile[:20]!r}", flush=True)
            sites = Sites(folder, made, load())
            try:
                sites.open()

                async def read_all(sites: Sites = sites, hostile: str = hostile) -> list[tuple[str, Reading]]:
                    for datasette in sites.made.values():
                        await datasette.invoke_startup()
                    found = []
                    for site in ("serve", "enter"):
                        found.append(
                            (f"pages of {site}", await crawl(sites, site, given.pages, given.each, hard=given.hard))
                        )
                        found[-1][1].say(found[-1][0])
                    if not given.hard:
                        for what, ask in (("addresses", ask_addresses), ("forms", send_forms)):
                            found.append((what, await ask(sites, hostile)))
                            found[-1][1].say(what)
                    return found

                found = asyncio.run(read_all())
            finally:
                sites.close()
            if hostile is MARKUP:
                (folder / "files").mkdir()
                found.append(("files", write_files(made, folder / "files")))
                found[-1][1].say("files")
            faults += sum(sum(one.faults.values()) for _, one in found)
            answers += [kept for _, one in found for kept in one.kept]
        if given.browser:
            read_in_browser(answers)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
