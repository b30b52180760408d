"""The command line: a file per command, loaded when it is used."""

from __future__ import annotations

import errno
import json
import os
import sys
from contextlib import suppress
from io import StringIO
from typing import TYPE_CHECKING, Any, Final, NoReturn

import click

from bevelbook.cli.copied_commands import with_database
from bevelbook.cli.global_options import ASKED, GIVEN, GlobalOption, take_globals
from bevelbook.cli.how_much_is_said import be_quiet, begin_anew, is_quiet, shows_tracebacks
from bevelbook.declare.errors import BevelbookError, DatabaseError, PluginFault, ProgramFault, near_misses
from bevelbook.declare.printable import printable
from bevelbook.display.line_width import line_width, set_terminal_width
from bevelbook.display.wrapping import fitted
from bevelbook.manual.commands import COMMANDS, OPTIONS
from bevelbook.plugin.printed_apart import own_output, stream_from_elsewhere

if TYPE_CHECKING:
    from bevelbook.calculating.recalculate import Upkeep
    from bevelbook.cli.session import Session

MODULE_OF: Final = {"import": "import_", "help": "help_", "take-back": "take_back", "scale-check": "scale_check"}
"""The module of a command whose name is taken in Python; the others are named like their module."""
_without_days: list[bool] = []
_begun: list[Session] = []
"""The session of the command that runs; none until its options were read."""


class Commands(click.Group):
    """Loads a command's module when that command runs."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        from importlib import import_module

        module = import_module(f"bevelbook.cli.{MODULE_OF.get(cmd_name, cmd_name)}")
        return take_globals(module.command)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; where whoever reads its output has enough of it, it ends quietly and well.

        Raises DatabaseError where standard output takes no more, such as a file on a disk that is full.
        """
        try:
            return super().invoke(ctx)
        except BrokenPipeError:
            _print_no_more()
            return 0
        except OSError as fault:
            if fault.filename is not None or fault.errno not in (errno.ENOSPC, errno.EIO, errno.EDQUOT):
                raise
            _print_no_more()
            raise DatabaseError(
                "what was to be written cannot be written to the end",
                code="output_full",
                found=fault.strerror,
                remedy="Make room, or send the output elsewhere. What was stored before stays stored.",
            ) from fault

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            raise click.UsageError(f"No such command {args[0]!r}. {near_misses(args[0], COMMANDS)}".strip(), ctx)
        ctx.meta[ASKED] = [*args]
        return super().resolve_command(ctx, args)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    params=[GlobalOption(name) for name in OPTIONS],
)
@click.version_option(package_name="bevelbook", message="bevelbook %(version)s")
@click.pass_context
def group(ctx: click.Context) -> None:
    """Keep every build of a sealed bevel-gear diff, its oil and its results; compute what a build needs."""
    from bevelbook.cli.session import Session

    ctx.obj = Session(ctx.meta.get(GIVEN), ctx.meta.get(ASKED, ()))
    _begun[:] = [ctx.obj]


@own_output()
def main(args: list[str] | None = None) -> NoReturn:
    """Run a command and end the process with its exit code; a fault is printed in words, never as a traceback."""
    _open_closed_streams()
    words = sys.argv[1:] if args is None else args
    columns = _columns()
    set_terminal_width(columns)
    begin_anew()
    _begun.clear()
    say_quarters(False)
    asked_by_shell = os.environ.get("_BEVELBOOK_COMPLETE")
    if asked_by_shell:
        sys.exit(_complete(asked_by_shell))
    try:
        code = group.main(words, prog_name="bevelbook", standalone_mode=False, terminal_width=columns and line_width())
        sys.exit(code if isinstance(code, int) else 0)
    except BevelbookError as fault:
        if fault.exit_code == ProgramFault.exit_code and not isinstance(fault, PluginFault):
            _show_traceback(fault)
        print_fault(fault, "--json" in words)
        sys.exit(fault.exit_code)
    except click.exceptions.Exit as ended:
        sys.exit(ended.exit_code)
    except click.ClickException as fault:
        _print_usage(fault)
        sys.exit(fault.exit_code)
    except (click.Abort, KeyboardInterrupt):
        print_text("bevelbook: stopped; nothing more was changed.", err=True)
        sys.exit(130)
    except Exception as failed:  # what nobody foresaw: a fault of ours, which is said in words too
        from bevelbook.cli.program_faults import fault_of_file, fault_of_program

        damaged = next((fault_of_file(failed, one.path) for one in _begun), None)
        if damaged is not None:
            _show_traceback(failed)
            print_fault(damaged, "--json" in words)
            sys.exit(damaged.exit_code)
        _show_traceback(failed)
        command = next((one.asked_words[0] for one in _begun if one.asked_words), None)
        ours = fault_of_program(failed, words, command, is_unchanged=all(one.is_unchanged for one in _begun))
        print_fault(ours, "--json" in words)
        sys.exit(ours.exit_code)


def _complete(asked: str) -> int:
    """Answer a shell that asks what may be typed next; where that fails it gets nothing, and nobody is disturbed."""
    be_quiet(True)
    try:
        from bevelbook.cli.completion import answer_shell

        return answer_shell(group, asked)
    except Exception:
        return 0


def _show_traceback(fault: BaseException) -> None:
    """Print the traceback of a fault where that was asked for."""
    if shows_tracebacks():
        from traceback import format_exception

        print_traceback("".join(format_exception(fault)))


def print_traceback(text: str) -> None:
    """Print a traceback on standard error, each line as it is."""
    for line in text.rstrip("\n").split("\n"):
        click.echo(printable(line), err=True)


def _open_closed_streams() -> None:
    """Put nothing in the place of a standard stream that whoever started the process has closed: a file that is opened
    later would else take its place, and what is printed would go into it."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode, encoding="utf-8"))


def _print_no_more() -> None:
    """Send what is still to be printed nowhere, so that the end of the process does not fail again."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _print_usage(fault: click.ClickException) -> None:
    """Print what Click says about words that it cannot take; it repeats them as they were typed."""
    shown = StringIO()
    fault.show(shown)
    print_text(shown.getvalue().removesuffix("\n"), err=True)


def _columns() -> int | None:
    """Columns of the terminal: what ``COLUMNS`` says, else what the terminal says; None without one."""
    said = os.environ.get("COLUMNS", "")
    if said.isdecimal() and int(said):
        return int(said)
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns or None
    except (OSError, ValueError):
        return None


def print_fault(fault: BevelbookError, as_json: bool) -> None:
    """Print a fault: in words, its commands each on a line of its own, and for programs as JSON too."""
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


def print_text(text: str, *, err: bool = False) -> None:
    """Print lines for people, on standard error with ``err``: control characters are written out as escapes.

    On a terminal a line goes on in the next between two words; a command to copy stays whole. On standard error each
    command names the database that was named before this one; what is also on pages is there as it is on them.
    """
    lines = in_words_of_book(with_database(text) if err else text).split("\n")
    printed = "\n".join(piece for line in lines for piece in fitted(printable(line)))
    click.echo(printed, file=None if err else stream_from_elsewhere(), err=err)


def say_beside(text: str) -> None:
    """Print on standard error what is neither the result nor an error: a notice, progress, a hint."""
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
    click.echo(drawing)


def print_json(data: Any) -> None:
    """Print data for programs."""
    click.echo(json.dumps(data, ensure_ascii=False, indent=2, allow_nan=False))
