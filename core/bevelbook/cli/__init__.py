"""The command line: a file per command, loaded when it is used.

Nothing else is imported here before a command needs it: what people ask for most often, the help, needs none of it.
"""

from __future__ import annotations

import sys

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import Any, NoReturn

    from bevelbook.calculating.recalculate import Upkeep
    from bevelbook.cli.session import Session
    from bevelbook.declare.errors import BevelbookError

COLLECTED_AFTER = (100_000, 20, 50)
"""A command makes tens of thousands of objects and keeps most of them until it ends; looking through them after every
700, as Python does, takes a fifth of its time. Long ones are still collected."""
_without_days: list[bool] = []
begun: list[Session] = []
"""The session of the command that runs; none until its options were read."""


def main(args: list[str] | None = None) -> NoReturn:
    """Run a command and end the process with its exit code; a fault is printed in words, never as a traceback."""
    words = sys.argv[1:] if args is None else args
    if args is None:
        import gc

        gc.set_threshold(*COLLECTED_AFTER)
    try:
        if words in (["--help"], ["-h"]):
            from bevelbook.cli.help_at_once import print_help

            if print_help():
                sys.exit(0)
        from bevelbook.cli.running import run

        run(words)
    finally:
        if args is None:
            gc.freeze()  # what is left goes with the process: to look through it once more takes a tenth of a command


def print_traceback(text: str) -> None:
    """Print a traceback on standard error, each line as it is."""
    import click

    from bevelbook.declare.printable import printable

    for line in text.rstrip("\n").split("\n"):
        click.echo(printable(line), err=True)


def print_no_more() -> None:
    """Send what is still to be printed nowhere, so that the end of the process does not fail again."""
    import os
    from contextlib import suppress

    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def print_fault(fault: BevelbookError, as_json: bool) -> None:
    """Print a fault: in words, its commands each on a line of its own, and for programs as JSON too."""
    from bevelbook.declare.printable import printable

    if as_json:
        print_json(fault.as_dict())
    commands = "".join(f"\n{printable(words)}:\n  {printable(command)}" for words, command in fault.commands)
    print_text(f"bevelbook: {fault}{commands}", err=True)


def report_failed(upkeep: Upkeep | None) -> int:
    """Name the plugins that failed after records were written, and the results that are kept otherwise; the exit code:
    1 where there are any."""
    if upkeep is None or not (upkeep.failed or upkeep.otherwise):
        return 0
    for line in (*(one.line() for one in upkeep.failed), *upkeep.otherwise_lines()):
        print_text(f"bevelbook: the records are kept; {line}", err=True)
    return 1


def say_if_invented(invented: bool) -> None:
    """Print the last line of every output from a database that is marked as invented."""
    if invented:
        from bevelbook.store.invented_mark import INVENTED_WORDS

        print_text(f"\n{INVENTED_WORDS}")


def print_text(text: str, *, err: bool = False, names_book: bool = True) -> None:
    """Print lines for people, on standard error with ``err``: control characters are written out as escapes.

    On a terminal a line goes on in the next between two words; a command to copy stays whole. Each names the database
    that was named before this one, except in a page of the manual (``names_book``), whose examples are of no database.
    """
    import click

    from bevelbook.cli.copied_commands import with_database
    from bevelbook.declare.printable import printable
    from bevelbook.display.wrapping import fitted
    from bevelbook.plugin.printed_apart import stream_from_elsewhere

    lines = in_words_of_book(with_database(text) if names_book else text).split("\n")
    printed = "\n".join(piece for line in lines for piece in fitted(printable(line)))
    click.echo(printed, file=None if err else stream_from_elsewhere(), err=err)


def say_beside(text: str) -> None:
    """Print on standard error what is neither the result nor an error: a notice, progress, a hint."""
    from bevelbook.cli.how_much_is_said import is_quiet

    if not is_quiet():
        print_text(text, err=True)


def say_quarters(is_without_days: bool) -> None:
    """Have every day that is printed from now on be one of its quarter: in an edition without days it stands for
    another."""
    _without_days[:] = [True] if is_without_days else []


def in_words_of_book(text: str) -> str:
    """A text for people as the database that was opened last has it said."""
    if not _without_days:
        return text
    from bevelbook.display.quarters import in_quarters

    return in_quarters(text)


def page_in_words_of_book(html: str) -> str:
    """The same for a page that is written to a file."""
    if not _without_days:
        return html
    from bevelbook.display.quarters import page_in_quarters

    return page_in_quarters(html)


def print_drawing(drawing: str) -> None:
    """Print a drawing for a terminal as it is, with the signs for its colours; nothing that anybody typed is in it."""
    import click

    click.echo(drawing)


def print_json(data: Any) -> None:
    """Print data for programs; a byte outside UTF-8 stands in it as JSON writes half a pair, ``\\udcff``."""
    import json

    import click

    text = json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False)
    click.echo(text.encode("utf-8", "backslashreplace").decode("utf-8"))
