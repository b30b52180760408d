"""``bevelbook plugin``: begin a calculator of your own, list the plugins."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text
from bevelbook.cli.copied_commands import with_database
from bevelbook.cli.session import Session
from bevelbook.declare.in_command import in_command

if TYPE_CHECKING:
    from bevelbook.new_plugin.names import PluginNames

_TRIED: Final = ("--oil-mass", "1.94 g", "--fills", "2")
"""Inputs of the calculator that every new file begins with."""


@click.group("plugin", subcommand_metavar="new | list")
def command() -> None:
    """Begin a calculator of your own, list the plugins."""


@command.command("new")
@click.argument("name")
@click.option("--package", "as_package", is_flag=True, help="Make a project that can be installed, in a folder NAME.")
@click.option("--to", "folder", metavar="FOLDER", default=".", help="Where to write it; made where there is none.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def new(session: Session, name: str, as_package: bool, folder: str, as_json: bool) -> None:
    """Write a calculator that works, and its test, to change into your own.

    \b
    bevelbook plugin new tyre-age
    bevelbook plugin new tyre-age --to mine
    bevelbook plugin new tyre-age --package

    The file teaches: each part says what it is for. Nothing is replaced.
    """
    from bevelbook.new_plugin.files import project, single_file, write_new
    from bevelbook.new_plugin.names import BadName, names_of

    try:
        names = names_of(name, session.registry.calculators)
    except BadName as fault:
        words = [fault.instead if word == name else word for word in shlex.split(session.asked)]
        fault.remedy = f"Type '{' '.join(['bevelbook', *map(in_command, words)])}'."
        raise
    written = write_new(Path(folder), project(names) if as_package else single_file(names))
    file = next(path for path in written if path.name == f"{names.module}.py")
    commands = _next_commands(names, file)
    if as_json:
        print_json({"calculator": names.calculator, "written": [str(path) for path in written], "next": commands})
        return
    for path in written:
        print_text(f"Wrote {path}")
    print_text("\nTry it, see it in the browser:")
    for line in commands:
        print_text(f"  {line}")
    if as_package:
        print_text(f"\nTo have it without --plugins: python -m pip install -e {in_command(str(written[0].parent))}")


def _next_commands(names: PluginNames, file: Path) -> list[str]:
    """What to type next: a calculation, the pages."""
    folder = in_command(str(file.parent))
    tried = " ".join(["calc", names.calculator, *map(in_command, _TRIED)])
    return [
        f"bevelbook --plugins {folder} {tried}",
        with_database("bevelbook serve").replace("bevelbook", f"bevelbook --plugins {folder}", 1),
    ]


@command.command("list")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def list_(session: Session, as_json: bool) -> int:
    """List every plugin: where it is from, what it offers, and why something of it was left out.

    Ends with 1 when a plugin, or something that it offers, was left out.
    """
    from bevelbook.plugin.listed import plugins_listed

    registry = session.all_looked_at()
    plugins = plugins_listed(registry)
    if as_json:
        print_json({"plugins": [one.as_dict() for one in plugins]})
        return 1 if registry.failures else 0
    from bevelbook.display.table import table_lines

    own = [one for one in plugins if not one.is_bundled]
    for one in own:
        print_text(one.heading)
        for line in table_lines(one.facts(), indent="  "):
            print_text(line)
        print_text("")
    bundled = [one for one in plugins if one.is_bundled]
    for heading in sorted({f"Bundled, {one.package} {one.version}, in {Path(one.file).parent}" for one in bundled}):
        print_text(heading)
    for line in table_lines(((one.name, one.offers) for one in bundled), indent="  "):
        print_text(line)
    for one in bundled:
        for reason in one.left_out:
            print_text(f"{one.name} left out: {reason}")
    if not own:
        print_text("\n'bevelbook plugin new NAME' begins one of your own.")
    return 1 if registry.failures else 0
