"""Every hook is documented from its docstring with an example that runs, has a test that names it, and is used by a
plugin that is bundled; every name that a plugin may import says what it is."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest
from documenting import bundled_users, signature_of
from dropped_plugin import forget_units

import bevelbook
from bevelbook.declare.known_units import KNOWN
from bevelbook.display.line_width import WIDEST
from bevelbook.manual.contents import Entries
from bevelbook.manual.docstrings import blocks_of, example_of, summary_of
from bevelbook.manual.hooks import name_page, names_to_import
from bevelbook.manual.text import page_lines
from bevelbook.manual.topics import page_of
from bevelbook.notes.known_profiles import settings_of
from bevelbook.plugin import hookspecs
from bevelbook.plugin.check import Reader
from bevelbook.plugin.registry import HOOKS, Registry, load

ROOT = Path(__file__).parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NEITHER = ("test_hooks.py", "facade_names.txt", "documenting.py")
"""Files of the tests that name every hook, whether it is tested or not."""


def arguments_of(hook: str) -> list[str]:
    return [*inspect.signature(getattr(hookspecs, hook)).parameters]


@pytest.mark.parametrize("hook", HOOKS)
def test_it_is_documented_with_its_arguments_and_a_bundled_plugin_uses_it(hook: str) -> None:
    spec = getattr(hookspecs, hook)
    assert f"### `{signature_of(hook)}`\n\n{summary_of(spec)}\n" in DEVELOPERS
    explained = [
        one.term for part in blocks_of(inspect.getdoc(spec) or "") if isinstance(part, Entries) for one in part.entries
    ]
    assert explained == arguments_of(hook)
    assert bundled_users(hook)


@pytest.mark.parametrize("hook", HOOKS)
def test_a_test_names_it(hook: str) -> None:
    tests = (path for path in (ROOT / "tests").rglob("*.py") if path.name not in NEITHER)
    assert any(hook in path.read_text(encoding="utf-8") for path in tests)


def offered(registry: Registry, hook: str) -> list[object]:
    """What the plugins of a registry offer by a hook, as the program takes it."""
    match hook:
        case "bevelbook_units":
            return [KNOWN.by_name[name] for name in ("furlong/min",) if name in KNOWN.by_name]
        case "bevelbook_calculators":
            return [*registry.calculators.values()]
        case "bevelbook_datasets":
            return [*registry.datasets().values()]
        case "bevelbook_charts":
            return [*registry.charts()]
        case "bevelbook_profiles":
            return [*registry.profiles(settings_of).values()]
    raise AssertionError(f"nobody takes what {hook} gives")


@pytest.mark.parametrize("hook", HOOKS)
def test_its_example_runs(hook: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = example_of(getattr(hookspecs, hook))
    for file in files:
        (tmp_path / (file.name or "example.py")).write_text(file.text, encoding="utf-8")
    registry = load(entry_points=(), folder=tmp_path)
    ((module, _),) = registry.plugins()
    assert [*inspect.signature(getattr(module, hook)).parameters] == arguments_of(hook)
    if hook == "bevelbook_checks":
        rows = [{"build": "1", "label": "rear-a/1", "id": "1"}]
        monkeypatch.setattr(Reader, "rows", lambda *given: rows)
        assert [one.code for one, _ in registry.findings(Reader(None))] == ["no_dry_mass"]  # type: ignore[arg-type]
    else:
        assert len(offered(registry, hook)) == 1
    assert registry.failures == []
    forget_units(registry)


def test_every_name_to_import_says_what_it_is_and_has_a_page_that_fits_a_terminal(registry: Registry) -> None:
    """So that an author needs no source: what it takes, its fields, what it has."""
    names = names_to_import()
    assert [*names] == bevelbook.__all__
    assert [name for name, one in names.items() if not one.summary] == []
    for name in names:
        lines = [*page_lines(name_page(name))]
        assert [line for line in lines if len(line) > WIDEST] == []
    assert page_of("OnCard", registry) == page_of("hooks/OnCard", registry) == name_page("OnCard")
    said = "\n".join(page_lines(page_of("OnCard", registry)))
    assert "part: CardPart = 'more'" in said and "CardPart  'heat', 'bubbles'" in said
    assert "subject_table  Table of the record" in "\n".join(page_lines(name_page("Finding")))


def test_the_manual_shows_the_examples(registry: Registry) -> None:
    page = "\n".join(page_lines(page_of("hooks", registry)))
    assert all(signature_of(hook) in page for hook in HOOKS)
    assert "def bevelbook_profiles():" in page
