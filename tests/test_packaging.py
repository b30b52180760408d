"""The wheel and the sdist: what they hold, and that the wheel works in an environment of its own."""

from __future__ import annotations

import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the sdist of the working tree."""
    folder = tmp_path_factory.mktemp("dist")
    done = subprocess.run(
        [sys.executable, "-m", "build", "--no-isolation", "--outdir", str(folder), str(ROOT)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder


def test_the_wheel_installs_three_names_and_nothing_else(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    names = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert {name for name in names if not name.endswith(".dist-info")} == {
        "bevelbook",
        "bevelbook_plugins",
        "bevelbook_datasets",
    }


def test_the_wheel_carries_what_is_no_python(built: Path) -> None:
    (wheel,) = built.glob("*.whl")
    names = zipfile.ZipFile(wheel).namelist()
    for wanted in (
        "bevelbook/store/steps/0001.sql",
        "bevelbook_datasets/silicone_grades.csv",
        "bevelbook/py.typed",
        "bevelbook/new_plugin/test_of_syringe_mark.txt",
        "bevelbook/new_plugin/package/pyproject.txt",
    ):
        assert wanted in names


def test_the_sdist_carries_the_tests_and_the_documents(built: Path) -> None:
    (sdist,) = built.glob("*.tar.gz")
    with tarfile.open(sdist) as archive:
        names = {"/".join(name.split("/")[1:]) for name in archive.getnames()}
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "tests/conftest.py"} <= names


def test_the_wheel_works_in_an_environment_of_its_own(built: Path, tmp_path: Path) -> None:
    """A fresh environment that sees this one's libraries but not the working tree."""
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(tmp_path / "env")], check=True)
    site = next((tmp_path / "env").rglob("site-packages"))
    (wheel,) = built.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    libraries = next(path for path in map(Path, sys.path) if path.name == "site-packages")
    (site / "libraries.pth").write_text(f"{libraries}\n", encoding="utf-8")
    python = next((tmp_path / "env").rglob("bin/python"))
    code = (
        "import bevelbook, sys; from bevelbook.cli import main; "
        "print(bevelbook.__file__, file=sys.stderr); main(sys.argv[1:])"
    )
    done = subprocess.run(
        [
            str(python),
            "-E",  # where PYTHONPATH leads to the working tree, it would be found before the wheel
            "-c",
            code,
            "calc",
            "fill-target",
            "--dry-mass",
            "12.4",
            "--oil-mass",
            "1.86",
            "--viscosity",
            "7k",
        ],
        capture_output=True,
        text=True,
        cwd=tmp_path,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert str(site) in done.stderr
    assert "14.26 g" in done.stdout
