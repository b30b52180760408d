"""A command from its words to the exit code: what is printed of a fault, and how the process ends."""

from __future__ import annotations

import os
import sys
from io import StringIO
from typing import NoReturn

import click

from bevelbook.cli import begun, print_fault, print_text, print_traceback, say_quarters
from bevelbook.cli.group import group
from bevelbook.cli.how_much_is_said import be_quiet, begin_anew, shows_tracebacks
from bevelbook.declare.errors import BevelbookError, PluginFault, ProgramFault
from bevelbook.display.line_width import line_width, set_terminal_width
from bevelbook.plugin.printed_apart import own_output


@own_output()
def run(words: list[str]) -> NoReturn:
    """Run a command and end with its exit code; a fault is printed in words, never as a traceback."""
    _open_closed_streams()
    columns = _columns()
    set_terminal_width(columns)
    begin_anew()
    begun.clear()
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
        from bevelbook.cli.program_faults import fault_of_file, fault_of_name, fault_of_program

        foreseen = fault_of_name(failed) or next((fault_of_file(failed, one.path) for one in begun), None)
        if foreseen is not None:
            _show_traceback(failed)
            print_fault(foreseen, "--json" in words)
            sys.exit(foreseen.exit_code)
        _show_traceback(failed)
        command = next((one.asked_words[0] for one in begun if one.asked_words), None)
        ours = fault_of_program(failed, words, command, is_unchanged=all(one.is_unchanged for one in begun))
        print_fault(ours, "--json" in words)
        sys.exit(ours.exit_code)
    finally:
        begin_anew()


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


def _open_closed_streams() -> None:
    """Put nothing in the place of a standard stream that whoever started the process has closed: a file that is opened
    later would else take its place, and what is printed would go into it."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_RDWR), mode, encoding="utf-8"))


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
