"""Code of a plugin that is not bundled never runs in the server: whatever it does in a check, on a card, at the bench,
in a chart or after an entry, the page comes and says so, and the entry is stored."""

from __future__ import annotations

import os
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from pathlib import Path
from time import monotonic
from typing import Final, NamedTuple

import pytest
from browser_team import make_team
from entered import EnteredSite, entered_site
from web.entry.conftest import words

from bevelbook.calculating.calculate import Binder, run
from bevelbook.card.bench_numbers import bench_passes, bench_waits
from bevelbook.display.unbroken import NO_BREAK
from bevelbook.plugin.elsewhere import short_of_time, time_left
from bevelbook.plugin.registry import LoadedFrom, Registry, load
from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import LONGEST_ELSEWHERE_S, open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.worker import kept_out
from bevelbook.web.worker.kept_out import KeptOut, Rests
from bevelbook.web.worker.process import CalculatingProcess

PLUGIN: Final = """
import os, sys
from pathlib import Path
from bevelbook import (
    BenchPass, BenchWait, Calculator, CardLine, Chart, Finding, Judgement, OnBench, OnCard, Source, Worked, hookimpl,
    quantity, record,
)

ARITHMETIC = Source("computed", "arithmetic")
HELD = []

@record
class Given:
    mass_g: float = quantity("g", "Mass", same_as="builds.dry_mass_g")

@record
class Found:
    double_g: float = quantity("g", "Twice the mass")

def grow():
    while True:
        HELD.append(bytearray(50_000_000))

WAYS = {
    "hang": lambda: [None for _ in iter(int, 1)],
    "raise": lambda: 1 / 0,
    "grow": grow,
    "print": lambda: print('{"number": 1}', flush=True),
    "exit": lambda: sys.exit(3),
    "end": lambda: os._exit(0),
}

def go(part):
    here = Path(__file__).parent
    with (here / "asked").open("a") as asked:
        asked.write(f"{part} {os.getpid()}\\n")
    wanted, way = (here / "how").read_text().split(":")
    if wanted == part:
        WAYS[way]()

def compute(given):
    go("compute")
    return Found(double_g=2 * given.mass_g)

def part(name, value):
    def function(given, found):
        go(name)
        return value
    return function

ODD = Calculator(
    name="odd-twice", title="Odd double", question="What is twice that?", purpose="twice a mass", version=1,
    given=Given, found=Found, compute=compute,
    judge=part("judge", Judgement("ok", ("twice the mass",))),
    working=part("working", ("2 m",)), picture=part("picture", "<svg></svg>"),
    card=OnCard("heat", lines=part("lines", (CardLine("Twice", "2 g"),)), passes=part("passes", ("first pass",)),
                picture_words=part("words", "1-2")),
    bench=OnBench(waits=part("waits", (BenchWait("stand", "standing open", 60.0),)),
                  passes=part("screws", (BenchPass("all by hand", "", "1-2", "<svg></svg>"),))),
    valid=("any mass",), sources=(ARITHMETIC,), answer="double_g", kept_after=("build",), page=("build",),
    worked=(Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, ARITHMETIC),),
)

@hookimpl
def bevelbook_calculators():
    return (ODD,)

@hookimpl
def bevelbook_charts():
    go("charts")
    return (Chart("odd-points", "Points", "Points.", (("x", "X"),), {"mark": "point"}, points=lambda given: [],
                  calculator="odd-twice"),)

@hookimpl
def bevelbook_checks(reader):
    go("checks")
    for row in reader.rows("SELECT id AS build, label FROM builds ORDER BY label, id LIMIT 1"):
        yield Finding(code="odd_found", severity="caution", words="An odd thing.", remedy="Look at it.",
                      subject_table="builds", subject_id=row["build"], subject_label=row["label"])
"""
WAYS: Final = {
    "hang": "it took over 0.4 s and was stopped",
    "raise": "raised ZeroDivisionError",
    "grow": "it wanted more memory than a calculation may have",
    "exit": "raised SystemExit: 3",
    "end": "it ended in the middle of its work",
}
LIMIT_S: Final = 0.4
MOST_BYTES: Final = 600_000_000


class Guarded(NamedTuple):
    """The site of a team that has that plugin, its folder, and what keeps it out."""

    site: EnteredSite
    folder: Path
    registry: Registry
    kept_out: KeptOut
    process: CalculatingProcess

    def goes(self, how: str, longest_s: float = 60.0) -> None:
        """From now on one part goes wrong in one way, and nothing rests."""
        (self.folder / "how").write_text(how, encoding="utf-8")
        self.process.longest_s = longest_s
        self.kept_out.rests = Rests(longest_s)

    def page(self, path: str) -> str:
        return unescape(self.site.page(path)).replace(NO_BREAK, " ")

    def bench(self) -> str:
        """The page of a job at the bench with rear-a."""
        path, ids = self.site.team.path, self.site.team.ids
        with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="ana"):
            work = {"diff": ids["rear-a"], "kind": "rebuild", "way": "step by step", "begun_at": now_utc()}
            writer = Writer(connection, "ana", now_utc)
            job = writer.insert(BY_NAME["bench_job"], {**work, "build": ids["rear-a/2"]})
        return self.page(f"/team/-/enter/bench/{job}")

    def pids(self) -> set[int]:
        lines = (self.folder / "asked").read_text(encoding="utf-8").splitlines()
        return {int(line.split()[1]) for line in lines if not line.startswith("charts")}


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Guarded]:
    folder = tmp_path_factory.mktemp("plugins")
    (folder / "odd.py").write_text(PLUGIN, encoding="utf-8")
    (folder / "how").write_text("nothing:print", encoding="utf-8")
    registry = load(folder=folder)
    process = CalculatingProcess(LoadedFrom(folder), 60.0, MOST_BYTES)
    made = kept_out._KEPT_OUT[registry] = KeptOut(LoadedFrom(folder), [process])
    registry.keep_out(made)
    held = tmp_path_factory.mktemp("site")
    with entered_site(make_team(held / "team.db"), registry, held / "settings") as site:
        yield Guarded(site, folder, registry, made, process)
    kept_out.let_in(registry)


@pytest.fixture
def book(guarded: Guarded) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(guarded.site.team.path)) as connection:
        connection.row_factory = sqlite3.Row
        yield connection


def test_what_it_says_is_shown_and_none_of_it_ran_in_the_server(guarded: Guarded, book: sqlite3.Connection) -> None:
    guarded.goes("compute:print")
    assert "An odd thing." in guarded.page("/team/-/look")
    card = guarded.page("/team/-/card/rear-a~2F2")
    assert all(one in card for one in ("Odd double", "Twice", "first pass"))
    build = guarded.site.team.ids["rear-a/2"]
    waits = bench_waits(book, guarded.registry, build, ["odd-twice"], {})
    passes = bench_passes(book, guarded.registry, build, ["odd-twice"])
    assert [one.words for one in waits.waits] == ["standing open"]
    assert [one.order for one in passes.passes] == ["1-2"]
    asked = (guarded.folder / "asked").read_text(encoding="utf-8").splitlines()
    assert guarded.page("/team/-/charts") and guarded.page("/team/-/charts")
    more = (guarded.folder / "asked").read_text(encoding="utf-8").splitlines()
    assert [one for one in more if one.startswith("charts")] == [one for one in asked if one.startswith("charts")]
    assert os.getpid() not in guarded.pids()


@pytest.mark.parametrize("way", WAYS)
def test_a_page_comes_whatever_a_check_a_card_or_a_wait_does(
    guarded: Guarded, book: sqlite3.Connection, way: str
) -> None:
    longest_s = LIMIT_S if way == "hang" else 60.0
    build = guarded.site.team.ids["rear-a/2"]
    guarded.goes(f"checks:{way}", longest_s)
    look = guarded.page("/team/-/look")
    assert ("raised MemoryError" if way == "grow" else WAYS[way]) in look
    assert "An odd thing." not in look
    guarded.goes(f"compute:{way}", longest_s)
    assert WAYS[way] in guarded.page("/team/-/card/rear-a~2F2")
    if way == "raise":
        assert f"Odd double calculator odd-twice of plugin odd failed: compute {WAYS[way]}" in words(guarded.bench())
    guarded.goes(f"waits:{way}", longest_s)
    assert WAYS[way] in bench_waits(book, guarded.registry, build, ["odd-twice"], {}).lacking
    assert os.getpid() not in guarded.pids()


@pytest.mark.parametrize("way", ["hang", "raise", "exit", "end", "print"])
def test_an_entry_is_stored_and_what_cannot_be_kept_after_it_is_said(guarded: Guarded, way: str) -> None:
    guarded.goes("nothing:print")
    assert "An odd thing." in guarded.page("/team/-/look")  # its process is started again
    guarded.goes(f"compute:{way}")
    before = guarded.site.rows("SELECT count(*) FROM builds")[0][0]
    form = {"key": new_id(), "diff": "front-a", "dry_mass_g": f"12.{before}", "oil_mass_g": "1.85", "another": "yes"}
    began = monotonic()
    answer = guarded.site.post("/team/-/enter/record/build", form)
    took_s = monotonic() - began
    assert answer.status_code == 303, answer.text[:500]
    assert guarded.site.rows("SELECT count(*) FROM builds") == [(before + 1,)]
    said = guarded.page(answer.headers["location"])
    if way == "print":
        assert "Not worked out" not in said
        return
    words = "0.3 s and was stopped" if way == "hang" else WAYS[way]
    assert "Not worked out for front-a/" in said
    assert words in said
    assert str(guarded.folder) not in said
    if way == "hang":
        assert "'bevelbook --db team.db calc odd-twice --all build'" in said
        assert took_s < LONGEST_ELSEWHERE_S + 3, "the calculator held the database for no longer than it may"


def test_code_that_hung_rests_so_that_a_page_with_many_cards_does_not_wait_for_each(guarded: Guarded) -> None:
    guarded.goes("compute:hang", LIMIT_S)
    calculator = guarded.registry.calculator("odd-twice").calculator
    bound = Binder(calculator, {"mass_g": "2"}).bind({})
    began = monotonic()
    said = [str(one) for _ in range(20) for one in guarded.kept_out.worked_out(calculator, [bound])]
    assert "was stopped" in said[0]
    assert all("rests for" in one for one in said[1:])
    assert monotonic() - began < 20 * LIMIT_S
    guarded.goes("nothing:print")
    assert run(calculator, bound).outputs == {"double_g": 4.0}


def test_many_records_go_across_together(guarded: Guarded, monkeypatch: pytest.MonkeyPatch) -> None:
    guarded.goes("nothing:print")
    calculator = guarded.registry.calculator("odd-twice").calculator
    bounds = [Binder(calculator, {"mass_g": f"{mass}"}).bind({}) for mass in range(1, 150)]
    asked: list[object] = []
    ask = guarded.process.ask
    monkeypatch.setattr(guarded.process, "ask", lambda question: asked.append(question) or ask(question))
    found = calculator.elsewhere.worked_out(calculator, bounds) if calculator.elsewhere else []
    assert [one.found.double_g for one in found] == [2.0 * mass for mass in range(1, 150)]
    assert len(asked) == 2


def test_time_is_short_only_while_others_wait() -> None:
    assert time_left() is None
    with short_of_time(0.3):
        left = time_left()
        assert left is not None and left.seconds == 0.3
    assert time_left() is None


def test_bundled_plugins_run_in_the_server(registry: Registry) -> None:
    assert all(offered.origin.is_bundled for offered in registry.calculators.values())
    assert not registry.plugins_not_bundled()


class _Starting(CalculatingProcess):
    """One that starts when it is let, and never before."""

    let = threading.Event()

    def start(self) -> None:
        self.let.wait(10.0)


def test_a_process_that_is_only_starting_is_not_called_busy(guarded: Guarded) -> None:
    """Nothing is under way then: that would send people to look for what is not there."""
    starting = _Starting(LoadedFrom(guarded.folder), 60.0, MOST_BYTES)
    made = KeptOut(LoadedFrom(guarded.folder), [starting])
    calculator = guarded.registry.calculator("odd-twice").calculator
    with short_of_time(0.05):
        (found,) = made.worked_out(calculator, [Binder(calculator, {"mass_g": "12.4"}).bind({})])
    starting.let.set()
    made.close()
    assert "is not started yet" in str(found)
    assert "under way" not in str(found)
