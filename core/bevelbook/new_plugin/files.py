"""The files of a new plugin: their texts under the names that they get, and writing them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from importlib.resources import files
from os.path import lexists
from pathlib import Path
from typing import Final

from bevelbook import __version__
from bevelbook.declare.errors import InputError, Place
from bevelbook.interchange.written_aside import written_aside
from bevelbook.new_plugin.names import PluginNames

EXAMPLE: Final = PluginNames("syringe-mark")
"""The calculator that every new file begins with."""
_CALCULATOR: Final = f"{EXAMPLE.module}.py"
_TEST: Final = f"test_of_{EXAMPLE.module}.txt"


def single_file(names: PluginNames) -> dict[str, str]:
    """A calculator and its test: text by file name."""
    return {f"{names.module}.py": _text(_CALCULATOR, names), f"test_{names.module}.py": _text(_TEST, names)}


def project(names: PluginNames) -> dict[str, str]:
    """A project that can be installed, in a folder of its own: text by path."""
    made = {
        "pyproject.toml": _text("package/pyproject.txt", names).replace("BEVELBOOK_VERSION", __version__),
        "README.md": _text("package/readme.txt", names),
        f"src/{names.module}.py": _text(_CALCULATOR, names),
        f"tests/test_{names.module}.py": _text(_TEST, names),
    }
    return {f"{names.calculator}/{path}": text for path, text in made.items()}


def write_new(folder: Path, texts: Mapping[str, str]) -> list[Path]:
    """Write texts below a folder, which is made where there is none; the paths.

    Files that are there as they would be written, beside some that are not there, are those of a run that was stopped:
    the others are added. Raises InputError where there is any other of the files already, before anything is written,
    and where the folder cannot be made or written.
    """
    paths = [folder / name for name in texts]
    there = {path for path, text in zip(paths, texts.values(), strict=True) if _is_as_written(path, text)}
    for path in paths:
        if lexists(path) and (path not in there or len(there) == len(paths)):
            raise InputError(
                "there is a file of that name already, and nothing is replaced",
                code="file_exists",
                place=Place(str(path)),
                remedy="Choose another name or another folder. Nothing was written.",
            )
    for path, text in zip(paths, texts.values(), strict=True):
        if path in there:
            continue
        _make_folder(path.parent)
        with written_aside(path) as file:
            file.write(text.encode())
    return paths


def _is_as_written(path: Path, text: str) -> bool:
    try:
        return path.is_file() and path.read_bytes() == text.encode()
    except OSError:
        return False


def _text(file: str, names: PluginNames) -> str:
    """The text of a file of the example, with another name for it."""
    text = files(__package__).joinpath(file).read_text(encoding="utf-8")
    for old, new in zip(_spellings(EXAMPLE), _spellings(names), strict=True):
        text = text.replace(old, new)
    return text


def _spellings(names: PluginNames) -> Iterable[str]:
    return names.calculator, names.module, names.title, names.constant


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise InputError(
            "the folder cannot be made",
            code="not_writable",
            place=Place(str(folder)),
            found=fault.strerror or str(fault),
            remedy="Name a folder that you may write to.",
        ) from fault
