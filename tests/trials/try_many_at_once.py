"""Many processes that write into one book and read it at once: is anything refused, lost, or seen half?

Writers run commands one after the other without a pause (weighings, runs, imports of small sheets, results kept, their
own last entry taken back), two of them send forms to a served book as phones do. Each keeps a list of what it heard
was stored. Readers look in one read transaction whether what is written together is there together, and facts in step;
they run 'check', and open pages. The time until a transaction begins is measured, and how large the log becomes.

Run by hand:  python tests/trials/try_many_at_once.py [--seconds 60] [--writers 12] [--readers 12] [--seed 1]
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import re
import signal
import socket
import sqlite3
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager, redirect_stderr, redirect_stdout, suppress
from itertools import count
from pathlib import Path
from typing import Final, NamedTuple

sys.path.append(str(Path(__file__).parents[1]))  # where the helpers are, when run by hand

import httpx
from entry_load import paired_cookies, quantile
from killed import load_all

from bevelbook.cli import main as command
from bevelbook.facts.renew import renew_all
from bevelbook.records import BY_NAME
from bevelbook.store import opening
from bevelbook.store.closed_file import log_of
from bevelbook.store.ids import new_id
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.writing import Writer

BOOK: Final = "team.db"
ROWS_OF_A_SHEET: Final = 5
PAGES: Final = ("-/home", "-/look", "-/worked", "runs", "builds", "-/search?q=felt", "-/calls")
_HELD: Final = "locked"


class Heard(NamedTuple):
    """What one process says at its end."""

    stored: list[tuple[str, str]]
    """What was stored and is there until the end: the sort, and the text by which it is found."""
    counts: Counter[str]
    refused: list[str]
    faults: list[str]
    waits_s: list[float]
    """How long each transaction waited to begin."""
    took_s: list[float]


class Listener:
    """Collects it."""

    def __init__(self) -> None:
        self.heard = Heard([], Counter(), [], [], [], [])

    def run(self, sort: str, *words: str, codes: Sequence[int] = (0, 1)) -> str | None:
        """Run a command; what it printed, None where it was refused."""
        said, faults = io.StringIO(), io.StringIO()
        began = time.monotonic()
        with redirect_stdout(said), redirect_stderr(faults):
            try:
                command(["--db", BOOK, *words])
            except SystemExit as ended:
                code = int(str(ended.code or 0))
        self.heard.took_s.append(time.monotonic() - began)
        if code in codes:
            self.heard.counts[sort] += 1
            return said.getvalue()
        words_said = faults.getvalue().strip()[-300:]
        (self.heard.refused if _HELD in words_said else self.heard.faults).append(f"{sort}: {code}: {words_said}")
        return None


def make_book(writers: int) -> None:
    """A book with a diff that was built and ran for each writer."""
    path = Path(BOOK)
    with closing(new_database(path)) as connection, transaction(connection, path):
        writer = Writer(connection, "ana")
        oil = writer.insert(BY_NAME["fluid"], {"label": "house 7k", "viscosity_cst": 7000.0})
        writer.insert(BY_NAME["venue"], {"name": "Lantern Hall", "surface": "carpet"})
        for number in range(writers):
            diff = writer.insert(BY_NAME["diff"], {"label": f"rear-{number}", "usual_position": "rear"})
            build = {"label": f"rear-{number}/1", "diff": diff, "built_on": "2024-02-03", "kind": "new", "fluid": oil}
            writer.insert(BY_NAME["build"], {**build, "dry_mass_g": 12.42, "oil_mass_g": 1.86, "filled_mass_g": 14.28})


def write(number: int, until: float, listener: Listener, draw: random.Random) -> None:
    """Write without a pause, as a person of an own name with an own diff."""
    who, diff = f"writer {number}", f"rear-{number}"
    by = ("--by", who)
    for turn in count():
        if time.monotonic() > until:
            return
        text = f"at once {number} {turn}"
        sort = draw.choice(("weighing", "run", "run", "sheet", "calc", "taken back"))
        if sort == "weighing":
            mass = f"mass={14.20 + turn % 7 / 100:.2f}"
            words = ("record", "weighing", f"build={diff}/1", mass, f"note={text}", "--yes", "--another")
            if listener.run(sort, *words, *by):
                listener.heard.stored.append(("weighings", text))
        elif sort == "run":
            words = ("record", "run", "run_on=2024-02-04", "venue=Lantern Hall", f"rear={diff}", f"note={text}")
            if listener.run(sort, *words, *by, "--another"):
                listener.heard.stored.append(("runs", text))
        elif sort == "sheet":
            sheet = Path(f"sheet-{number}-{turn}.csv")
            rows = "".join(f"2024-03-{day:02d},{diff},2,{30 + day},{text}\n" for day in range(1, ROWS_OF_A_SHEET + 1))
            sheet.write_text("date,diff,runs,diff_temp_c,result_note\n" + rows, encoding="utf-8")
            if listener.run(sort, "import", str(sheet), *by):
                listener.heard.stored.append(("sheets", sheet.name))
        elif sort == "calc":
            given = ("--dry-mass", f"{10 + number}.{turn:03d}g", "--oil-mass", "1.5g", "--keep", "--json")
            if said := listener.run(sort, "calc", "fill-target", *given, *by):
                listener.heard.stored.append(("calculations", json.loads(said)["kept"]["id"]))
        else:
            idea = listener.run("idea", "record", "idea", f"text={text}", *by)
            if idea and not listener.run(sort, "take-back", *by):
                listener.heard.stored.append(("ideas", text))


def send(number: int, until: float, listener: Listener, site: str, cookies: dict[str, str]) -> None:
    """Send forms as a phone does."""
    with httpx.Client(base_url=site, cookies=cookies, timeout=60, trust_env=False) as phone:
        token = ""
        for turn in count():
            if time.monotonic() > until:
                return
            if not token:
                page = phone.get("/team/-/enter/idea").text
                token = page.partition('name="csrftoken" value="')[2].partition('"')[0]
            text = f"sent {number} {turn}"
            began = time.monotonic()
            form = {"csrftoken": token, "key": new_id(), "text": text}
            answer = phone.post("/team/-/enter/idea", data=form)
            listener.heard.took_s.append(time.monotonic() - began)
            if answer.status_code == 303:
                listener.heard.counts["form"] += 1
                listener.heard.stored.append(("ideas", text))
            else:
                words = _words(answer.text)
                kept = listener.heard.refused if _HELD in words else listener.heard.faults
                kept.append(f"form: {answer.status_code}: {words}")


def _words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page.partition("<main")[2]).split())[:200]


def read(number: int, until: float, listener: Listener, site: str) -> None:
    """Read without a pause."""
    with httpx.Client(base_url=site, timeout=60, trust_env=False) as browser:
        while time.monotonic() < until:
            began = time.monotonic()
            if number % 3 == 0:
                answer = browser.get(f"/team/{PAGES[int(began * 1000) % len(PAGES)]}")
                listener.heard.counts["page"] += 1
                if answer.status_code >= 400:
                    listener.heard.faults.append(f"page: {answer.status_code} at {answer.url}")
            elif number % 3 == 1:
                said = listener.run("check", "check", "--json")
                out_of_step = [one for one in ("do not follow", "not in step") if said and one in said]
                listener.heard.faults.extend([f"check: {one}" for one in out_of_step])
            else:
                listener.heard.counts["look"] += 1
                with closing(open_for_reading(Path(BOOK))) as connection:
                    connection.execute("BEGIN")
                    listener.heard.faults.extend([f"seen half: {one}" for one in halves(connection)])
            listener.heard.took_s.append(time.monotonic() - began)


_TOGETHER: Final = {
    "runs without their diff": "SELECT note FROM main.runs r WHERE note LIKE 'at once%' AND NOT EXISTS "
    "(SELECT 1 FROM main.run_diffs d WHERE d.run = r.id) ORDER BY id",
    "diffs of runs without facts": "SELECT id FROM main.run_diffs "
    "WHERE id NOT IN (SELECT run_diff FROM run_diff_facts) ORDER BY id",
    "builds without facts": "SELECT id FROM main.builds WHERE id NOT IN (SELECT build FROM build_facts) ORDER BY id",
    "runs of a build that are not its runs": "SELECT f.build, f.runs, sum(coalesce(r.runs, 1)) AS noted "
    "FROM build_facts f JOIN main.run_diffs d ON d.build = f.build JOIN main.runs r ON r.id = d.run GROUP BY f.build "
    "HAVING f.runs <> noted ORDER BY f.build",
    "half a sheet": "SELECT f.name, count(d.id) AS found FROM main.note_files f LEFT JOIN main.run_diffs d "
    f"ON d.note_file = f.id GROUP BY f.id HAVING found <> {ROWS_OF_A_SHEET} ORDER BY f.id",
    "rows of no entry": "SELECT id FROM main.runs WHERE version NOT IN (SELECT id FROM main.entries) "
    "AND note_file IS NULL ORDER BY id",
}


def halves(connection: sqlite3.Connection) -> Iterator[str]:
    """What is there without what was written with it."""
    for name, sql in _TOGETHER.items():
        found = connection.execute(f"{sql} LIMIT 3").fetchall()
        if found:
            yield f"{name}: {[tuple(row) for row in found]}"


_FOUND: Final = {
    "weighings": "SELECT note FROM weighings",
    "runs": "SELECT note FROM runs",
    "sheets": "SELECT name FROM note_files",
    "calculations": "SELECT id FROM calculations",
    "ideas": "SELECT text FROM ideas",
}


def lost(heard: Sequence[Heard]) -> list[str]:
    """What was said to be stored and is not there, is there twice, or is there though nobody heard of it."""
    found = []
    with closing(sqlite3.connect(BOOK)) as connection:
        for sort, sql in _FOUND.items():
            held = Counter(row[0] for row in connection.execute(sql) if row[0] is not None)
            wanted = Counter(text for one in heard for named, text in one.stored if named == sort)
            texts = {text for text in held if not str(text).startswith("at once") or sort != "runs"} - wanted.keys()
            found += [f"lost of {sort}: {text}" for text in wanted.keys() - held.keys()]
            found += [f"twice in {sort}: {text}" for text, number in held.items() if number > max(1, wanted[text])][
                : 0 if sort == "runs" else None
            ]
            found += [f"more in {sort}: {text}" for text in texts if sort in ("ideas", "weighings", "sheets")]
        for check in ("integrity_check", "foreign_key_check"):
            said = [tuple(row) for row in connection.execute(f"PRAGMA {check}")]
            found += [] if said in ([], [("ok",)]) else [f"{check}: {said[:3]}"]
        found += list(halves(connection))
        facts = [connection.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in _FACTS]
    with closing(open_for_writing(Path(BOOK))) as connection:
        connection.execute("BEGIN IMMEDIATE")
        renew_all(connection)
        again = [[tuple(row) for row in connection.execute(f"SELECT * FROM {name} ORDER BY 1")] for name in _FACTS]
        connection.rollback()
    return found + ([] if facts == again else ["the facts are not those of the records"])


_FACTS: Final = ("build_facts", "run_diff_facts", "diff_facts")


def _measured(waits_s: list[float]) -> None:
    """Measure from now on how long each transaction waits to begin."""
    begin = opening.begin_writing

    def measured(connection: sqlite3.Connection) -> None:
        began = time.monotonic()
        try:
            begin(connection)
        finally:
            waits_s.append(time.monotonic() - began)

    opening.begin_writing = measured


def _forked(act: Callable[[Listener], object], said: Path) -> int:
    pid = os.fork()
    if pid:
        return pid
    listener = Listener()
    _measured(listener.heard.waits_s)
    try:
        try:
            act(listener)
        except Exception as fault:
            listener.heard.faults.append(f"{type(fault).__name__}: {fault}")
        said.write_text(json.dumps(listener.heard._asdict()), encoding="utf-8")
    except BaseException:
        traceback.print_exc()
    finally:
        os._exit(0)


@contextmanager
def _served(port: int) -> Iterator[int]:
    """The book served for phones, in a process of its own."""
    pid = os.fork()
    if pid == 0:
        sink = os.open("served.txt", os.O_RDWR | os.O_CREAT)
        os.dup2(sink, 1)
        os.dup2(sink, 2)
        try:
            command(["--db", BOOK, "enter", "--port", str(port)])
        finally:
            os._exit(0)
    try:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with suppress(OSError):
                socket.create_connection(("127.0.0.1", port), 1).close()
                break
            time.sleep(0.1)
        yield pid
    finally:
        os.kill(pid, signal.SIGINT)
        os.waitpid(pid, 0)


def _log_sizes(until: float) -> tuple[int, int]:
    """The largest size of the log until then, and how often it was emptied, in bytes."""
    largest = before = emptied = 0
    log = log_of(Path(BOOK))
    while time.monotonic() < until:
        size = log.stat().st_size if log.exists() else 0
        emptied += size < before
        before, largest = size, max(largest, size)
        time.sleep(0.02)
    return largest, emptied


def _counted(heard: Sequence[Heard]) -> str:
    counts: Counter[str] = sum((one.counts for one in heard), Counter())
    return ", ".join(f"{number} {sort}" for sort, number in sorted(counts.items()))


def _spread(values_s: list[float]) -> str:
    if not values_s:
        return "none"
    median, high = quantile(values_s, 0.5), quantile(values_s, 0.99)
    return f"median {median:.3f} s, 99 % {high:.2f} s, longest {max(values_s):.2f} s"


def try_at_once(seconds: float, writers: int, readers: int, seed: int, port: int) -> bool:
    """Have them all at it in this folder; prints what came of it, and returns whether all is well."""
    os.environ |= {"XDG_CONFIG_HOME": "settings", "XDG_CACHE_HOME": "cache"}
    make_book(writers)
    phones = min(2, writers // 4)
    cookies = list(paired_cookies(Path(BOOK), Path("settings/bevelbook"), phones))
    site = f"http://127.0.0.1:{port}"
    with _served(port):
        until = time.monotonic() + seconds
        acts: list[Callable[[Listener], object]] = [
            lambda listener, number=number: write(number, until, listener, random.Random(f"{seed} {number}"))
            for number in range(writers - phones)
        ]
        acts += [
            lambda listener, number=number: send(number, until, listener, site, cookies[number])
            for number in range(phones)
        ]
        acts += [lambda listener, number=number: read(number, until, listener, site) for number in range(readers)]
        pids = [_forked(act, Path(f"heard-{number}.json")) for number, act in enumerate(acts)]
        largest, emptied = _log_sizes(until)
        for pid in pids:
            os.waitpid(pid, 0)
    heard = [Heard(**json.loads(Path(f"heard-{number}.json").read_text("utf-8"))) for number in range(len(acts))]
    heard = [one._replace(counts=Counter(one.counts), stored=[(a, b) for a, b in one.stored]) for one in heard]
    wrote, looked = heard[:writers], heard[writers:]
    faults = [fault for one in heard for fault in one.faults] + lost(wrote)
    refused = [fault for one in heard for fault in one.refused]
    waits = [wait for one in wrote for wait in one.waits_s]
    took = [wait for one in wrote for wait in one.took_s]
    each = [sum(one.counts.values()) for one in wrote]
    print(f"{writers} writers, {readers} readers, {seconds:g} s: {_counted(wrote)}; {_counted(looked)}")
    print(f"each writer wrote {min(each)} to {max(each)} times; {len(refused)} refused, {len(faults)} lost or faulty")
    print(f"wait to begin: {_spread(waits)}; a command or form: {_spread(took)}")
    size = Path(BOOK).stat().st_size
    print(f"log: at most {largest / 1e6:.1f} MB, emptied {emptied} times; book {size / 1e6:.1f} MB")
    for one in (*refused[:5], *faults[:10]):
        print(f"  {one}")
    return not refused and not faults


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--writers", type=int, default=12)
    parser.add_argument("--readers", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--port", type=int, default=8850)
    parser.add_argument("--folder", type=Path, help="where it is tried; without, in memory")
    asked = parser.parse_args()
    load_all()
    where = asked.folder or (Path("/dev/shm") if Path("/dev/shm").is_dir() else None)
    with tempfile.TemporaryDirectory(dir=where) as room:
        os.chdir(room)
        is_well = try_at_once(asked.seconds, asked.writers, asked.readers, asked.seed, asked.port)
        os.chdir("/")
    sys.exit(0 if is_well else 1)


if __name__ == "__main__":
    main()
