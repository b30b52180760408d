"""A plugin is examined once for each version of it, before it is imported; the outcome is kept. All are invented."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from time import time
from typing import Final, NamedTuple

import pytest
from examining.planted import SOUND

from bevelbook.declare.known_units import KNOWN
from bevelbook.examining import in_child, outcomes
from bevelbook.examining.admit import admitted
from bevelbook.examining.outcomes import ExaminedOutcome, keep_outcome, kept_outcome
from bevelbook.plugin.admitting import LeftOutOfPlugin, as_before
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import Registry, load

UNIT: Final = '''"""Furlongs a day, for the plugin beside it."""
from bevelbook import Unit, hookimpl

@hookimpl
def bevelbook_units():
    return (Unit("furlong/day", "a slow speed", 1.0, "_furlong_day", ucum="[fur_us]/d"),)
'''
ONLY_FAR_OUT: Final = "    if given.mass_g > 400: 1 / 0\n    return Found("
TWO: Final = """
from bevelbook import Worked as Another
WRONG = Calculator(
    name="wrong", title="Wrong", question="What is twice that mass?", purpose="twice a mass", version=1, given=Given,
    found=Found, compute=compute, judge=judge, working=working, valid=("any mass",), sources=(ARITHMETIC,),
    worked=(Another({"mass_g": "3 g"}, {"double_g": 7.0}, 0.0, ARITHMETIC),), answer="double_g",
)
"""
FILES: Final = {
    "a_sound": SOUND.replace('"twice"', '"a"').replace('name="doubling"', 'name="sound"'),
    "b_ends": "import os\nos._exit(0)\n",
    "c_two": (SOUND.replace('"twice"', '"c"').replace("(DOUBLING,)", "(DOUBLING, WRONG)") + TWO),
    "d_far_out": SOUND.replace('"twice"', '"d"')
    .replace('name="doubling"', 'name="far-out"')
    .replace("    return Found(", ONLY_FAR_OUT, 1),
    "e_pace": SOUND.replace('"twice"', '"e"')
    .replace('name="doubling"', 'name="pace"')
    .replace("mass_g", "pace_furlong_day")
    .replace('"g"', '"furlong/day"', 1)
    .replace('"3 g"', '"3"'),
    "f_unit": UNIT,
}


class Started(NamedTuple):
    """What was loaded, and how many processes examined something for it."""

    registry: Registry
    processes: int

    @property
    def offered(self) -> list[str]:
        return sorted(name for name, one in self.registry.calculators.items() if not one.origin.is_bundled)

    @property
    def left_out(self) -> dict[str, str]:
        return {one.origin.plugin: one.reason for one in self.registry.failures}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    made = tmp_path_factory.mktemp("plugins")
    for name, text in FILES.items():
        (made / f"{name}.py").write_text(text, encoding="utf-8")
    yield made
    KNOWN.take(str(Origin("f_unit", str(made / "f_unit.py"))), ())


@pytest.fixture(scope="module")
def first(folder: Path) -> Started:
    """The first start with that folder, whose outcomes the others know."""
    with pytest.MonkeyPatch.context() as monkeypatch:
        return starting(monkeypatch)(folder)


@pytest.fixture
def start(monkeypatch: pytest.MonkeyPatch, first: Started) -> Callable[[Path], Started]:
    """Load a folder as a command does."""
    return starting(monkeypatch)


def starting(monkeypatch: pytest.MonkeyPatch) -> Callable[[Path], Started]:
    popen = in_child.subprocess.Popen
    begun: list[object] = []
    monkeypatch.setattr(in_child, "LONGEST_S", 30.0)
    monkeypatch.setattr(in_child, "IMPORT_S", 30.0)
    monkeypatch.setattr(in_child, "ALL_S", 60.0)
    monkeypatch.setattr(in_child.subprocess, "Popen", lambda *said, **more: begun.append(said) or popen(*said, **more))

    def started(folder: Path) -> Started:
        begun.clear()
        return Started(load(entry_points=(), folder=folder, admitted=admitted), len(begun))

    return started


def test_the_first_start_examines_and_the_second_starts_no_process(
    start: Callable[[Path], Started], folder: Path, first: Started
) -> None:
    assert first.offered == ["doubling", "far-out", "pace", "sound"]
    assert sorted(first.left_out) == ["b_ends", "c_two"]
    assert "the import ended the process" in first.left_out["b_ends"]
    assert (
        "calculator wrong: its worked example gives 6 g for double_g, and 7 g is expected (c_two.py, line"
        in (first.left_out["c_two"])
    )
    assert first.processes == 3, "one, another after the one that ends it, and one beside the unit of another plugin"
    again = start(folder)
    assert (again.offered, again.left_out, again.processes) == (first.offered, first.left_out, 0)


def test_another_process_leaves_out_the_same(start: Callable[[Path], Started], folder: Path) -> None:
    left_out = start(folder).registry.left_out
    held = {key: LeftOutOfPlugin.from_held(list(one)) for key, one in left_out.items()}
    registry = load(entry_points=(), folder=folder, admitted=as_before(held))
    assert sorted(registry.calculators) == ["doubling", "far-out", "pace", "sound"]


def test_a_changed_file_is_examined_again_and_the_others_are_not(
    start: Callable[[Path], Started], folder: Path
) -> None:
    known = start(folder)
    file = folder / "a_sound.py"
    file.write_text(FILES["a_sound"].replace("2 * given", "3 * given"), encoding="utf-8")
    changed = start(folder)
    assert set(known.offered) - set(changed.offered) == {"sound"}
    assert "gives 9 g for double_g" in changed.left_out["a_sound"]
    file.write_text(FILES["a_sound"], encoding="utf-8")
    assert start(folder).offered == known.offered


def test_where_nothing_can_be_kept_it_is_kept_for_this_process(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "file"))
    keep_outcome("some", ExaminedOutcome("why", {"one": "because"}))
    assert kept_outcome("some") == ExaminedOutcome("why", {"one": "because"})
    assert kept_outcome("another") is None


def test_outcomes_that_nobody_asked_for_in_a_long_time_are_cleared_away(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    for version, days in (("old", outcomes.KEPT_DAYS + 1), ("seen", outcomes.KEPT_DAYS - 1)):
        keep_outcome(version, ExaminedOutcome(None, {}))
        at = time() - days * 86_400
        os.utime(outcomes.folder() / f"{version}.json", (at, at))
    assert kept_outcome("seen") is not None
    keep_outcome("new", ExaminedOutcome(None, {}))
    assert sorted(file.name for file in outcomes.folder().iterdir()) == ["new.json", "seen.json"]
    assert time() - (outcomes.folder() / "seen.json").stat().st_mtime < 86_400, "it was asked for now"


def test_what_took_too_long_is_tried_again_after_an_hour(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    slow = ExaminedOutcome("it took over 2 s", {}, None, time() + outcomes.SLOW_KEPT_S)
    keep_outcome("slow", slow)
    assert kept_outcome("slow") == slow
    monkeypatch.setattr(outcomes, "time", lambda: time() + outcomes.SLOW_KEPT_S + 1)
    assert kept_outcome("slow") is None


def test_several_at_once_never_read_half_of_an_outcome(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    whole = ExaminedOutcome("why" * 1000, {"one": "because"})
    keep_outcome("same", whole)

    def kept_and_read(_: int) -> list[ExaminedOutcome | None]:
        keep_outcome("same", whole)
        return [kept_outcome("same") for _ in range(5)]

    with ThreadPoolExecutor(4) as pool:
        assert all(one == whole for found in pool.map(kept_and_read, range(40)) for one in found)
    assert [file.name for file in outcomes.folder().iterdir()] == ["same.json"]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"whole": 3, "calculators": {}, "among": null, "until": null}'])
def test_an_outcome_that_cannot_be_read_is_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    keep_outcome("torn", ExaminedOutcome(None, {}))
    (outcomes.folder() / "torn.json").write_text(text, encoding="utf-8")
    assert kept_outcome("torn") is None
