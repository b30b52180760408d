"""Many phones that write into one book at once, over http, with the server killed and started again in between.

The server is the command in a process of its own. Each phone is a thread that opens a form, types into it and sends it
with its key, and sends it again where no answer came. Readers open pages meanwhile.
"""

from __future__ import annotations

import html
import os
import random
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import IO, Any, Final, NamedTuple

import httpx
from itsdangerous import URLSafeSerializer

from bevelbook.records import BY_NAME
from bevelbook.store.book_mark import mark_of
from bevelbook.store.ids import new_id
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pairing.pairings_file import PairingsFile

LOCKED: Final = "database is locked"
PATIENCE_S: Final = 60.0
AGAIN_AFTER_S: Final = 0.1
"""How long a phone waits before it sends once more; a person takes longer."""
PAGES: Final = (
    "-/home",
    "-/look",
    "-/worked",
    "-/calls",
    "runs",
    "-/search?q=load",
    "-/enter/to-finish",
    "-/enter/run",
)
LOOKS_FOR_S: Final = 0.5
"""How long a reader looks at a page; a person takes longer."""
_MORE_THAN_WAITED_FOR: Final = 100_000
_LINES_KEPT: Final = 40
_INPUT: Final = re.compile(r"<input [^>]*>")
_SENT_UNSEEN: Final = re.compile(r'type="hidden"[^>]* name="([^"]+)"[^>]* value="([^"]*)"', re.DOTALL)


class LoadResult(NamedTuple):
    """What came of it. ``opened_again`` are the answers in place of a form that took too long; ``waits_s`` are the
    times from sending a form to its answer where the restart did not delay it, ``over_restart_s`` where it did.
    """

    keys: tuple[str, ...]
    texts: tuple[str, ...]
    faults: tuple[str, ...]
    sent_again: int
    reads: int
    opened_again: tuple[str, ...]
    waits_s: tuple[float, ...]
    over_restart_s: tuple[float, ...]
    wall_s: float
    server_cpu_s: float


class _Server:
    """The command, serving a book on one port with its settings in a folder."""

    def __init__(self, path: Path, folder: Path, port: int) -> None:
        self.path, self.folder, self.port = path, folder, port
        self.cpu_s = 0.0
        self.said: deque[str] = deque(maxlen=_LINES_KEPT)
        self.process = self._started()

    def _started(self) -> subprocess.Popen[str]:
        words = [sys.executable, "-c", "from bevelbook.cli import main; main()", "--db", str(self.path)]
        words += ["enter", "--port", str(self.port)]
        env = {**os.environ, "PYTHONUNBUFFERED": "1", "XDG_CONFIG_HOME": str(self.folder)}
        process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)
        assert process.stdout is not None
        for line in process.stdout:
            if "with the code" in line:
                self.reading = threading.Thread(target=self._read_on, args=(process.stdout,))
                self.reading.start()
                return process
        raise AssertionError("the command ended")

    def _read_on(self, said: IO[str]) -> None:
        """Take what the command prints, which would wait for a full pipe else, and keep the end of it."""
        self.said.extend(said)

    def stop(self, how: int) -> None:
        """End it, and take in its processor time."""
        self.process.send_signal(how)
        _, status, used = os.wait4(self.process.pid, 0)
        self.process.returncode = os.waitstatus_to_exitcode(status)
        self.cpu_s += used.ru_utime + used.ru_stime
        self.reading.join()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def kill_and_start(self) -> None:
        """End it at once, as a laptop without power does, and start it again on the same port."""
        self.stop(signal.SIGKILL)
        self.process = self._started()


class _Shared:
    """What all threads add to."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.stored = threading.Semaphore(0)
        self.done = threading.Event()
        self.faults: list[str] = []
        self.keys: list[str] = []
        self.waits: list[tuple[float, bool]] = []
        self.sent_again = 0
        self.reads = 0
        self.opened_again: list[str] = []

    def look_at(self, answer: httpx.Response) -> None:
        """Note what nobody should see."""
        if answer.status_code >= 500 or LOCKED in answer.text:
            with self.lock:
                self.faults.append(f"{answer.status_code} at {answer.url}: {_words(answer.text)}")


def make_book(path: Path, clients: int) -> None:
    """A car with a filled rear diff for each phone."""
    with closing(new_database(path)) as connection, transaction(connection, path):
        writer = Writer(connection, "ana")
        oil = writer.insert(BY_NAME["fluid"], {"label": "house 7k", "viscosity_cst": 7000.0})
        hall = writer.insert(BY_NAME["venue"], {"name": "Lantern Hall", "surface": "carpet"})
        assert hall
        for number in range(clients):
            car = writer.insert(BY_NAME["car"], {"name": f"car {number}"})
            diff = writer.insert(BY_NAME["diff"], {"label": f"rear-{number}", "usual_position": "rear"})
            build = {"label": f"rear-{number}/1", "diff": diff, "built_on": "2024-02-03", "kind": "new", "fluid": oil}
            masses = {"dry_mass_g": 12.42, "oil_mass_g": 1.86, "filled_mass_g": 14.28}
            writer.insert(BY_NAME["build"], {**build, **masses})
            placed = {"car": car, "position": "rear", "diff": diff, "from_on": "2024-02-03"}
            writer.insert(BY_NAME["car_diff"], placed)


def run_load(
    folder: Path,
    *,
    clients: int,
    rows: int,
    readers: int,
    seed: int,
    runs_of_four: int = 3,
    looks_for_s: float = LOOKS_FOR_S,
) -> LoadResult:
    """Have phones enter rows, kill the server once at a moment that the seed draws, and wait until all are stored.

    Of four rows so many are runs, each on a form opened for it; the others are ideas, which take less time.
    """
    path, settings = folder / "book.db", folder / "settings"
    make_book(path, clients)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    cookies = list(paired_cookies(path, settings / "bevelbook", clients + readers))
    shared = _Shared()
    server = _Server(path, settings, port)
    began = time.monotonic()
    site = f"http://127.0.0.1:{port}"
    phones = [
        threading.Thread(target=_guarded, args=(shared, _enter_rows, site, cookies[number], number, rows, runs_of_four))
        for number in range(clients)
    ]
    looking = [
        threading.Thread(
            target=_guarded, args=(shared, _read_pages, site, cookies[clients + number], seed + number, looks_for_s)
        )
        for number in range(readers)
    ]
    for thread in (*phones, *looking):
        thread.start()
    draw = random.Random(seed)
    try:
        for _ in range(draw.randrange(clients, max(clients * rows // 2, clients + 1))):
            assert shared.stored.acquire(timeout=PATIENCE_S), shared.faults
        server.kill_and_start()
        for thread in phones:
            thread.join()
        wall_s = time.monotonic() - began
    finally:
        shared.done.set()
        for thread in (*phones, *looking):
            thread.join()
        server.stop(signal.SIGINT)
    said = "".join(server.said)
    shared.faults += [f"the command said: {said}"] if "Traceback" in said else []
    return LoadResult(
        tuple(shared.keys),
        tuple(_text(number, row) for number in range(clients) for row in range(rows)),
        tuple(shared.faults),
        shared.sent_again,
        shared.reads,
        tuple(shared.opened_again),
        tuple(wait for wait, again in shared.waits if not again),
        tuple(wait for wait, again in shared.waits if again),
        wall_s,
        server.cpu_s,
    )


def faults_of(path: Path, result: LoadResult) -> list[str]:
    """What was lost, doubled or damaged, and what the phones saw that nobody should see."""
    found = list(result.faults)
    with closing(sqlite3.connect(path)) as connection:
        stored = [row[0] for row in connection.execute("SELECT note FROM runs UNION ALL SELECT text FROM ideas")]
        if sorted(stored) != sorted(result.texts):
            missing, more = {*result.texts} - {*stored}, len(stored) - len({*stored})
            found.append(f"{len(stored)} rows of {len(result.texts)}: {len(missing)} missing, {more} doubled")
        marks = ", ".join("?" * len(result.keys))
        held = connection.execute(f"SELECT count(*) FROM entries WHERE id IN ({marks})", result.keys).fetchone()[0]
        if not held == len({*result.keys}) == len(result.texts):
            found.append(f"{held} entries of {len({*result.keys})} keys and {len(result.texts)} rows")
        for check in ("integrity_check", "foreign_key_check"):
            said = [tuple(row) for row in connection.execute(f"PRAGMA {check}")]
            if said not in ([], [("ok",)]):
                found.append(f"{check}: {said[:3]}")
    return found


def paired_cookies(path: Path, folder: Path, count: int) -> Iterator[dict[str, str]]:
    """The cookies of so many paired phones."""
    with closing(open_for_writing(path)) as connection:
        pairings = PairingsFile(folder, mark_of(connection))
    signer = URLSafeSerializer(pairings.secret())
    for number in range(count):
        phone = pairings.add(f"phone {number}", f"person {number}").phone
        yield {pairings.cookie: str(signer.dumps({"phone": phone.id}, salt="bevelbook-phone"))}


def _guarded(shared: _Shared, act: Any, *given: Any) -> None:
    """A fault of a thread is one of the run."""
    try:
        act(shared, *given)
    except (AssertionError, LookupError, StopIteration, httpx.HTTPError) as fault:
        with shared.lock:
            shared.faults.append(f"{type(fault).__name__}: {fault}")
        shared.stored.release(_MORE_THAN_WAITED_FOR)


def _enter_rows(shared: _Shared, site: str, cookies: dict[str, str], number: int, rows: int, runs_of_four: int) -> None:
    with _browser(site, cookies) as browser:
        idea = _opened(shared, browser, "/book/-/enter/idea")
        for row in range(rows):
            text = _text(number, row)
            if row % 4 < runs_of_four:
                page = "/book/-/enter/run"
                form = _opened(shared, browser, f"{page}?car=car+{number}")
                form |= {"car": f"car {number}", "note": text, "rear_temp": f"{36 + row % 9}", "grip": "medium"}
            else:
                page, form = "/book/-/enter/idea", {**idea, "key": new_id(), "text": text}
            began = time.monotonic()
            answer, again = _asked(shared, browser, "POST", page, form)
            if answer.status_code != httpx.codes.SEE_OTHER:
                raise AssertionError(f"{answer.status_code} for {text}: {_words(answer.text)}")
            with shared.lock:
                shared.keys.append(form["key"])
                shared.waits.append((time.monotonic() - began, again > 0))
                shared.sent_again += again
            shared.stored.release()


def _read_pages(shared: _Shared, site: str, cookies: dict[str, str], seed: int, looks_for_s: float) -> None:
    draw = random.Random(seed)
    with _browser(site, cookies) as browser:
        while not shared.done.wait(looks_for_s):
            _asked(shared, browser, "GET", f"/book/{draw.choice(PAGES)}")
            with shared.lock:
                shared.reads += 1


@contextmanager
def _browser(site: str, cookies: dict[str, str]) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=site, cookies=cookies, timeout=PATIENCE_S, trust_env=False) as browser:
        yield browser


def _asked(
    shared: _Shared, browser: httpx.Client, method: str, page: str, form: dict[str, str] | None = None
) -> tuple[httpx.Response, int]:
    """The answer, asked for until it comes, and how often it was asked for once more."""
    until = time.monotonic() + PATIENCE_S
    again = 0
    while True:
        try:
            answer = browser.request(method, page, data=form)
        except httpx.TransportError:
            if time.monotonic() > until:
                raise
            again += 1
            shared.done.wait(AGAIN_AFTER_S)
            continue
        shared.look_at(answer)
        return answer, again


def _opened(shared: _Shared, browser: httpx.Client, page: str) -> dict[str, str]:
    """What the form of a page sends though nobody typed it; a page that took too long is opened again."""
    until = time.monotonic() + PATIENCE_S
    while True:
        answer, _ = _asked(shared, browser, "GET", page)
        form = next((one for one in answer.text.split("<form ")[1:] if 'name="key"' in one), None)
        if form is not None:
            return _unseen_in(form)
        if time.monotonic() > until:
            raise AssertionError(f"{answer.status_code} and no form at {page}: {_words(answer.text)}")
        with shared.lock:
            shared.opened_again.append(f"{answer.status_code}: {_words(answer.text)}")
        shared.done.wait(AGAIN_AFTER_S)


def _unseen_in(form: str) -> dict[str, str]:
    tags = _INPUT.findall(form.partition("</form>")[0])
    found = (_SENT_UNSEEN.search(tag) for tag in tags)
    return {html.unescape(one[1]): html.unescape(one[2]) for one in found if one is not None}


def _text(number: int, row: int) -> str:
    return f"load {number} {row}"


def _words(page: str) -> str:
    words = " ".join(re.sub(r"<[^>]+>", " ", page.partition("<main")[2]).split())
    return words[:300]


def quantile(values: Sequence[float], share: float) -> float:
    """The value that this share of values does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]
