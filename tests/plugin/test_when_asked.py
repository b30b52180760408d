"""Bundled plugins that are loaded once something of theirs is asked for: the same as all of them at once."""

from __future__ import annotations

import sys
from importlib import import_module
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from bevelbook.plugin.entry_points_here import bundled_alone
from bevelbook.plugin.registry import GROUP, HOOKS, OF_HOOK, Registry, installed, load


def loaded(registry: Registry) -> set[str]:
    """The plugins that were loaded so far."""
    return {one.plugin for one in registry.loaded_so_far()}


def test_one_calculator_needs_its_plugin_and_the_units_alone() -> None:
    registry = load(when_asked=True)
    assert registry.calculator("fill-target").calculator.name == "fill-target"
    assert registry.in_force("seal-swell") is not None
    assert loaded(registry) == {"fill_target", "seal_swell", "units"}
    assert registry.in_force("no-such") is None
    assert loaded(registry) == {one.name for one in installed()} - {*OF_HOOK.values()} | {"units"}


def test_all_that_is_offered_is_the_same_in_the_same_order() -> None:
    late, whole = load(when_asked=True), load()
    late.calculator("viscosity")
    assert [*late.calculators] == [*whole.calculators]
    assert [origin for _, origin in late.plugins()] == [origin for _, origin in whole.plugins()]
    assert [*load(when_asked=True).datasets()] == [*whole.datasets()]
    assert [one.name for one in load(when_asked=True).charts()] == [one.name for one in whole.charts()]


def test_of_the_bundled_plugins_one_answers_each_other_hook() -> None:
    answering = {
        hook: {one.name for one in installed() if hasattr(import_module(one.value), hook)}
        for hook in HOOKS
        if hook != "bevelbook_calculators"
    }
    assert answering == {hook: {plugin} for hook, plugin in OF_HOOK.items()}


def test_the_quick_look_finds_what_the_library_finds() -> None:
    found, known = bundled_alone(GROUP), entry_points(group=GROUP)
    assert found is not None
    assert {(one.name, one.value, one.dist.name, one.dist.version) for one in found} == {
        (one.name, one.value, one.dist.name, one.dist.version) for one in known if one.dist is not None
    }


@pytest.mark.parametrize(
    ("package", "text", "is_known"),
    [
        ("seals-1.0.dist-info", "[bevelbook]\nseals = seals\n", False),
        ("seals.egg-info", "[ bevelbook ]\nseals = seals\n[bevelbook]\nmore = more\n", False),
        ("seals-1.0.dist-info", "[console_scripts]\nseals = bevelbook_seals\n", True),
    ],
)
def test_another_package_with_plugins_has_the_library_asked(
    package: str, text: str, is_known: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / package).mkdir()
    (tmp_path / package / "entry_points.txt").write_text(text, encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    assert (bundled_alone(GROUP) is not None) == is_known


def test_an_archive_or_a_finder_of_another_kind_has_the_library_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    archive = tmp_path / "packages.zip"
    archive.write_bytes(b"PK")
    monkeypatch.setattr(sys, "path", [*sys.path, str(archive)])
    assert bundled_alone(GROUP) is None
    monkeypatch.undo()

    class Finder:
        def find_distributions(self) -> None: ...

    monkeypatch.setattr(sys, "meta_path", [*sys.meta_path, Finder()])
    assert bundled_alone(GROUP) is None
