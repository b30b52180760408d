"""The commands: each with a file of its own, which is loaded when it is used."""

from __future__ import annotations

import errno
from typing import Any, Final

import click

from bevelbook.cli import begun, print_no_more
from bevelbook.cli.global_options import ASKED, GIVEN, GlobalOption, take_globals
from bevelbook.cli.help_format import HelpContext
from bevelbook.declare.errors import DatabaseError, near_misses
from bevelbook.declare.no_room import is_without_room
from bevelbook.manual.commands import ABOUT, COMMANDS, OPTIONS, WIDEST

MODULE_OF: Final = {"import": "import_", "help": "help_", "take-back": "take_back", "scale-check": "scale_check"}
"""The module of a command whose name is taken in Python; the others are named like their module."""


class Commands(click.Group):
    """Loads a command's module when that command runs."""

    context_class = HelpContext

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
            print_no_more()
            return 0
        except OSError as fault:
            if fault.filename is not None or not (is_without_room(fault) or fault.errno == errno.EIO):
                raise
            print_no_more()
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
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": WIDEST},
    params=[GlobalOption(name) for name in OPTIONS],
    help=ABOUT,
)
@click.version_option(package_name="bevelbook", message="bevelbook %(version)s")
@click.pass_context
def group(ctx: click.Context) -> None:
    """Begin a command: it has the options of every command by now."""
    from bevelbook.cli.session import Session

    ctx.obj = Session(ctx.meta.get(GIVEN), ctx.meta.get(ASKED, ()))
    begun[:] = [ctx.obj]
