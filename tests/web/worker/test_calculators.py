"""A calculator that hangs, grows, prints, ends its process or leaves something running is answered in a sentence, and
other pages go on meanwhile."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from html import unescape
from http import HTTPStatus
from pathlib import Path
from typing import Any, Final

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.calculating.calculate import bind, run
from bevelbook.declare.errors import PluginFault
from bevelbook.display.unbroken import NO_BREAK
from bevelbook.plugin.registry import LoadedFrom, Registry, load
from bevelbook.web.worker import calculators
from bevelbook.web.worker.calculators import CalculatingProcesses, worked_out
from bevelbook.web.worker.crossing import ResultFromThere
from bevelbook.web.worker.process import CalculatingProcess, CannotStart

PLUGIN: Final = """
import math, os, sys, threading, time
from bevelbook import Calculator, Chart, Judgement, Source, Worked, hookimpl, quantity, record, refuse, text

ARITHMETIC = Source("computed", "arithmetic")
HELD = []

@record
class Given:
    mass_g: float = quantity("g", "A mass")
    how: str = text("How it goes wrong", default="not")

@record
class Found:
    double_g: float = quantity("g", "Twice that mass")

def compute(given):
    HOW.get(given.how, lambda: None)()
    if given.how == "refuse":
        raise refuse(given, "mass_g", "too heavy", remedy="Weigh a smaller one.")
    odd = {"nan": math.nan, "complex": 2j}
    return Found(double_g=odd.get(given.how, 2 * given.mass_g))

def grow():
    while True:
        HELD.append(bytearray(50_000_000))

def spin():
    while True:
        time.sleep(0.001)

def split():
    if os.fork() == 0:
        spin()

def answer_itself(more):
    frame = sys._getframe()
    while "answers" not in frame.f_locals:
        frame = frame.f_back
    held = frame.f_locals
    os.write(held["answers"].fileno(), b'{"number": %d%s}\\n' % (held["question"]["number"], more))

HOW = {
    "answer": lambda: answer_itself(b""),
    "answer a fault": lambda: answer_itself(b', "fault": 7'),
    "hang": lambda: [None for _ in iter(int, 1)],
    "hold": lambda: "x".count("y") + sum(range(10**12)),
    "grow": grow,
    "print": lambda: print('{"number": 1}', flush=True) or os.write(1, b"no answer\\n") and input(),
    "exit": lambda: sys.exit(3),
    "end": lambda: os._exit(0),
    "raise": lambda: 1 / 0,
    "thread": lambda: threading.Thread(target=spin).start(),
    "split": split,
    "twice": lambda: os.fork(),
    "long": lambda: None,
}

SLOW = Calculator(
    name="odd-double", title="Odd double", question="What is twice that?", purpose="twice a mass", version=1,
    given=Given, found=Found, compute=compute,
    judge=lambda given, found: Judgement("ok", ("twice",)),
    working=lambda given, found: (f"2 x {given.mass_g:g} g",),
    picture=lambda given, found: f"<svg>{'x' * 5_000_000 if given.how == 'long' else ''}</svg>",
    valid=("any mass",), sources=(ARITHMETIC,), answer="double_g",
    worked=(Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, ARITHMETIC),),
)
CHART = Chart("odd-points", "Points", "Points.", (("x", "X"),), {"mark": "point"}, calculator="odd-double",
              points=lambda given: spin() if given and given.how == "chart" else [{"x": 1.0}])

@hookimpl
def bevelbook_calculators():
    return (SLOW,)

@hookimpl
def bevelbook_charts():
    return (CHART,)
"""
LIMIT_S: Final = 0.4
PATIENT_S: Final = 60.0
MOST_BYTES: Final = 600_000_000
needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork here")


@pytest.fixture(scope="module")
def odd(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Registry]:
    """The installed plugins and that one, with one process and a short limit."""
    folder = tmp_path_factory.mktemp("plugins")
    (folder / "odd.py").write_text(PLUGIN, encoding="utf-8")
    registry = load(folder=folder)
    loaded = LoadedFrom(folder)
    process = CalculatingProcess(loaded, PATIENT_S, MOST_BYTES)
    held = calculators._CALCULATORS[registry] = CalculatingProcesses(loaded, [process])
    registry.process = process  # type: ignore[attr-defined]
    yield registry
    held.close()


@pytest.fixture
def hurried(odd: Registry, monkeypatch: pytest.MonkeyPatch) -> None:
    """A calculation is stopped soon."""
    monkeypatch.setattr(odd.process, "longest_s", LIMIT_S)  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, odd: Registry) -> Iterator[Site]:
    with site_over(make_team(tmp_path_factory.mktemp("site") / "team.db").path, odd) as made:
        yield made


@pytest.mark.parametrize(
    ("how", "status", "said"),
    [
        ("not", 200, "4.0"),
        ("hang", 503, "it took over 0.4 s and was stopped"),
        ("hold", 503, "it took over 0.4 s and was stopped"),
        ("end", 503, "it ended in the middle of its work"),
        ("long", 503, "its answer is too long to be shown"),
        ("grow", 200, "it wanted more memory than a calculation may have"),
        ("print", 200, "raised EOFError"),
        ("answer", 503, "its process sent something else than an answer"),
        ("answer a fault", 503, "its process sent something else than an answer"),
        ("exit", 200, "compute raised SystemExit: 3"),
        ("raise", 200, "compute raised ZeroDivisionError"),
        ("nan", 200, "compute gave no finite double"),
        ("complex", 200, "compute gave double_g=2j, which has to be a number"),
        ("refuse", 400, "Weigh a smaller one."),
        ("thread", 200, "4.0"),
        pytest.param("split", 200, "4.0", marks=needs_fork),
        pytest.param("twice", 200, "4.0", marks=needs_fork),
        ("chart", 200, "it took over 0.4 s and was stopped"),
        ("", 200, "4.0"),
    ],
)
def test_each_way_to_go_wrong_is_answered_in_a_sentence(
    site: Site, how: str, status: int, said: str, request: pytest.FixtureRequest
) -> None:
    if said.startswith("it took"):
        request.getfixturevalue("hurried")
    answer = site.get("/team/-/calc/odd-double", params={"mass_g": "2", "how": how})
    words = unescape(answer.text).replace(NO_BREAK, " ")
    assert (answer.status_code, said in words, "Something went wrong" in words) == (status, True, False)
    if status == HTTPStatus.SERVICE_UNAVAILABLE:
        assert "calculator odd-double of plugin odd failed" in words.lower()
        assert 'value="2"' in answer.text  # what was typed is still in the form
        assert int(answer.headers["retry-after"]) > 0


def test_other_pages_are_answered_while_a_calculator_hangs_and_who_is_one_too_many_comes_again(
    site: Site, odd: Registry
) -> None:
    """One hangs, eight wait, two come later: these are answered at once."""
    process: CalculatingProcess = odd.process  # type: ignore[attr-defined]
    process._end()

    async def ask(path: str) -> Any:
        return await site.datasette.client.get(f"/team/{path}")

    async def together() -> None:
        await site.datasette.invoke_startup()
        asked = [asyncio.create_task(ask("-/calc/odd-double?mass_g=2&how=hang"))]
        others = await asyncio.gather(*(ask(path) for path in ("-/calls", "builds", "-/charts")))
        assert [one.status_code for one in others] == [200, 200, 200]
        asked += [asyncio.create_task(ask("-/calc/odd-double?mass_g=2")) for _ in range(10)]
        busy: set[asyncio.Task[Any]] = set()
        while len(busy) < 2:
            busy, _ = await asyncio.wait(asked, return_when=asyncio.FIRST_COMPLETED)
        assert not asked[0].done()
        process._end()
        answers = await asyncio.gather(*asked)
        assert sorted(one.status_code for one in answers) == [200] * 8 + [503] * 3
        for one in busy:
            assert "Too much to work out just now" in one.result().text
            assert "Wait a few seconds, then load the page again." in one.result().text
            assert one.result().headers["retry-after"] == "5"

    asyncio.run(together())


def test_the_worked_examples_come_out_as_in_one_process(registry: Registry) -> None:
    """To the last digit, with what follows from a ±. It takes a second or more: both load the libraries of numbers."""

    async def there(name: str, texts: dict[str, Any]) -> Any:
        calculator = registry.calculator(name).calculator
        return await worked_out(registry, calculator, bind(calculator, texts))

    for name, offered in registry.calculators.items():
        for worked in offered.calculator.worked[:1]:
            here = run(offered.calculator, bind(offered.calculator, worked.given))
            found = asyncio.run(there(name, worked.given))
            assert isinstance(found, ResultFromThere)
            assert found.found == here.found
            assert found.as_dict() == here.as_dict()
            assert (found.working(), found.picture_or_fault()) == (here.working(), here.picture_or_fault())
    spread = {"dry_mass_g": "9.50 ± 0.02 g", "oil_mass_g": "1.50 ± 0.05 g"}
    calculator = registry.calculator("fill-target").calculator
    assert asyncio.run(there("fill-target", spread)).as_dict() == run(calculator, bind(calculator, spread)).as_dict()


def test_a_process_shows_tracebacks_where_that_was_asked_and_ends_with_the_server(
    odd: Registry, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    question = {"calculator": "odd-double", "bound": None}
    assert odd.loaded_from is not None
    monkeypatch.setattr(PluginFault, "show_traceback", print)
    closed = CalculatingProcess(odd.loaded_from)
    assert closed.ask({"chart": "none", "given": None})["is_misfit"]
    given = {
        "given": {"mass_g": 1.0, "how": "raise"},
        "origins": {},
        "uncertainties": [],
        "findings": [],
        "k_taken": [],
    }
    assert "fault" in closed.ask({"calculator": "odd-double", "bound": given})
    shown = capfd.readouterr().err
    assert "Traceback (most recent call last):" in shown
    assert 'odd.py", line ' in shown
    running = closed._running
    assert running is not None
    closed.close()
    assert running.returncode is not None
    with pytest.raises(CannotStart):
        closed.ask(question)


KILLED: Final = """
import sys
from pathlib import Path
from bevelbook.plugin.registry import LoadedFrom
from bevelbook.web.worker.process import CalculatingProcess
one = CalculatingProcess(LoadedFrom(Path(sys.argv[1])), 0.5)
one.ask({"chart": "none", "given": None})
print(one._running.pid, flush=True)
sys.stdin.readline()
given = {"given": {"mass_g": 1.0, "how": "hang"}, "origins": {}, "uncertainties": [], "findings": [], "k_taken": []}
one.ask({"calculator": "odd-double", "bound": given})
"""


@pytest.mark.skipif(not hasattr(os, "killpg"), reason="no such signals here")
@pytest.mark.parametrize("is_at_work", [False, True])
def test_a_process_ends_where_its_server_is_killed(odd: Registry, is_at_work: bool) -> None:
    assert odd.loaded_from is not None
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(odd.loaded_from.folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as server:
        assert server.stdin is not None and server.stdout is not None
        process = int(server.stdout.readline())
        if is_at_work:
            server.stdin.write(b"go\n")
            server.stdin.flush()
        os.kill(server.pid, signal.SIGKILL)
        server.wait()
    end = os.pidfd_open(process) if Path(f"/proc/{process}").exists() else None  # type: ignore[attr-defined]
    if end is not None:
        import select

        assert select.select([end], [], [], 20)[0]
        os.close(end)
