"""``bevelbook export --since DATE FILE.zip``: what was touched since a day, as one file to send."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, TYPE_CHECKING, Any, Final

import click

from bevelbook.cli import print_json
from bevelbook.cli.files import StandardOutput, WriteTo, say_written
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import command_of, in_command

if TYPE_CHECKING:
    from bevelbook.cli.session import Session
    from bevelbook.interchange.part_words import PartHolds

ENDING: Final = ".zip"


def export_since(
    session: Session, file: WriteTo, since_typed: str, *, with_files: bool, replace: bool, as_json: bool
) -> int:
    """Write what was touched since a day, with all that belongs to it, into a zip; the exit code."""
    from bevelbook.interchange.since import read_since
    from bevelbook.interchange.zipped import PartZip
    from bevelbook.store.invented_mark import INVENTED_WORDS

    since = read_since(since_typed)
    if isinstance(file, Path) and file.suffix.lower() != ENDING:
        raise click.UsageError(f"With --since one file is written: name it {file.name}{ENDING}.")
    if as_json and isinstance(file, StandardOutput):
        raise click.UsageError("Standard output is the zip or the JSON about it: leave one of them out.")
    with session.reading() as connection, PartZip(connection, session.path, since, with_files=with_files) as part:
        if not as_json:
            say_written("\n".join(part.holds.sentences()), file)
        byte_count = 0
        if not part.holds.is_empty:
            with _opened(file, since_typed, with_files=with_files, replace=replace) as opened:
                byte_count = part.write_into(opened)
    if as_json:
        print_json(_as_dict(file, part.holds, byte_count) | {"invented": session.invented} | session.noticed())
        return 0
    say_written(_written_words(file, part.holds, byte_count), file)
    if session.invented:
        say_written(f"\n{INVENTED_WORDS}", file)
    return 0


def _written_words(file: WriteTo, holds: PartHolds, byte_count: int) -> str:
    from bevelbook.interchange.export_words import size_in_words
    from bevelbook.interchange.part_words import fits_chat

    if holds.is_empty:
        return "So there is nothing to send, and no file was written."
    size = size_in_words(byte_count)
    said = f"{size}: {'small enough' if fits_chat(byte_count) else 'large'} for a chat"
    command = "bevelbook merge FILE" if isinstance(file, StandardOutput) else f"bevelbook merge {in_command(file.name)}"
    return f"Wrote {file}, {said}. Whoever gets it takes it in: '{command}'."


def _as_dict(file: WriteTo, holds: PartHolds, byte_count: int) -> dict[str, Any]:
    return {
        "file": None if holds.is_empty else str(file),
        "bytes": byte_count,
        "since": holds.since,
        "with_files": holds.with_files,
        "touched": dict(holds.counts) | {"others": holds.others, "removed": holds.removed},
        "further": holds.further,
        "people": list(holds.people),
        "photographs": holds.photographs,
        "files_of_notes": holds.notes,
    }


@contextmanager
def _opened(file: WriteTo, since_typed: str, *, with_files: bool, replace: bool) -> Iterator[IO[bytes]]:
    from bevelbook.interchange.written_aside import written_aside

    if isinstance(file, StandardOutput):
        stream = file.open(is_text=False)
        yield stream
        stream.flush()
        return
    try:
        with written_aside(file, replace=replace) as opened:
            yield opened
    except InputError as fault:
        if fault.code == "file_exists":
            words = ["export", "--since", since_typed, *(["--with-files"] if with_files else [])]
            fault.remedy = f"Choose another name, or replace it: '{command_of(*words, '--replace', str(file))}'."
        raise
