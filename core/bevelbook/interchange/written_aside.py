"""A file that is written beside its place and takes it when it is whole: a fault or a kill leaves no half of it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Final

from bevelbook.declare.errors import InputError, Place

UNFINISHED: Final = ".unfinished"
"""What the name of a file ends in while it is written."""


@contextmanager
def written_aside(path: Path, *, replace: bool = False) -> Iterator[IO[bytes]]:
    """A file to write bytes into, which stands under its name once all of it was written.

    Raises InputError where there is a file of that name already, unless it is to be replaced, where it is a folder, a
    device or a pipe, where the folder cannot be written, and where the disk is full; what was there before is then as
    it was, and nothing is left beside it.
    """
    if path.is_dir():
        raise InputError(
            "this is a folder, and a file is to be written",
            code="is_folder",
            place=Place(str(path)),
            remedy="Name a file in it.",
        )
    if path.exists() and not path.is_file():
        raise InputError(
            "this is a device or a pipe, and a file is to be written",
            code="other_no_file",
            place=Place(str(path)),
            remedy="Name a file, or '-' for standard output. Nothing was changed.",
        )
    if not replace:
        refuse_to_replace(path)
    beside = path.with_name(f"{path.name}{UNFINISHED}")
    try:
        beside.unlink(missing_ok=True)
        with beside.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
            _refuse_other_writer(file, beside, path)
        if not replace:
            refuse_to_replace(path)
        beside.replace(path)
    except OSError as fault:
        if isinstance(fault, BrokenPipeError):
            raise
        raise InputError(
            "the file cannot be written",
            code="not_writable",
            place=Place(str(path)),
            found=fault.strerror or str(fault),
            remedy="Name a file in a folder that exists and that you may write to, on a disk with room.",
        ) from fault
    finally:
        with suppress(OSError):  # where no file can be, such as below another file
            beside.unlink(missing_ok=True)


def _refuse_other_writer(file: IO[bytes], beside: Path, path: Path) -> None:
    """Raise InputError where another program has begun to write the same file meanwhile."""
    if not os.path.samestat(os.fstat(file.fileno()), beside.stat()):
        raise InputError(
            "another program is writing the same file",
            code="file_exists",
            place=Place(str(path)),
            remedy="Wait until it is done, or choose another name.",
        )


def refuse_to_replace(path: Path) -> None:
    """Raise InputError where there is a file of that name already."""
    if os.path.lexists(path):
        raise InputError(
            "a file with that name already exists",
            code="file_exists",
            place=Place(str(path)),
            remedy="Choose another name, or say that it is to be replaced.",
        )
