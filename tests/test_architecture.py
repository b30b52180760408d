"""The shape of the code: layers, file sizes, what lies where, and what the checkers say."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
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


@pytest.mark.parametrize("check", [("ruff", "check", "."), ("ruff", "format", "--check", "."), ("mypy",)], ids=" ".join)
def test_checkers_are_silent(check: tuple[str, ...]) -> None:
    done = run(*check)
    assert done.returncode == 0, done.stdout + done.stderr


def test_nothing_else_lies_at_the_top() -> None:
    names = {path.split("/")[0] for path in tracked()}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("path", CODE, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_file_is_longer_than_500_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 500


def test_every_test_module_of_a_plugin_is_named_like_it() -> None:
    plugins = {path.stem for path in (ROOT / "plugins/bevelbook_plugins").glob("*.py")}
    tests = {path.stem.removeprefix("test_") for path in (ROOT / "tests/plugins").glob("test_*.py")}
    assert tests <= plugins


def test_only_the_module_for_units_imports_pint_and_only_the_browser_imports_datasette() -> None:
    for library, home in (("pint", "core/bevelbook/units"), ("datasette", "core/bevelbook/browser")):
        users = {
            str(path.relative_to(ROOT))
            for path in CODE
            if path.is_relative_to(ROOT / "core") or path.is_relative_to(ROOT / "plugins")
            for line in path.read_text(encoding="utf-8").splitlines()
            if line.strip().startswith((f"import {library}", f"from {library}"))
        }
        assert {user for user in users if not user.startswith(home)} <= {"core/bevelbook/cli/serve.py"}, library
