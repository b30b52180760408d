"""A plugin that is broken, misspelt, doubled or gone is named with its reason; the rest works on."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from types import ModuleType

import pluggy
import pytest
from conftest import Outcome
from failing_plugins import plugin

from bevelbook.declare.errors import BevelbookError, UnknownNameError
from bevelbook.plugin import registry as registries
from bevelbook.plugin.check import Reader
from bevelbook.plugin.hookspecs import PROJECT, hookimpl
from bevelbook.plugin.registry import GROUP, Registry, load

GOOD = """
from bevelbook import Calculator, Judgement, Source, Worked, hookimpl, quantity, record

@record
class Given:
    mass_g: float = quantity("g", "Mass")

@record
class Found:
    double_g: float = quantity("g", "Twice the mass")

def calculator(name):
    return Calculator(
        name=name, title="Doubling", question="What is twice that?", purpose="twice a mass", version=1,
        given=Given, found=Found, compute=lambda given: Found(double_g=2 * given.mass_g),
        judge=lambda given, found: Judgement("ok", ("twice",)), working=lambda given, found: ("2 m",),
        valid=("any mass",), sources=(Source("computed", "arithmetic"),),
        worked=(Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, Source("computed", "arithmetic")),), answer="double_g",
    )

@hookimpl
def bevelbook_calculators():
    return [calculator("doubling")]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Registry]:
    """Load a folder of plugin files given as name and text, without any entry point."""

    def loaded(**files: str) -> Registry:
        for name, text in files.items():
            (tmp_path / f"{name}.py").write_text(text)
        return load(entry_points=(), folder=tmp_path)

    return loaded


def test_a_plugin_file_in_a_named_folder_is_loaded(folder: Callable[..., Registry]) -> None:
    registry = folder(good=GOOD)
    assert list(registry.calculators) == ["doubling"]
    assert registry.calculator("doubling").origin.file.endswith("good.py")
    assert registry.failures == []


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("import no_such_module_of_anybody", "cannot be imported: ModuleNotFoundError"),
        ("def broken(:", "cannot be imported: SyntaxError"),
        ("raise SystemExit(3)", "cannot be imported: SystemExit"),
        (GOOD.replace("def bevelbook_calculators", "def bevelbook_calculator"), "Did you mean bevelbook_calculators"),
        (GOOD.replace("@hookimpl\n", ""), "lacks the @hookimpl mark"),
        (GOOD.replace("bevelbook_calculators():", "bevelbook_calculators(surprise):"), "PluginValidationError"),
        (GOOD.replace('return [calculator("doubling")]', 'raise KeyError("gone")'), "raised KeyError"),
        (GOOD.replace('return [calculator("doubling")]', "return 3"), "raised TypeError"),
        (GOOD.replace('[calculator("doubling")]', "[3]"), "which is not a Calculator"),
        (GOOD.replace('calculator("doubling")', 'calculator("Not A Name")'), "lower-case words joined by hyphens"),
        (GOOD.replace("return Calculator(", "return type('Own', (Calculator,), {})("), "which is not a Calculator"),
        (GOOD.replace("version=1", "version=0"), "whole number from 1"),
        (GOOD.replace('double_g: float = quantity("g"', 'double_g: float = quantity("mg"'), "its name says g"),
        (GOOD.replace('answer="double_g"', 'answer="triple_g"'), "is not an output"),
    ],
)  # fmt: skip
def test_a_faulty_plugin_is_named_with_its_reason_and_the_rest_works(
    folder: Callable[..., Registry], text: str, reason: str
) -> None:
    registry = folder(faulty=text, good=GOOD)
    assert list(registry.calculators) == ["doubling"]
    (failure,) = registry.failures
    assert failure.origin.plugin == "faulty"
    assert reason in failure.reason
    assert "faulty.py" in str(failure)


def test_two_calculators_of_one_name_are_both_named_and_the_second_is_refused(folder: Callable[..., Registry]) -> None:
    registry = folder(a_first=GOOD, b_second=GOOD)
    assert registry.calculator("doubling").origin.plugin == "a_first"
    (failure,) = registry.failures
    assert failure.origin.plugin == "b_second"
    assert "a_first" in failure.reason


def test_a_dead_entry_point_is_named_and_the_bundled_ones_work() -> None:
    dead = EntryPoint("aa_dead", "module_that_went_away", GROUP)
    registry = load(entry_points=[dead, *entry_points(group=GROUP)])
    assert "fill-target" in registry.calculators
    (failure,) = registry.failures
    assert failure.origin.plugin == "aa_dead"
    assert "module_that_went_away" in str(failure)


def test_an_unknown_calculator_is_met_with_near_misses(registry: Registry) -> None:
    with pytest.raises(UnknownNameError, match="Did you mean fill-target"):
        registry.calculator("fill-targt")


def test_a_folder_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BevelbookError, match="no such folder"):
        load(entry_points=(), folder=tmp_path / "nowhere")


def test_the_command_names_what_did_not_load(bevelbook: Callable[..., Outcome], tmp_path: Path) -> None:
    (tmp_path / "plug").mkdir()
    (tmp_path / "plug" / "faulty.py").write_text("import no_such_module_of_anybody")
    listed = bevelbook("--plugins", tmp_path / "plug", "calculators")
    assert listed.code == 1
    assert "fill-target" in listed.out
    assert "plugin faulty" in listed.out
    computed = bevelbook(
        "--plugins", tmp_path / "plug", "calc", "fill-target", "--dry-mass", "12.4", "--oil-mass", "1.86"
    )
    assert computed.code == 0
    assert "1 plugin fault" in computed.err
    assert bevelbook("--plugins", tmp_path / "plug", "calculators", "--json").json["left_out"][0]["plugin"] == "faulty"


def test_the_bundled_reference_tables_are_all_offered_and_every_row_has_a_source(registry: Registry) -> None:
    import bevelbook_datasets

    there = {path.stem for path in Path(bevelbook_datasets.__file__).parent.glob("*.csv")} - {"citations"}
    assert set(registry.datasets()) == there
    assert registry.failures == []


@pytest.mark.parametrize(
    ("offer", "reason"),
    [
        ("3", "which is not a DataSet"),
        ('DataSet("x", "X", "bevelbook_datasets", "nowhere.csv")', "FileNotFoundError"),
        ('DataSet("x", "X", "no_such_package_of_anybody", "x.csv")', "ModuleNotFoundError"),
    ],
)
def test_a_faulty_reference_table_is_named_and_left_out(
    folder: Callable[..., Registry], offer: str, reason: str
) -> None:
    registry = folder(
        tables="from bevelbook import hookimpl\nfrom bevelbook.reference import DataSet\n"
        f"@hookimpl\ndef bevelbook_datasets():\n    return [{offer}]\n"
    )
    assert registry.datasets() == {}
    assert reason in registry.failures[0].reason


def test_two_plugin_files_of_a_name_that_is_taken_are_loaded_all_the_same(tmp_path: Path) -> None:
    """A team's own file may have had its name before a bundled plugin got it."""
    bundled = next(one for one in entry_points(group="bevelbook") if one.name == "blend")
    (tmp_path / "blend.py").write_text(GOOD)
    registry = load(entry_points=[bundled], folder=tmp_path)
    assert registry.failures == []
    assert set(registry.calculators) == {"blend", "doubling"}
    assert [origin.plugin for _, origin in registry.plugins()] == ["blend", "blend"]


def test_the_names_of_a_plugin_are_passed_over_just_where_the_library_finds_no_hook() -> None:
    """Against pluggy itself: the installed plugins, and a module with a mark on all that may carry one."""

    class Held:
        @hookimpl
        def bound(self) -> None: ...

        @hookimpl
        def __call__(self) -> None: ...

        @hookimpl
        def __getattr__(self, name: str) -> object:
            return {"specname": name}

    odd = ModuleType("odd")
    odd.plain = lambda: None  # type: ignore[attr-defined]
    odd.marked = hookimpl(lambda: None)  # type: ignore[attr-defined]
    odd.renamed = hookimpl(lambda: None, specname="bevelbook_charts")  # type: ignore[attr-defined]
    odd.static = staticmethod(odd.marked)  # type: ignore[attr-defined]
    odd.static_marked = hookimpl(staticmethod(lambda: None))  # type: ignore[attr-defined]
    odd.of_class = classmethod(odd.marked)  # type: ignore[attr-defined]
    odd.held, odd.bound, odd.cls = Held(), Held().bound, Held  # type: ignore[attr-defined]
    ours, theirs = registries.PluginManager(PROJECT), pluggy.PluginManager(PROJECT)
    found = {}
    for module in (odd, *(point.load() for point in entry_points(group=GROUP))):
        for name in dir(module):
            found[module, name] = ours.parse_hookimpl_opts(module, name)
            assert found[module, name] == theirs.parse_hookimpl_opts(module, name), (module, name)
    assert {name for (module, name), mark in found.items() if module is odd and mark} == {
        "marked", "renamed", "static", "static_marked", "of_class", "bound",
    }  # fmt: skip
    assert sum(mark is not None for mark in found.values()) > len(entry_points(group=GROUP))


def test_the_checks_of_a_plugin_are_found_by_its_file_however_its_folder_was_named(
    tmp_path: Path, connection: sqlite3.Connection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A server that was given the folder from where it stands asks a process that loaded it by its whole path."""
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "own.py").write_text(plugin("own"), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    asked = ("own", str(Path("mine") / "own.py"))
    assert load(entry_points=(), folder=tmp_path / "mine").findings_of(asked, Reader(connection)) == ([], [])
