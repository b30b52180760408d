"""What an installation brings: megabytes and seconds, without extras and with each of them, and its large parts.

Each is installed from this checkout into an environment of its own in a temporary folder, with what the package index
gives today. Needs the index, so it is not among the benchmarks of speed.

Run by hand:  python tests/benchmarks/measure_install.py [--extras xlsx labels ...]
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
import tomllib
import venv
from pathlib import Path

HERE = Path(__file__).parents[2]
LARGE_MB = 2.0
NOT_OURS = {"pip", "setuptools", "_distutils_hack", "pkg_resources", "__pycache__"}
"""What every environment has."""


def megabytes(folder: Path) -> float:
    """The size of all files below a folder, or of one file."""
    files = [folder] if folder.is_file() else [one for one in folder.rglob("*") if one.is_file()]
    return sum(one.stat().st_size for one in files) / 1e6


def installed(wanted: str, folder: Path) -> tuple[float, dict[str, float]]:
    """Seconds of the installation, and the megabytes of each part."""
    venv.create(folder, with_pip=True)
    began = time.perf_counter()
    subprocess.run(
        [folder / "bin" / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wanted],
        check=True,
        cwd=folder,
    )
    seconds = time.perf_counter() - began
    site = next((folder / "lib").glob("python*/site-packages"))
    parts: dict[str, float] = {}
    for one in site.iterdir():
        name = one.name.removesuffix(".libs").partition("-")[0]
        if name not in NOT_OURS:
            parts[name] = parts.get(name, 0.0) + megabytes(one)
    return seconds, parts


def main() -> None:
    extras = tomllib.loads((HERE / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--extras", nargs="*", default=[one for one in extras if one != "test"])
    given = asked.parse_args()
    without: dict[str, float] = {}
    for extra in ("", *given.extras):
        with tempfile.TemporaryDirectory() as folder:
            seconds, parts = installed(f"{HERE}[{extra}]" if extra else str(HERE), Path(folder))
        title = f"with [{extra}]" if extra else "without extras"
        print(f"{title}: {sum(parts.values()):.0f} MB in {seconds:.0f} s", flush=True)
        for name, size in sorted(parts.items(), key=lambda one: -one[1]):
            if size >= LARGE_MB and name not in without:
                print(f"  {name}: {size:.1f} MB")
        without = without or parts
    sys.stdout.flush()


if __name__ == "__main__":
    main()
