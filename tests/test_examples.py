"""Plugins of other people: two packages, one with a calculator, one with a check, built, installed and used.

One test: each worker would install them once more.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from shlex import split
from shutil import copytree, ignore_patterns
from typing import Any

import pytest

EXAMPLES = Path(__file__).parent / "examples"
PACKAGES = ("close_fills", "speed_split")


class Installed:
    """An environment in which the packages are installed beside what this one has, and a folder to work in."""

    def __init__(self, packages: Path, sources: Path, folder: Path) -> None:
        self.sources, self.folder = sources, folder
        paths = [str(packages), *filter(None, [os.environ.get("PYTHONPATH")])]
        self._environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}

    def run(self, *words: str, of: Path | None = None) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, *words],
            capture_output=True,
            text=True,
            cwd=of or self.folder,
            env=self._environment,
            check=False,
        )

    def bevelbook(self, *words: str) -> subprocess.CompletedProcess[str]:
        return self.run("-c", "import sys; from bevelbook.cli import main; main(sys.argv[1:])", *words)

    def said(self, *words: str, code: int = 0) -> Any:
        done = self.bevelbook(*words, "--json")
        assert done.returncode == code, done.stdout + done.stderr
        return json.loads(done.stdout)


def test_packages_of_other_people_work_as_anybodys(bevelbook: Callable[..., Any], tmp_path: Path) -> None:
    _book_with_a_fill(bevelbook)
    installed = _installed(tmp_path)
    _pass_their_own_tests(installed)
    _are_listed_with_package_and_version(installed)
    _calculator_takes_units_and_its_result_becomes_a_row(installed)
    _check_finds_by_a_limit_of_its_own(installed)


def _book_with_a_fill(bevelbook: Callable[..., Any]) -> None:
    """Invented: 1.90 g for a target of 1.86 g, with a wide window."""
    for words in (
        "new",
        "record limit 'kind=fill window' value=0.05",
        "record diff label=q1",
        "record fluid label=7k viscosity_cst=7000",
        "record build diff=q1 built_on=2026-03-01 fluid=7k dry_mass=12.40 filled_mass=14.30 target_oil_mass=1.86",
    ):
        assert bevelbook(*split(words)).code == 0


def _installed(folder: Path) -> Installed:
    """Copies of the packages, built and installed by pip without anything from a network."""
    sources, packages = folder / "sources", folder / "packages"
    for name in PACKAGES:
        copytree(EXAMPLES / name, sources / name, ignore=ignore_patterns("__pycache__"))
    offline = ("--quiet", "--no-deps", "--no-build-isolation", "--no-index", "--disable-pip-version-check")
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "pip",
            "install",
            *offline,
            "--target",
            str(packages),
            *(f"./{one}" for one in PACKAGES),
        ],
        capture_output=True,
        text=True,
        cwd=sources,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return Installed(packages, sources, folder)


def _pass_their_own_tests(installed: Installed) -> None:
    for package in PACKAGES:
        done = installed.run("-m", "pytest", "-q", "-p", "no:randomly", of=installed.sources / package)
        assert done.returncode == 0, done.stdout + done.stderr


def _are_listed_with_package_and_version(installed: Installed) -> None:
    listed = {one["name"]: one for one in installed.said("plugin", "list")["plugins"]}
    assert [listed[name]["package"] for name in PACKAGES] == ["bevelbook-close-fills", "bevelbook-speed-split"]
    assert listed["speed_split"]["calculators"] == ["speed-split"]
    assert listed["close_fills"]["hooks"] == ["bevelbook_checks"]


def _calculator_takes_units_and_its_result_becomes_a_row(installed: Installed) -> None:
    """A problem of a physics course at a tenth of its size (see the package): (0.9 + 0.16) / 0.9 wheel to wheel."""
    given = ["--track-width", "16 cm", "--turn-radius", "0.98", "--wheel-diameter", "78", "--speed", "3.528 km/h"]
    said = installed.said("calc", "speed-split", *given, "--keep")
    assert said["outputs"]["outer_per_min"] / said["outputs"]["inner_per_min"] == pytest.approx(1.06 / 0.9)
    rows = installed.bevelbook("export", "--table", "calc_speed_split", "--csv", "-").stdout.splitlines()
    assert len(rows) == 2
    assert "speed_difference_rad_s" in rows[0]


def _check_finds_by_a_limit_of_its_own(installed: Installed) -> None:
    """The bundled check, by the limit 'fill window', is silent at 0.05 g."""
    found = {one["code"]: one for one in _findings(installed.said("check", code=1))}
    assert "0.04 g more than the target 1.86 g" in found["fill_not_close"]["words"]


def _findings(said: Any) -> list[Any]:
    return [one for about in said["diffs"] for one in about["findings"]]
