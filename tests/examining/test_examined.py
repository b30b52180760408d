"""A plugin is examined before it is used: each planted fault is named with file, line and what to do. All invented."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import pytest
from examining.planted import ENDING, PLANTED, SOUND, Planted

from bevelbook.examining import in_child
from bevelbook.examining.examine import examine
from bevelbook.examining.examined import all_examined, found_target
from bevelbook.examining.flaw import Flaw
from bevelbook.examining.in_child import looked_at
from bevelbook.plugin.registry import Registry, load
from bevelbook.testing import check_plugin

PATIENT_S: Final = 30.0
"""The longest of one call here: many tests may share the computer."""


def written(folder: Path, faults: tuple[Planted, ...]) -> list[Path]:
    """A file for each in a folder of its own: what lacks a unit is looked at beside the others of its folder."""
    files = [folder / f"{number}" / f"planted_{number}.py" for number in range(len(faults))]
    for file, fault in zip(files, faults, strict=True):
        file.parent.mkdir()
        file.write_text(fault.text, encoding="utf-8")
    return files


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, tuple[Flaw, ...]]]:
    """All of them by as few processes as can be: one, and another after each that is ended."""
    folder = tmp_path_factory.mktemp("planted")
    files = written(folder, PLANTED)
    sound = folder / "sound.py"
    sound.write_text(SOUND, encoding="utf-8")
    files.insert(0, sound)
    titles = ["sound", *(one.title for one in PLANTED)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(in_child, "LONGEST_S", PATIENT_S)
        patch.setattr(in_child, "IMPORT_S", PATIENT_S)
        return dict(zip(titles, zip(files, all_examined(files), strict=True), strict=True))


def check(fault: Planted, file: Path, flaws: tuple[Flaw, ...]) -> None:
    flaw = next((one for one in flaws if one.code == fault.code and fault.said in one.what), None)
    assert flaw is not None, [str(one) for one in flaws]
    assert flaw.is_serious is fault.is_serious, flaw
    assert flaw.file == str(file)
    assert flaw.remedy.endswith((".", '".', "?", '?"'))
    assert flaw.what[-1] != "."
    if fault.line:
        assert fault.line in fault.text.splitlines()[(flaw.line or 0) - 1], flaw
    said = [sentence for sentence in flaw.remedy.split(". ") if sentence.rstrip(".") in flaw.what]
    assert said == [], "what to do is said once"
    others = [one for one in flaws if one.is_serious and one is not flaw]
    assert others == [], [str(one) for one in others]


def test_a_sound_plugin_has_no_flaw(found: dict[str, tuple[Path, tuple[Flaw, ...]]]) -> None:
    assert found["sound"][1] == ()


@pytest.mark.parametrize("fault", PLANTED, ids=lambda fault: fault.title)
def test_a_planted_fault_is_named_with_its_line_and_what_to_do(
    found: dict[str, tuple[Path, tuple[Flaw, ...]]], fault: Planted
) -> None:
    check(fault, *found[fault.title])


def test_what_ends_the_process_or_hangs_is_named_and_the_rest_is_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(in_child, "IMPORT_S", 3.0)
    files = written(tmp_path, ENDING)
    for fault, file, looked in zip(ENDING, files, looked_at([found_target(file) for file in files]), strict=True):
        check(fault, file, tuple(looked.flaws))


@pytest.mark.parametrize("calculator", load().calculators)
def test_a_bundled_calculator_has_no_flaw(registry: Registry, calculator: str) -> None:
    assert examine(registry.calculator(calculator).calculator) == ()


def test_an_author_s_test_fails_with_file_line_and_remedy_of_what_is_serious(
    found: dict[str, tuple[Path, tuple[Flaw, ...]]], monkeypatch: pytest.MonkeyPatch
) -> None:
    known = dict(found.values())
    monkeypatch.setattr("bevelbook.examining.examined.examined", known.get)
    (serious, _), (remark, _) = found[PLANTED[0].title], found["the clock"]
    with pytest.raises(AssertionError, match=rf"{serious}, line \d+: left out: .*ModuleNotFoundError.*Install what"):
        check_plugin(serious)
    check_plugin(remark)
    with pytest.raises(AssertionError, match=rf"a remark: {remark}, line \d+: .*reads the clock"):
        check_plugin(remark, remarks_too=True)
