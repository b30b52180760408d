"""What a plugin may use has a version; nothing of it vanishes without a word. All data are invented."""

from __future__ import annotations

import inspect
import os
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import pytest

import bevelbook
from bevelbook.examining.deprecated_uses import flaws_of_deprecated
from bevelbook.plugin import api
from bevelbook.plugin.api import API_VERSION, Deprecated, deprecated_in
from bevelbook.plugin.hookspecs import bevelbook_calculators
from bevelbook.plugin.registry import HOOKS, Registry, load

LIST: Final = Path(__file__).parents[1] / "facade_names.txt"
OLD: Final = Deprecated("Place", "0.2", "0.4", "'Where'")
GONE: Final = Deprecated("Weighed", "0.1", "0.2", "'Worked'")


def names_there() -> Iterator[str]:
    """Every name and every argument by name that a plugin may use, and the hooks."""
    yield from HOOKS
    for name in bevelbook.__all__:
        yield name
        offered = getattr(bevelbook, name)
        if callable(offered) and getattr(offered, "__module__", "").startswith("bevelbook."):
            taken = inspect.signature(offered).parameters
            yield from (f"{name}.{one}" for one in taken if not one.startswith("_"))


def test_no_name_that_a_plugin_may_use_vanishes_without_a_row_that_says_what_to_use() -> None:
    """``WRITE_FACADE_NAMES=1 python -m pytest tests/plugin/test_api.py`` writes the list again."""
    there = sorted(set(names_there()))
    if os.environ.get("WRITE_FACADE_NAMES"):
        LIST.write_text("\n".join(there) + "\n", encoding="utf-8")
    listed = LIST.read_text(encoding="utf-8").split()
    assert [one for one in listed if one not in there and one not in api.DEPRECATED] == []
    assert [one for one in there if one not in listed] == [], "a name is added: write the list again"
    assert "Calculator.replaces" in listed
    assert bevelbook_calculators.__name__ in listed


@pytest.fixture
def deprecating(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(api, "DEPRECATED", {one.name: one for one in (OLD, GONE)})
    monkeypatch.setattr(api, "_warned", set())


@pytest.mark.usefixtures("deprecating")
def test_a_deprecated_name_warns_once_and_says_what_to_write() -> None:
    with pytest.warns(DeprecationWarning, match="Place is deprecated since 0.2 and goes in 0.4: write 'Where' instead"):
        assert bevelbook.Place.__name__ == "Place"
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert bevelbook.Place.__name__ == "Place"


@pytest.mark.usefixtures("deprecating")
def test_the_lines_of_a_plugin_that_use_it_are_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(api.DEPRECATED, "Calculator.purpose", GONE._replace(name="Calculator.purpose"))
    text = (
        'import bevelbook\nfrom bevelbook import (Chart,\n  Place)\nbevelbook.Place()\nCalculator(\n  purpose="x",\n)\n'
    )
    assert [(one.line, one.what.name) for one in deprecated_in(text)] == [
        (2, "Place"), (4, "Place"), (6, "Calculator.purpose"),
    ]  # fmt: skip
    (tmp_path / "mine.py").write_text(text, encoding="utf-8")
    flaw, *_ = flaws_of_deprecated([tmp_path / "mine.py", tmp_path / "gone.py"])
    assert (flaw.line, flaw.is_serious, flaw.remedy) == (2, False, "Write 'Where' instead.")
    assert flaw.what == "Place is deprecated since 0.2 and goes in 0.4"


@pytest.fixture
def loaded(tmp_path: Path) -> Callable[[str], Registry]:
    def load_file(text: str) -> Registry:
        (tmp_path / "mine.py").write_text(text, encoding="utf-8")
        return load(entry_points=(), folder=tmp_path)

    return load_file


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        (f"BEVELBOOK_API = {API_VERSION}", ""),
        (f"BEVELBOOK_API = {API_VERSION + 1}", f"written for version {API_VERSION + 1} of what a plugin may use"),
        (f"BEVELBOOK_API = {API_VERSION + 1}\nfrom bevelbook import Later", "it needs a newer bevelbook"),
        ("BEVELBOOK_API = True", "BEVELBOOK_API is True, where a whole number from 1 is wanted"),
        ("BEVELBOOK_API = '1'", "where a whole number from 1 is wanted"),
        ("from bevelbook import Weighed", "Weighed went in 0.2: write 'Worked' instead (mine.py, line 1)"),
        ("from bevelbook import Calcultor", 'bevelbook has nothing named "Calcultor". Did you mean Calculator'),
        ("from json import Calcultor", "cannot be imported: ImportError"),
    ],
)
@pytest.mark.usefixtures("deprecating")
def test_a_plugin_that_was_written_for_another_version_says_so(
    loaded: Callable[[str], Registry], text: str, reason: str
) -> None:
    registry = loaded(text)
    assert len(registry.failures) == bool(reason)
    assert all(reason in one.reason for one in registry.failures), registry.failures
