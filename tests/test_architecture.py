"""The shape of the code: layers, names, what lies where, and what the checkers say."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from keyword import iskeyword
from pathlib import Path
from typing import Final

import pytest

from bevelbook.manual.commands import COMMANDS
from bevelbook.web.host.page import OF_DATABASE
from bevelbook.web.routes import declared_entry_pages, declared_pages, our_routes

ROOT = Path(__file__).parent.parent
SENT_ON: Final[frozenset[str]] = frozenset({"scale", "weekend"})
"""Addresses without a page of their own: they only lead on to another, or answer a script."""
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "core", "plugins", "datasets", "tests", "LICENSE"}
CODE = [path for folder in ("core", "plugins", "datasets", "tests") for path in sorted((ROOT / folder).rglob("*.py"))]


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", *words], capture_output=True, text=True, cwd=ROOT, check=False)


def tracked() -> list[str]:
    done = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False)
    if done.returncode:
        pytest.fail(f"git does not answer here: {done.stderr}")
    return done.stdout.splitlines()


def test_layers_point_one_way() -> None:
    code = "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.long
@pytest.mark.parametrize("check", [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)], ids=" ".join)
def test_checkers_are_silent(check: tuple[str, ...]) -> None:
    done = run(*check)
    assert done.returncode == 0, done.stdout + done.stderr


def test_nothing_else_lies_at_the_top() -> None:
    names = {path.split("/")[0] for path in tracked()}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


def test_a_page_has_one_name_for_its_address_its_module_and_its_template() -> None:
    """``/DATABASE/-/NAME``, ``pages/NAME.py``, ``templates/bevelbook_NAME.html``; what they share has no address."""
    web = ROOT / "core/bevelbook/web"
    modules = {path.stem for path in (web / "pages").glob("*.py")} - {"__init__"}
    templates = {path.stem.removeprefix("bevelbook_") for path in (web / "templates").glob("*.html")}
    of_entry = {name for name in templates if name.startswith(("enter_", "step_"))} | {
        "shared",
        "file",
        "entry",
        "step",
    }
    assert {page.name for page in declared_pages()} == modules == templates - of_entry
    for page in declared_pages():
        module = (web / f"pages/{page.name}.py").read_text(encoding="utf-8")
        assert f'PAGE: Final = Page("{page.name}"' in re.sub(r"\(\s+", "(", module)
        assert page.answer.__module__ == f"bevelbook.web.pages.{page.name}"
    ours = [pattern for pattern, _ in our_routes() if pattern.startswith(OF_DATABASE) and pattern != OF_DATABASE]
    named = {page.route[0]: page.name for page in declared_pages()}
    assert [pattern for pattern in ours if pattern not in named] == [f"{OF_DATABASE}$"], (
        "the first page, without a name"
    )


def test_a_page_that_writes_has_one_name_for_its_address_its_module_and_its_template() -> None:
    """``/DATABASE/-/enter/NAME``, ``entry/pages/NAME.py``, ``templates/bevelbook_enter_NAME.html``."""
    web = ROOT / "core/bevelbook/web"
    modules = {path.stem for path in (web / "entry/pages").glob("*.py")} - {"__init__"}
    templates = {path.stem.removeprefix("bevelbook_enter_") for path in (web / "templates").glob("bevelbook_enter_*")}
    assert {_module_of(page.name) for page in declared_entry_pages()} == modules
    assert {page.name.replace("-", "_") for page in declared_entry_pages()} <= templates | SENT_ON
    for page in declared_entry_pages():
        assert page.answer.__module__ == f"bevelbook.web.entry.pages.{_module_of(page.name)}"


def _module_of(page: str) -> str:
    """The name of a page as a module has it, with a line behind a word of Python."""
    return f"{page}_" if iskeyword(page) else page.replace("-", "_")


def test_no_two_classes_share_a_name() -> None:
    """The names are looked for in the sources; one that is there twice may stand in a text, and is read as Python."""
    where: dict[str, list[Path]] = {}
    for path in CODE:
        if not path.is_relative_to(ROOT / "tests"):
            for name in re.findall(r"^class +(\w+)", path.read_text(encoding="utf-8"), re.MULTILINE):
                where.setdefault(name, []).append(path)
    assert len(where) > 500
    twice = {
        name: [str(path.relative_to(ROOT)) for path in sorted({*paths}) for one in classes_in(path) if one == name]
        for name, paths in where.items()
        if len(paths) > 1
    }
    assert {name: files for name, files in twice.items() if len(files) > 1} == {}


def classes_in(path: Path) -> list[str]:
    """The classes of a module."""
    return [one.name for one in ast.parse(path.read_text(encoding="utf-8")).body if isinstance(one, ast.ClassDef)]


def test_every_calculator_lies_in_a_file_named_like_it() -> None:
    files = {}
    for path in (ROOT / "plugins/bevelbook_plugins").glob("*.py"):
        for name in names_in(path):
            files[name] = path.stem
    assert len(files) > 15
    assert files == {name: name.replace("-", "_") for name in files}


def test_every_test_module_of_a_plugin_is_named_like_it() -> None:
    plugins = {path.stem for path in (ROOT / "plugins/bevelbook_plugins").glob("*.py")}
    tests = {path.stem.removeprefix("test_") for path in (ROOT / "tests/plugins").glob("test_*.py")}
    assert tests <= plugins


def test_a_large_library_is_imported_in_one_place_alone() -> None:
    for library, home in (
        ("pint", "core/bevelbook/declare/factor_by_pint"),
        ("datasette", "core/bevelbook/web"),
        ("vl_convert", "core/bevelbook/drawing"),
        ("PIL", "core/bevelbook/pictures"),
    ):
        users = {
            str(path.relative_to(ROOT))
            for path in CODE
            if path.is_relative_to(ROOT / "core") or path.is_relative_to(ROOT / "plugins")
            for line in path.read_text(encoding="utf-8").splitlines()
            if line.strip().startswith((f"import {library}", f"from {library}"))
        }
        assert {user for user in users if not user.startswith(home)} <= {"core/bevelbook/cli/serve.py"}, library


TRADE_WORDS = {
    ("records/note_row.py", "viscosity"): "a heading of notes",
    ("declare/vocabulary.py", "blend"): "where a viscosity comes from",
}
"""Words of core that are the name of a calculator too, and what they stand for there."""


def calculator_names() -> set[str]:
    """The names that the bundled plugins give their calculators, read from their text."""
    return {name for path in (ROOT / "plugins").rglob("*.py") for name in names_in(path)}


def names_in(path: Path) -> Iterator[str]:
    """The names of the calculators that a file declares."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Calculator":
            yield from (word.value.value for word in node.keywords if word.arg == "name")  # type: ignore[attr-defined]


def texts_of(path: Path) -> Iterator[str]:
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield text
        return
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def test_no_file_of_core_names_a_calculator_of_a_plugin() -> None:
    """A command may have a calculator's name: it writes down what the calculator only works out."""
    names = set(calculator_names()) - set(COMMANDS)
    assert len(names) > 15
    joined = re.compile("|".join(rf"(?<![\w-]){re.escape(name)}(?![\w-])" for name in sorted(names) if "-" in name))
    plain = "|".join(re.escape(name) for name in sorted(names) if "-" not in name)
    maybe = re.compile(rf"{joined.pattern}|[\"'>\n](?:{plain})[\"'<\n]")
    named = []
    core = ROOT / "core/bevelbook"
    for path in sorted(core.rglob("*")):
        if path.suffix not in (".py", ".html", ".sql") or not maybe.search(path.read_text(encoding="utf-8")):
            continue
        where = path.relative_to(core).as_posix()
        for text in texts_of(path):
            found = [*joined.findall(text), *(name for name in names if "-" not in name and text == name)]
            named += [(where, name) for name in found if (where, name) not in TRADE_WORDS]
    assert named == []


TRANSLATED: Final = re.compile(
    r"\b(told|untold|anew|bears)\b|\b(?<!there )(?<!There )(is|are|was|were) no (?!longer|more)[a-z]+", re.IGNORECASE
)
"""Words and turns of phrase that nobody says aloud at a bench."""
QUOTED_OLD: Final = re.compile(r"\*not told\*|`told`|\"not told( apart)?\"")
AS_IT_WAS: Final = ("core/bevelbook/store/steps/", "tests/messy/", "tests/schema/", "tests/test_architecture.py")


def test_texts_and_names_are_plain_english() -> None:
    """Not in the released steps, in notes of other people, nor where an old name is quoted."""
    found = []
    for name in tracked():
        if not name.endswith((".py", ".html", ".md", ".sql", ".yaml", ".css", ".js", ".txt")) or name.startswith(
            AS_IT_WAS
        ):
            continue
        for number, line in enumerate((ROOT / name).read_text(encoding="utf-8").splitlines(), start=1):
            found += [f"{name}:{number}: {one[0]}" for one in TRANSLATED.finditer(QUOTED_OLD.sub("", line))]
    assert found == []
