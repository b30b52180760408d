"""The files of a plugin are found, and its version known, without running any of it. All are invented."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from bevelbook.examining.outcomes import version_of
from bevelbook.examining.target import MOST_FILES, Target, target_of
from bevelbook.plugin.origin import Origin


@pytest.fixture
def package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A package whose every module fails when it is run."""
    made = tmp_path / "invented_diffs"
    (made / "sub").mkdir(parents=True)
    for name in ("__init__.py", "words.py", "sub/__init__.py", "sub/plugin.py", "sub/beside.py"):
        (made / name).write_text("raise SystemExit(9)\n", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    return made


def test_a_module_of_a_package_has_the_files_beside_it_first_and_none_is_run(package: Path) -> None:
    target = target_of(Origin("diffs", "invented_diffs.sub.plugin"))
    found = [str(Path(file).relative_to(package)) for file in target.files]
    assert found == ["sub/plugin.py", "sub/__init__.py", "sub/beside.py", "__init__.py", "words.py"]
    assert "invented_diffs" not in sys.modules
    assert target.is_own(str(package / "later.py"))
    assert not target.is_own(str(package.parent / "invented_diffs_two.py"))


def test_a_version_changes_with_any_file_of_the_package_and_with_its_version(package: Path) -> None:
    origin = Origin("diffs", "invented_diffs.sub.plugin")
    before = version_of(target_of(origin))
    assert version_of(target_of(origin)) == before
    assert version_of(target_of(origin)._replace(version="2")) != before
    (package / "words.py").write_text("raise SystemExit(8)\n", encoding="utf-8")
    assert version_of(target_of(origin)) != before


def test_a_large_package_is_looked_at_up_to_a_bound(package: Path) -> None:
    for number in range(MOST_FILES):
        (package / f"more_{number}.py").touch()
    assert len(target_of(Origin("diffs", "invented_diffs.sub.plugin")).files) == MOST_FILES


@pytest.mark.parametrize("module", ["no_module_of_anybody", "invented_diffs.no_such", "json.tool.deeper", "sys"])
def test_a_module_that_has_no_file_has_none(package: Path, module: str) -> None:
    assert target_of(Origin("gone", module)).files == ()


def test_a_target_crosses_to_another_process() -> None:
    target = target_of(Origin("mine", "mine.py"))
    assert target.files == (str(Path("mine.py").absolute()),)
    assert Target.from_held({**target._asdict(), "files": list(target.files)}) == target
