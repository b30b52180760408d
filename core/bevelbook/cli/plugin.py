"""``bevelbook plugin``: begin a calculator of your own, list the plugins, look one over."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import print_json, print_text
from bevelbook.cli.copied_commands import with_database
from bevelbook.cli.files import DASH, wrong_name
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import DatabaseError, InputError, Place
from bevelbook.declare.in_command import command_of, in_command, words_of_command
from bevelbook.plugin.registry import OF_TESTS, installed

if TYPE_CHECKING:
    from bevelbook.examining.flaw import Flaw
    from bevelbook.new_plugin.names import PluginNames

_TRIED: Final = ("--oil-mass", "1.94 g", "--fills", "2")
"""Inputs of the calculator that every new file begins with."""


@click.group("plugin", subcommand_metavar="new | list | check")
def command() -> None:
    """Begin a calculator of your own, list the plugins, look one over.

    'bevelbook help plugins' leads from an empty folder to a row in the browser.
    """


@command.command("new", short_help="Begin a calculator, with its test.")
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
        fault.remedy = f"Type '{command_of(*words)}'."
        raise
    written = write_new(Path(folder), project(names) if as_package else single_file(names))
    file = next(path for path in written if path.name == f"{names.module}.py")
    commands = _next_commands(names, file)
    if as_json:
        print_json({"calculator": names.calculator, "written": [str(path) for path in written], "next": commands})
        return
    for path in written:
        print_text(f"Wrote {path}")
    print_text("\nLook it over, try it, see it in the browser:")
    for line in commands:
        print_text(f"  {line}")
    if as_package:
        print_text(f"\nTo have it without --plugins: python -m pip install -e {in_command(str(written[0].parent))}")
    print_text("\n'bevelbook help plugins' goes on from here.")


def _next_commands(names: PluginNames, file: Path) -> list[str]:
    """What to type next: looking it over, a calculation, the pages."""
    folder = in_command(str(file.parent))
    tried = words_of_command(["calc", names.calculator, *_TRIED])
    typed = (f"plugin check {in_command(str(file))}", f"{tried} --plugins {folder}", f"serve --plugins {folder}")
    return [with_database(f"bevelbook {words}") for words in typed]


@command.command("list", short_help="List every plugin, and why one did not load.")
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
        for words in one.replaces:
            print_text(words)
        for reason in one.left_out:
            print_text(f"{one.name} left out: {reason}")
    if not own:
        print_text("\n'bevelbook plugin new NAME' begins one of your own.")
    return 1 if registry.failures else 0


@command.command("check", short_help="Say what is wrong with a plugin, and where.")
@click.argument("targets", nargs=-1, required=True, metavar="FILE|NAME...")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def check(session: Session, targets: tuple[str, ...], as_json: bool) -> int:
    """Look a plugin over: what is wrong with it, where, and what to write instead.

    \b
    bevelbook plugin check mine/tyre_age.py
    bevelbook plugin check tyre_age

    A file, or the name of a plugin that is installed or in the folder of --plugins. Its worked examples are run, in a
    process of its own; its checks of records are asked about the database, where there is one. What is serious leaves
    a calculator out until it is mended; then it ends with 1. The rest is said as a remark.
    """
    from bevelbook.examining.examined import all_examined

    found = [_target(session, one) for one in targets]
    flaws = dict(zip(targets, all_examined(found, database=_readable(session)), strict=True))
    serious = sum(flaw.is_serious for listed in flaws.values() for flaw in listed)
    if as_json:
        print_json(
            {
                "plugins": [
                    {"asked": target, "flaws": [flaw.as_dict() for flaw in listed]} for target, listed in flaws.items()
                ],
                "serious": serious,
            }
        )
        return 1 if serious else 0
    for target, listed in flaws.items():
        for flaw in listed:
            print_text(f"{_where(flaw, target)}: {'' if flaw.is_serious else 'a remark: '}{flaw.sentence}")
            print_text(f"  {flaw.remedy}\n")
        print_text(_summary(target, listed))
    return 1 if serious else 0


def _readable(session: Session) -> Path | None:
    """The database, where there is one that this version can read."""
    with suppress(DatabaseError), session.reading():
        return session.path
    return None


def _target(session: Session, typed: str) -> Path | str:
    """What a person named: a file, one of the folder of plugins by its name, or an installed plugin.

    Raises InputError for a folder, for - and for a file of another kind.
    """
    wrong = wrong_name(typed)
    if wrong:
        raise click.UsageError(wrong)
    path = Path(typed)
    if typed == DASH:
        raise InputError(
            "a plugin is looked over as a file, since its flaws are named by their lines in it",
            code="no_plugin_file",
            found=typed,
            remedy="Store it under a name that ends in .py, and name that.",
        )
    name = typed.replace("-", "_")
    if any(name == point.name for point in installed()):
        return name
    if path.is_dir():
        held = sorted(path.glob("*.py")) or sorted(path.glob("src/*.py"))
        files = [one for one in held if not one.name.startswith(OF_TESTS)]
        asked = " ".join(["bevelbook plugin check", *(in_command(str(one)) for one in files)])
        raise InputError(
            "this is a folder, and a plugin is a file",
            code="is_folder",
            place=Place(typed),
            remedy=f"Type '{asked}'." if files else "There is no plugin in it: name a file that ends in .py.",
        )
    if path.is_file() and path.suffix != ".py":
        raise InputError(
            "a plugin is a file of Python, and its name ends in .py",
            code="no_plugin_file",
            place=Place(typed),
            remedy="Name it so, then look it over.",
        )
    if path.suffix == ".py" or "/" in typed:
        return path
    in_folder = session.plugin_folder / f"{name}.py" if session.plugin_folder else None
    return in_folder if in_folder is not None and in_folder.is_file() else name


def _where(flaw: Flaw, target: str) -> str:
    """The file, as the summary names it too where it is the one that was typed, else from this folder on, and the
    line."""
    if flaw.file is None:
        return target
    file, typed = Path(flaw.file), Path(target)
    near = file.relative_to(Path.cwd()) if file.is_relative_to(Path.cwd()) else file
    is_typed = typed.is_file() and file.is_file() and typed.samefile(file)
    return str(flaw._replace(file=target if is_typed else str(near)).where)


def _summary(target: str, flaws: Sequence[Flaw]) -> str:
    serious = sum(one.is_serious for one in flaws)
    if serious:
        return f"{target}: {counted(serious, 'serious flaw')}; until that is mended it is left out."
    if flaws:
        return f"{target}: nothing serious, {counted(len(flaws), 'remark')}."
    return f"{target}: nothing is wrong with it."
