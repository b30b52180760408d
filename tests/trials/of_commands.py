"""Command lines made of the commands' own options with odd values, on copies of a small database.

Each ends with 0, 1 or 2 and never in a fault of the program; afterwards the database is sound, and nothing was written
outside the folder of the case.
"""

from __future__ import annotations

import atexit
import io
import os
import random
import shutil
import sqlite3
import sys
from contextlib import chdir, closing, redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, Final
from unittest.mock import patch

import click

from bevelbook.cli import main
from bevelbook.cli.group import group
from bevelbook.records import KINDS

LEFT_OUT: Final = ("serve", "enter", "demo", "calls", "plugin", "edition", "labels", "completion")
"""Commands that wait for somebody, open a port, or take seconds by their nature."""
CODES: Final = (0, 1, 2)
WORDS: Final = (
    *("", " ", "-", "--", "n/a", "None", "x", "0", "-1", "1e999", "9" * 400, "12,5", "1.500", "12.4 g", "7k", "68 °F"),
    *("2026-05-03", "03/02/2024", "2026-99-99", "rear-a", "rear-a/1", "rear-a/1#1", "house 7k", "ana", "build", "diff"),
    *(
        "build:rear-a/1",
        "scale:pocket",
        "nofile.csv",
        "notes.csv",
        "notes.xlsx",
        ".",
        "..",
        "team.db",
        "team.db/x",
        "=1",
    ),
    *("\u202erear", "\x1b[31m", "é" * 300, "a=b", "label=", "=", "label=x", "dry_mass=12.4g", "diff=rear-a"),
    *("--help", "--json", "--", "@", "*", "%s", "{}", "'", '"', "<b>", "\udcff", "last", "latest", "1", "2", "auto"),
)


@cache
def team() -> Path:
    """A small database, made once by commands, with a file of notes beside it."""
    folder = Path(mkdtemp(prefix="trials-team-", dir="/dev/shm" if os.access("/dev/shm", os.W_OK) else None))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = folder / "team.db"
    for words in (
        ["new"],
        ["record", "diff", "label=rear-a", "usual_position=rear", "housing_material=aluminium"],
        ["record", "fluid", "label=house 7k", "viscosity=7000", "viscosity_source=printed on the bottle"],
        ["record", "scale", "name=pocket", "step_g=0.01", "repeatability=0.005", "day_to_day=0.002"],
        [
            "record",
            "build",
            "diff=rear-a",
            "built_on=2026-05-03",
            "dry_mass=12.42g",
            "oil_mass=1,86g",
            "fluid=house 7k",
        ],
        ["record", "weighing", "build=rear-a/1", "weighed_on=2026-05-04", "runs=6", "mass=14.27g", "scale=pocket"],
        ["record", "run", "run_on=2026-05-04", "rear=rear-a/1", "grip=low", "track_temp=20"],
        ["record", "event", "name=spring race", "track_low=14", "track_high=32", "runs_per_car=6"],
    ):
        code, said = run(["--db", str(path), "--by", "ana", *words])
        assert code == 0, f"{words}: {said}"
    (folder / "notes.csv").write_text("date,diff,dry_mass_g,oil_mass_g\n2026-05-05,rear-b,12.4,1.8\n", encoding="utf-8")
    return folder


@cache
def config() -> dict[str, str]:
    """Folders of the user, in place of the real ones."""
    folder = mkdtemp(prefix="trials-user-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return {"XDG_CONFIG_HOME": f"{folder}/config", "XDG_CACHE_HOME": f"{folder}/cache", "HOME": folder}


def run(words: list[str]) -> tuple[object, str]:
    """The exit code of a command, and what it said on either stream."""
    out, err = (io.TextIOWrapper(io.BytesIO(), "utf-8", errors="replace") for _ in range(2))  # an export may be a zip
    code: object = None
    held, sys.stdin = sys.stdin, io.TextIOWrapper(io.BytesIO(b"date,diff\n2026-05-03,a\n"), "utf-8")
    try:
        with redirect_stdout(out), redirect_stderr(err), patch.dict(os.environ, config()):
            main(words)
    except SystemExit as ended:
        code = ended.code
    finally:
        sys.stdin = held
    for stream in (out, err):
        stream.flush()
        stream.seek(0)
    return code or 0, out.read() + err.read()


@cache
def commands() -> tuple[tuple[list[str], click.Command], ...]:
    """Every command with the words that lead to it."""
    found: list[tuple[list[str], click.Command]] = []

    def walk(words: list[str], command: click.Command) -> None:
        if isinstance(command, click.Group):
            context = click.Context(command, obj=None)
            for name in command.list_commands(context):
                if name in LEFT_OUT:
                    continue
                inside = command.get_command(context, name)
                if inside is not None:
                    walk([*words, name], inside)
        found.append((words, command))

    walk([], group)
    return tuple(found)


def case(source: random.Random, folder: Path) -> str:
    """One command on a copy of the database."""
    for path in team().glob("*.*"):
        shutil.copyfile(path, folder / path.name)
    words, command = source.choice(commands())
    typed = [*words, *arguments(source, command)]
    if words[:1] == ["record"] and len(words) == 1:
        typed = ["record", *recorded(source)]
    if source.random() < 0.1:
        typed.insert(
            source.randrange(len(typed) + 1), source.choice(("--quiet", "--debug", "--by", "--json", "--help"))
        )
    before = set(Path.cwd().iterdir())
    with chdir(folder):
        code, said = run(["--db", "team.db", *typed])
    assert code in CODES, f"ended with {code!r}: {typed}: {said[-600:]}"
    assert not is_fault(typed, said), f"failed: {typed}: {said[-900:]}"
    strange = set(Path.cwd().iterdir()) - before
    assert not strange, f"written outside: {typed}: {strange}"
    sound(folder / "team.db", typed)
    return f"{words[0] if words else 'no command'} {code}"


def is_fault(typed: list[str], said: str) -> bool:
    """Whether a command failed in a way that nobody foresaw; a traceback alone is one unless it was asked for."""
    return "fault of the program;" in said or ("Traceback (most" in said and "--debug" not in typed)


def sound(path: Path, typed: list[str]) -> None:
    """Whether the database is whole, if it is still there."""
    if not path.exists():
        return
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)], f"damaged: {typed}"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == [], f"dangling: {typed}"


def arguments(source: random.Random, command: click.Command) -> list[str]:
    """Options of the command with odd values, and arguments."""
    typed: list[str] = []
    for _ in range(source.choice((0, 1, 1, 2, 4))):
        param = source.choice(command.params) if command.params else None
        if isinstance(param, click.Option):
            typed.append(source.choice(param.opts))
            if not param.is_flag and source.random() < 0.95:
                typed.append(word(source, param))
        else:
            typed.append(source.choice(WORDS))
    return typed


def word(source: random.Random, param: Any) -> str:
    """A value for an option: one that it may take, or any."""
    choices = getattr(param.type, "choices", None)
    if choices and source.random() < 0.5:
        return str(source.choice(list(choices)))
    return source.choice(WORDS)


def recorded(source: random.Random) -> list[str]:
    """A record of a kind with odd values in its fields."""
    kind = source.choice([kind for kind in KINDS if kind.own])
    typed = [kind.name.replace("_", "-")]
    for _ in range(source.choice((1, 2, 4, 7))):
        field = source.choice(kind.fields)
        typed.append(f"{source.choice((field.name, field.stem))}={source.choice(WORDS)}")
    return typed + (["rear-a/1"] if source.random() < 0.2 else [])
