"""What the documents say is run: commands with their output, the example plugin, the generated parts."""

from __future__ import annotations

import re
import shlex
import sqlite3
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import Outcome
from constructed import Add
from jinja2 import ChoiceLoader, FileSystemLoader

import bevelbook as package
from bevelbook.manual.changes import changes_text
from bevelbook.manual.commands import COMMANDS
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST
from bevelbook.reports.check import check
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web import pages
from bevelbook.web.host.private_datasette import template_environment
from bevelbook.web.routes import declared_pages

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(text: str, language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.DOTALL | re.MULTILINE)


def test_the_commands_of_the_readme_print_what_it_says(bevelbook: Callable[..., Outcome]) -> None:
    """Run in order in one folder; a line of three dots matches any lines, three dots at an end the rest of the line.

    The sheet that the readme shows is in the folder under the name that it has there.
    """
    (sheet,) = blocks(README, "csv")
    Path("season.csv").write_text(sheet, encoding="utf-8")
    for block in blocks(README, "console"):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, _, expected = part.partition("\n")
            words = shlex.split(line)
            assert words[0] == "bevelbook"
            done = bevelbook(*words[1:])
            lines = (
                "(?:.*\n)*" if line == "...\n" else _line_pattern(line) for line in expected.splitlines(keepends=True)
            )
            pattern = "".join(lines)
            assert re.fullmatch(pattern, done.out), f"{line}\n{done.out}{done.err}"


def _line_pattern(line: str) -> str:
    """A line as it is printed; three dots at its end are for what follows."""
    known, dots, _ = line.partition("...\n")
    return f"{re.escape(known)}.*\n" if dots else re.escape(line)


def test_the_generated_tables_are_up_to_date() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "cogapp", "-I", "tests", "--check", "--diff", "DEVELOPERS.md"],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture
def examples(tmp_path: Path) -> Registry:
    """The plugins of the developers' page, each in a file of its own."""
    folder = tmp_path / "plugins"
    folder.mkdir()
    for number, code in enumerate(code for code in blocks(DEVELOPERS, "python") if "@hookimpl" in code):
        (folder / f"example_{number}.py").write_text(code, encoding="utf-8")
    registry = load(entry_points=(), folder=folder)
    assert registry.failures == []
    return registry


def test_the_check_of_the_developers_page_finds_the_build_without_a_dry_mass(
    examples: Registry, connection: sqlite3.Connection, add: Add
) -> None:
    diff = add("diff", label="rear-a")
    add("build", label="rear-a/1", diff=diff, built_on="2026-05-03", dry_mass_g=12.4)
    add("build", label="rear-a/2", diff=diff, built_on="2026-05-10")
    found = [one for group in check(connection, examples).diffs for one in group.findings if one.code == "no_dry_mass"]
    assert [(one.subject_label, one.severity) for one in found] == [("rear-a/2", "worth a look")]


def test_the_chart_of_the_developers_page_draws_the_fills(
    examples: Registry, connection: sqlite3.Connection, add: Add
) -> None:
    diff = add("diff", label="rear-a")
    add("build", label="rear-a/1", diff=diff, built_on="2026-05-03", oil_mass_g=1.86)
    (chart,) = examples.charts()
    assert [tuple(row) for row in connection.execute(chart.sql)] == [("2026-05-03", "rear-a/1", 1.86)]


@pytest.fixture
def pages_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder whose modules are pages like those of ``web/pages/``."""
    folder = tmp_path / "pages"
    folder.mkdir()
    monkeypatch.setattr(pages, "__path__", [*pages.__path__, str(folder)])
    declared_pages.cache_clear()
    yield folder
    declared_pages.cache_clear()
    sys.modules.pop(f"{pages.__name__}.spare", None)


def test_the_page_of_the_developers_page_answers_and_is_in_the_navigation(
    db: Path, registry: Registry, pages_folder: Path
) -> None:
    (code,) = (code for code in blocks(DEVELOPERS, "python") if "PAGE: Final" in code)
    (pages_folder / "spare.py").write_text(code, encoding="utf-8")
    template = '{% extends "bevelbook:base.html" %}{% block content %}{{ title }}: {{ seals|join }}{% endblock %}'
    (pages_folder / "bevelbook_spare.html").write_text(template, encoding="utf-8")
    ring = _record_seal(db)
    with site_over(db, registry) as site:
        site.page("/team/-/home")
        environment = template_environment(site.datasette)
        environment.loader = ChoiceLoader([environment.loader, FileSystemLoader(pages_folder)])
        text = site.page("/team/-/spare")
    assert f'Spares: <a href="/team/seals/{ring}">shaft ring</a>' in text
    assert '<a href="/team/-/spare" aria-current="page">Spares</a>' in text


def _record_seal(db: Path) -> str:
    opened = open_for_writing(db)
    with transaction(opened, db):
        seal = Writer(opened, "ana").insert(BY_NAME["seal"], {"label": "shaft ring"})
    opened.close()
    return seal


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_every_command_explains_itself(name: str, bevelbook: Callable[..., Outcome]) -> None:
    assert bevelbook(name, "--help").code == 0


def test_the_readme_is_the_story_and_leaves_what_is_looked_up_to_the_manual() -> None:
    assert len(README.splitlines()) < 300
    assert "[[[cog" not in README
    assert len(re.findall(r"^\$ bevelbook help", README, re.MULTILINE)) >= 3


def test_the_care_of_the_readme_ends_with_the_line_that_is_under_every_caution() -> None:
    care = README.partition("\n## Care\n")[2].partition("\n## ")[0]
    assert care.strip().splitlines()[-1] == RULES_FIRST


def test_the_set_up_of_ci_is_the_one_of_the_readme() -> None:
    commands = [block for block in blocks(README, "sh") if "pytest" in block]
    assert len(commands) == 1
    assert commands[0].strip() in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_versions_agree() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    top = re.search(r"^## (\d\S+)", changes_text(), re.MULTILINE)
    assert top
    assert project["version"] == package.__version__ == top[1]


def test_nothing_tracked_holds_a_database_or_a_lock_file() -> None:
    done = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=True)
    held = re.compile(r"\.db$|(?<![a-z])lock(?![a-z])")
    assert held.search("some.lock") and held.search("some-lock.json")
    assert not [name for name in done.stdout.splitlines() if held.search(name)]
