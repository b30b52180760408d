"""Files that a command reads or writes, or - in their place: standard input and standard output, alike everywhere."""

from __future__ import annotations

import errno
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO, Final, Literal

import click

from bevelbook.cli import print_text, say_beside
from bevelbook.declare.errors import BevelbookError, InputError, Place

FROM_DASH: Final = "- is standard input."
"""What the help of an option or a command says where it reads a file."""
TO_DASH: Final = "- is standard output."
"""The same where it writes one."""


class StandardInput:
    """Standard input, named in place of a file to read."""

    name = "standard input"

    def __str__(self) -> str:
        return self.name

    def stream(self) -> BinaryIO:
        """It, for bytes. Where somebody has to type it, standard error says so."""
        if sys.stdin.isatty():
            say_beside("bevelbook: reads what you type or paste here, up to Ctrl+D on a line of its own.")
        return sys.stdin.buffer

    def open(self, mode: Literal["rb"], /) -> BinaryIO:
        """All of it, in which one can go back."""
        return BytesIO(self.stream().read())


class StandardOutput:
    """Standard output, named in place of a file to write."""

    def __str__(self) -> str:
        return "standard output"

    def open(self, *, is_text: bool) -> BinaryIO:
        """It, for bytes. Raises InputError where a terminal would show what is not text."""
        if not is_text and sys.stdout.isatty():
            raise InputError(
                "what would be written is not text, and standard output is a terminal",
                code="not_for_a_terminal",
                remedy="Name a file, or send it on to a file or a program: 'bevelbook ... > FILE'.",
            )
        sys.stdout.flush()
        return sys.stdout.buffer


_OPENED_BY_SHELL: Final = ("/dev/fd/", "/dev/std", "/proc/self/fd/", "/dev/null")
DASH: Final = "-"
"""What names standard input or output; a file of that name is written ./-."""
ReadFrom = Path | StandardInput
WriteTo = Path | StandardOutput
"""What a parameter of these types gives."""


class FileOrDash(click.ParamType):  # type: ignore[type-arg]
    """The type of a parameter that names a file, or - in its place."""

    name = "file"
    is_written = False

    def get_metavar(self, param: click.Parameter, ctx: click.Context | None = None) -> str:
        return "FILE|-"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> ReadFrom | WriteTo:
        if not isinstance(value, str):
            return value  # type: ignore[no-any-return]
        if value != DASH:
            wrong = wrong_name(value) or wrong_file(Path(value), is_written=self.is_written)
            if wrong:
                self.fail(wrong, param, ctx)
            return Path(value)
        if ctx is not None and param is not None:
            taken_by = ctx.meta.setdefault(f"{__name__}.{self.is_written}", param.name)
            if taken_by != param.name:
                stream = "standard output" if self.is_written else "standard input"
                self.fail(f"- is given twice, and there is one {stream}. Name a file for the other.", param, ctx)
        return StandardOutput() if self.is_written else StandardInput()


class FileToRead(FileOrDash):
    """The type of a parameter that names a file to read, or - for standard input."""


class FileToWrite(FileOrDash):
    """The type of a parameter that names a file to write, or - for standard output."""

    is_written = True


class FolderToUse(click.ParamType):  # type: ignore[type-arg]
    """The type of a parameter that names a folder."""

    name = "folder"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        wrong = wrong_name(str(value))
        if wrong:
            self.fail(wrong, param, ctx)
        return Path(value)


def wrong_name(name: str) -> str | None:
    """Why no file or folder can have a name, in words; None where one may."""
    if not name:
        return "The name is empty. Type the name of a file or a folder."
    if "\0" in name:
        return "No name has the character NUL in it."
    try:
        Path(name).stat()
    except OSError as fault:
        if fault.errno == errno.ENAMETOOLONG:
            return f"A name of {len(name)} characters is too long for this disk."
    return None


def wrong_file(path: Path, *, is_written: bool) -> str | None:
    """Why what has that name is none to read or to write: a pipe may wait for ever, and a link that leads nowhere would
    have a file written where nobody looks. What a shell opened for the command itself may be a pipe."""
    if path.is_symlink() and not path.exists() and is_written:
        return f"{path} is a link to a place where nothing is. Choose another name, or remove the link."
    if str(path).startswith(_OPENED_BY_SHELL):
        return None
    try:
        mode = path.stat().st_mode
    except OSError:
        return None
    if stat.S_ISFIFO(mode) or stat.S_ISSOCK(mode) or stat.S_ISBLK(mode) or (stat.S_ISCHR(mode) and not is_written):
        stream = "standard output" if is_written else "standard input"
        return f"{path} is a pipe or a device. Name a file, or - for {stream}."
    return None


@contextmanager
def on_disk(file: ReadFrom) -> Iterator[Path]:
    """A file that can only be used by its path, such as a database; of standard input a copy that is gone afterwards.

    What is wrong with that copy is said of standard input. Raises InputError where the copy cannot be made.
    """
    if isinstance(file, Path):
        yield file
        return
    from bevelbook.store.folder_aside import folder_aside

    with folder_aside() as folder:
        copy = folder / file.name
        try:
            with copy.open("wb") as target:
                from shutil import copyfileobj

                copyfileobj(file.stream(), target)
        except OSError as fault:
            raise InputError(
                "what came by standard input cannot be kept while it is looked at",
                code="not_writable",
                place=Place(str(folder)),
                found=fault.strerror or str(fault),
                remedy="Make room on the disk of temporary files, or name a file.",
            ) from fault
        try:
            yield copy
        except BevelbookError as fault:
            if fault.place.file is not None:
                fault.place = fault.place._replace(file=fault.place.file.replace(str(copy), file.name))
            raise


def bytes_in(file: ReadFrom) -> bytes:
    """What is in a file, or comes from standard input. Raises OSError."""
    with file.open("rb") as stream:
        return stream.read()


def text_into(file: StandardOutput, text: str) -> None:
    """Write a text to standard output, in UTF-8 whatever the terminal's encoding is."""
    stream = file.open(is_text=True)
    stream.write(text.encode())
    stream.flush()


def say_written(text: str, *files: WriteTo | None) -> None:
    """Print lines about what was written: on standard error where one of the files is standard output."""
    if any(isinstance(file, StandardOutput) for file in files):
        say_beside(text)
    else:
        print_text(text)
