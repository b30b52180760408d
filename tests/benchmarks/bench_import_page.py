"""A long file brought in by a page, while another phone stores ideas and a third reads the shelf: what each step takes,
and how long the others wait for an answer, with and without it.

The server is a process of its own, as the command starts it. Run by hand:
    PYTHONPATH=tests python tests/benchmarks/bench_import_page.py [--rows 20000]
"""

from __future__ import annotations

import argparse
import re
import statistics
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final, NamedTuple

import httpx
from benchmarks.generated_sheets import write_fills, write_mixed
from entry_phone import ENTRY_HOST, Book, entered_by_command
from entry_team import make_entry_team

from bevelbook.plugin.registry import load
from bevelbook.store.book_mark import mark_of
from bevelbook.store.ids import new_id
from bevelbook.store.opening import open_for_writing
from bevelbook.web.host.phone_of_request import cookie_of
from bevelbook.web.host.serve import datasette_for
from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import PairingsFile
from bevelbook.web.pairing.who_may_write import WhoMayWrite

EVERY_S: Final = 0.1
ALONE_S: Final = 5.0


class Waits(NamedTuple):
    """How long answers took, in seconds."""

    saves: list[float]
    reads: list[float]

    def words(self) -> str:
        """Median and longest of both, in milliseconds."""
        named = (("saves", self.saves), ("reads", self.reads))
        return "; ".join(
            f"{len(waits)} {name}, median {statistics.median(waits) * 1000:.0f} ms, longest {max(waits) * 1000:.0f} ms"
            for name, waits in named
        )


def phones_of(path: Path, folder: Path, count: int) -> list[dict[str, str]]:
    """The cookies of so many paired phones."""
    with closing(open_for_writing(path)) as connection:
        mark = mark_of(connection)
    entry = WhoMayWrite(PairingsFile(folder, mark), PairingCodes(), HostNames(frozenset({ENTRY_HOST})))
    datasette = datasette_for(path, load(), entry=entry)
    found = []
    for number in range(count):
        phone = entry.phones.add(f"phone {number}", "ana").phone
        name, _, value = cookie_of(datasette, entry, phone).partition(";")[0].partition("=")
        found.append({name: value, "ds_csrftoken": datasette.sign("a phone", "csrftoken")})
    return found


def client(book: Book, cookies: dict[str, str]) -> httpx.Client:
    """A phone's browser."""
    base = f"http://127.0.0.1:{book.port}/{book.path.stem}/-/"
    return httpx.Client(base_url=base, cookies=cookies, timeout=120, headers={"Host": f"{ENTRY_HOST}:{book.port}"})


@contextmanager
def others(book: Book, cookies: dict[str, str]) -> Iterator[Waits]:
    """Another phone that stores and reads, as long as it lasts."""
    waits, stop = Waits([], []), threading.Event()

    def store() -> None:
        with client(book, cookies) as phone:
            while not stop.wait(EVERY_S):
                began = time.perf_counter()
                sent = {"csrftoken": cookies["ds_csrftoken"], "key": new_id(), "text": f"idea {began}"}
                answer = phone.post("enter/idea", data=sent)
                assert answer.status_code == 303, answer.text[:2000]
                waits.saves.append(time.perf_counter() - began)

    def read() -> None:
        with client(book, cookies) as phone:
            while not stop.wait(EVERY_S):
                began = time.perf_counter()
                assert phone.get("home").status_code == 200
                waits.reads.append(time.perf_counter() - began)

    threads = [threading.Thread(target=one) for one in (store, read)]
    for one in threads:
        one.start()
    try:
        yield waits
    finally:
        stop.set()
        for one in threads:
            one.join()


def bring_in(book: Book, cookies: dict[str, str], notes: Path) -> None:
    """A file from its choice to what came of it, with the time of each step."""
    with client(book, cookies) as phone:
        began = time.perf_counter()
        sent = {"csrftoken": cookies["ds_csrftoken"], "choose": "yes"}
        answer = phone.post("enter/import", data=sent, files={"file": (notes.name, notes.read_bytes())})
        page = phone.get(answer.headers["location"].partition("/-/")[2])
        print(f"  looked at after {time.perf_counter() - began:.1f} s", flush=True)
        while (question := re.search(r'name="form.question" value="([^"]+)"', page.text)) is not None:
            so_far = re.findall(r'name="form.so_far" value="([^"]+)"', page.text)[0]
            sent = {"csrftoken": cookies["ds_csrftoken"], "form.so_far": so_far, "form.question": question[1]}
            began = time.perf_counter()
            answer = phone.post("enter/import", data={**sent, "answer": "0"})
            page = phone.get(answer.headers["location"].partition("/-/")[2])
            print(f"  a question answered after {time.perf_counter() - began:.1f} s", flush=True)
        fields = dict(re.findall(r'name="(key|form.so_far)" value="([^"]+)"', page.text))
        began = time.perf_counter()
        answer = phone.post("enter/import", data={**fields, "csrftoken": cookies["ds_csrftoken"], "bring": "yes"})
        assert answer.status_code == 303, answer.text[:2000]
        print(f"  stored after {time.perf_counter() - began:.1f} s", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--rows", type=int, default=20_000)
    asked = parser.parse_args()
    for write in (write_mixed, write_fills):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            path, notes = folder / "blue.db", folder / "season.csv"
            make_entry_team(path)
            write(notes, asked.rows)
            first, second = phones_of(path, folder / "bevelbook", 2)
            print(f"{write.__name__.removeprefix('write_')}, {asked.rows:,} rows, {notes.stat().st_size / 1e6:.1f} MB")
            with entered_by_command(path, folder) as book:
                with others(book, second) as alone:
                    time.sleep(ALONE_S)
                print(f"  alone: {alone.words()}", flush=True)
                with others(book, second) as beside:
                    bring_in(book, first, notes)
                print(f"  while it is brought in: {beside.words()}")
                print(f"  memory of the server: {peak_of(path)}")


def peak_of(path: Path) -> str:
    """The most memory that the process which serves a database has had, where the system says it."""
    for one in Path("/proc").glob("[0-9]*/cmdline"):
        if str(path).encode() in one.read_bytes():
            return " ".join(re.findall("VmHWM.*", one.with_name("status").read_text(encoding="utf-8")))
    return ""


if __name__ == "__main__":
    main()
