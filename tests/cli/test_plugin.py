"""``bevelbook plugin``: a file that works and teaches, a project around it, and the list of what was found."""

from __future__ import annotations

import shlex
import subprocess
import sys
import tomllib
from collections.abc import Callable
from importlib.metadata import distributions
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from zipfile import ZipFile

import pytest
from conftest import Outcome
from hatchling.build import build_wheel

import bevelbook as program
from bevelbook.new_plugin.files import EXAMPLE, single_file
from bevelbook.new_plugin.names import PluginNames
from bevelbook.plugin.registry import GROUP, load

Run = Callable[..., Outcome]
ASKS = "test_bevelbook_finds_nothing_wrong_with_it"
BROKEN = "import no_such_module_of_anybody\n"


def commands_in(out: str) -> list[list[str]]:
    """The commands that were printed to be copied."""
    return [shlex.split(line)[1:] for line in out.splitlines() if line.startswith("  bevelbook ")]


def test_a_new_file_works_and_the_printed_calculation_runs(bevelbook: Run) -> None:
    made = bevelbook("plugin", "new", "tyre-age", "--to", "mine")
    assert (made.code, made.err) == (0, "")
    assert made.out.startswith("Wrote mine/tyre_age.py\nWrote mine/test_tyre_age.py\n")
    looking_over, calculation, pages = commands_in(made.out)
    assert looking_over == ["plugin", "check", "mine/tyre_age.py"]
    done = bevelbook(*calculation)
    assert (done.code, done.err) == (0, "")
    assert done.out.startswith("Tyre age\nok: draw 4.00 cm³")
    assert pages == ["serve", "--plugins", "mine"]


def test_nothing_is_replaced(bevelbook: Run) -> None:
    Path("test_tyre_age.py").write_text("mine", encoding="utf-8")
    refused = bevelbook("plugin", "new", "tyre-age")
    assert refused.code == 2
    assert "test_tyre_age.py: there is a file of that name already" in refused.err
    assert not Path("tyre_age.py").exists()
    assert Path("test_tyre_age.py").read_text(encoding="utf-8") == "mine"


def test_a_bad_name_is_refused_with_the_whole_command_to_type(bevelbook: Run) -> None:
    refused = bevelbook("plugin", "new", "Ölstand hinten", "--to", "mine")
    assert refused.code == 2
    assert "Type 'bevelbook plugin new oelstand-hinten --to mine'." in refused.err
    assert not Path("mine").exists()


def test_the_database_that_was_named_goes_along_to_the_pages(bevelbook: Run) -> None:
    made = bevelbook("--db", "sunday.db", "plugin", "new", "tyre-age", "--json")
    assert made.json["next"][-1] == "bevelbook --db sunday.db serve --plugins ."
    assert made.json["written"] == ["tyre_age.py", "test_tyre_age.py"]


def test_the_text_is_short_and_ruff_finds_nothing_in_it(bevelbook: Run) -> None:
    """Under some 130 lines beside the list of what is imported; mypy reads the file as part of the program."""
    texts = single_file(PluginNames("tyre-age"))
    assert not [name for name, text in texts.items() if EXAMPLE.module in text or EXAMPLE.calculator in text]
    assert len(texts["tyre_age.py"].splitlines()) < 150
    bevelbook("plugin", "new", "tyre-age")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "ruff",
            "check",
            "--isolated",
            "--line-length=120",
            "--select=E,F,W,I,B,UP,SIM,RET",
            ".",
        ],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


def test_a_project_is_installed_by_its_entry_point_and_its_tests_pass(
    bevelbook: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = bevelbook("plugin", "new", "gear-wear", "--package")
    assert made.code == 0
    assert "python -m pip install -e gear-wear" in made.out
    assert len(Path("gear-wear/README.md").read_text(encoding="utf-8").splitlines()) <= 6
    project = tomllib.loads(Path("gear-wear/pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["dependencies"] == [f"bevelbook>={program.__version__}"]
    assert run_tests_of(Path("gear-wear/tests/test_gear_wear.py"), Path("gear-wear/src/gear_wear.py")) > 3
    site = tmp_path / "site"
    monkeypatch.chdir("gear-wear")
    ZipFile(tmp_path / build_wheel(str(tmp_path))).extractall(site)
    monkeypatch.syspath_prepend(site)
    (found,) = distributions(path=[str(site)])
    registry = load(entry_points=found.entry_points.select(group=GROUP))
    del sys.modules["gear_wear"]
    assert registry.failures == []
    assert registry.calculator("gear-wear").origin.in_words == "plugin gear_wear (bevelbook-gear-wear 0.1.0)"


def run_tests_of(tests: Path, module: Path) -> int:
    """Run the tests of a new file in this process, as pytest would; how many there were.

    That which asks another process is left to the test of the manual, which has pytest run them.
    """
    loaded = {}
    for path in (module, tests):
        spec = spec_from_file_location(path.stem, path)
        assert spec is not None and spec.loader is not None
        sys.modules[path.stem] = loaded[path] = module_from_spec(spec)
        spec.loader.exec_module(loaded[path])
    try:
        ran = [test() for name, test in vars(loaded[tests]).items() if name.startswith("test_") and name != ASKS]
    finally:
        for path in loaded:
            del sys.modules[path.stem]
    return len(ran)


def test_the_list_says_where_a_plugin_is_from_what_it_offers_and_why_one_did_not_load(bevelbook: Run) -> None:
    assert bevelbook("plugin", "list").code == 0
    bevelbook("plugin", "new", "tyre-age", "--to", "mine")
    Path("mine/broken.py").write_text(BROKEN, encoding="utf-8")
    Path("mine/shims.py").write_text(
        Path("mine/tyre_age.py").read_text(encoding="utf-8").replace('"tyre-age"', '"shims"'), encoding="utf-8"
    )
    listed = bevelbook("--plugins", "mine", "plugin", "list")
    assert listed.code == 1
    assert "broken\n  file      mine/broken.py\n  left out  cannot be imported: ModuleNotFoundError" in listed.out
    assert "tyre_age\n  file         " in listed.out
    assert "  hooks        bevelbook_calculators, bevelbook_charts\n  calculators  tyre-age\n" in listed.out
    assert f"Bundled, bevelbook {program.__version__}, in " in listed.out
    found = {
        (one["name"], one["is_bundled"]): one
        for one in bevelbook("--plugins", "mine", "plugin", "list", "--json").json["plugins"]
    }
    assert ("test_tyre_age", False) not in found
    assert found["tyre_age", False]["left_out"] == []
    assert "is offered by" in found["shims", False]["left_out"][0]
    assert found["shims", True]["calculators"] == ["shims"]
    assert found["shims", True]["version"] == program.__version__


def test_each_flaw_has_its_file_its_line_and_what_to_write_instead(bevelbook: Run) -> None:
    bevelbook("plugin", "new", "tyre-age", "--to", "mine")
    text = Path("mine/tyre_age.py").read_text(encoding="utf-8")
    line = 1 + text[: text.index("worked=(Worked(")].count("\n")
    Path("mine/wrong.py").write_text(text.replace('"draw_cm3": 4.0', '"draw_cm3": 4.1'), encoding="utf-8")
    done = bevelbook("--plugins", "mine", "plugin", "check", "wrong", "mine/tyre_age.py", "shims")
    assert (done.code, done.err) == (1, "")
    flaw, remedy, _, summary, other, bundled = done.out.splitlines()
    assert flaw.startswith(
        f"mine/wrong.py, line {line}: calculator tyre-age: its worked example gives 4 cm3 for draw_cm3"
    )
    assert remedy.startswith("  Look the value up in the source once more")
    assert summary == "wrong: 1 serious flaw; until that is mended it is left out."
    assert (other, bundled) == ("mine/tyre_age.py: nothing is wrong with it.", "shims: nothing is wrong with it.")
    found = bevelbook("plugin", "check", "mine/wrong.py", "--json")
    (plugin,) = found.json["plugins"]
    assert (found.code, found.json["serious"], plugin["asked"]) == (1, 1, "mine/wrong.py")
    assert (plugin["flaws"][0]["code"], plugin["flaws"][0]["line"]) == ("example_wrong", line)


def test_a_file_goes_by_one_name_in_its_flaws_and_in_the_summary(bevelbook: Run, tmp_path: Path) -> None:
    bevelbook("plugin", "new", "tyre-age", "--to", "mine")
    file = Path("mine/tyre_age.py")
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"draw_cm3": 4.0', '"draw_cm3": 4.1'), encoding="utf-8")
    for typed in (
        "mine/tyre_age.py",
        "./mine/tyre_age.py",
        str(file.absolute()),
        f"../{tmp_path.name}/mine/tyre_age.py",
    ):
        named = [line for line in bevelbook("plugin", "check", typed).out.splitlines() if "tyre_age.py" in line]
        assert len(named) == 2
        assert [line.startswith((f"{typed}, line ", f"{typed}: 1 serious")) for line in named] == [True, True]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("mine", "mine: this is a folder, and a plugin is a file. Type 'bevelbook plugin check mine/tyre_age.py'."),
        ("tyre-age", "Type 'bevelbook plugin check tyre-age/src/tyre_age.py'."),
        ("empty", "There is no plugin in it: name a file that ends in .py."),
        ("-", "Store it under a name that ends in .py, and name that."),
        ("notes.txt", "notes.txt: a plugin is a file of Python, and its name ends in .py."),
        ("nowhere.py", "there is no such file"),
        ("shimz", "Did you mean shims"),
    ],
)
def test_what_cannot_be_looked_over_is_answered(bevelbook: Run, asked: str, said: str) -> None:
    for folder in ("mine", "empty", "tyre-age/src"):
        Path(folder).mkdir(parents=True)
    for file in ("mine/tyre_age.py", "mine/test_tyre_age.py", "tyre-age/src/tyre_age.py", "notes.txt"):
        Path(file).touch()
    done = bevelbook("plugin", "check", asked)
    assert (done.code, done.out) == (2, "")
    assert said in done.err
