"""What a shell completes: words of the tool, and names out of a database that is only read. All data are invented."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from shlex import quote
from typing import NamedTuple

import click
import pytest
from conftest import Outcome, empty_database

from bevelbook.cli.completion import LINE, SHELLS, VARIABLE
from bevelbook.cli.group import group
from bevelbook.cli.offered_words import OFFERED
from bevelbook.cli.typed_line import typed_line
from bevelbook.manual.commands import COMMANDS, SWITCHED_ON
from bevelbook.manual.topic_list import TOPICS
from bevelbook.plugin.registry import load
from bevelbook.records import KINDS
from bevelbook.store.opening import open_for_writing
from bevelbook.store.writing import Writer

Run = Callable[..., Outcome]
ODD = ("front: x", "bo's old", 'say "hi"', "Größe", "cost $5")


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A database with names that a shell has to quote."""
    path = empty_database(tmp_path_factory.mktemp("completed") / "our team.db")
    with closing(open_for_writing(path)) as connection:
        from bevelbook.records import BY_NAME
        from bevelbook.store.opening import transaction

        with transaction(connection, path, asked="record diff label=rear-a", by="cem"):
            writer = Writer(connection, "cem", lambda: "2026-05-04T10:00:00.000Z")
            for label in ("rear-a", *ODD):
                diff = writer.insert(BY_NAME["diff"], {"label": label})
                for number in (1, 2, 10):
                    values = {"label": f"{label}/{number}", "diff": diff, "built_on": f"2026-05-{number:02}"}
                    build = writer.insert(BY_NAME["build"], values)
            writer.insert(BY_NAME["weighing"], {"build": build, "weighed_on": "2026-05-11", "mass_g": 14.2})
            writer.insert(BY_NAME["person"], {"name": "anna b"})
            writer.insert(BY_NAME["scale"], {"name": "pocket", "step_g": 0.01})
            writer.insert(BY_NAME["event"], {"name": "spring race"})
    return path


class Offer(NamedTuple):
    """What is offered for a line, and of what kind each is."""

    words: list[str]
    kinds: set[str]


@pytest.fixture
def offer(book: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Offer]]:
    """What zsh is offered, whole words."""
    for name in ("BEVELBOOK_DB", "BEVELBOOK_BY", "BEVELBOOK_PLUGINS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("BEVELBOOK_DB", str(book))

    def asked(line: str, shell: str = "zsh") -> Offer:
        monkeypatch.setenv(LINE, f"bevelbook {line}")
        lines = SHELLS[shell](group, {}, "bevelbook", VARIABLE).complete().splitlines()
        cells = [one.split("\t") for one in lines if one]
        return Offer([one[1] for one in cells], {one[0] for one in cells})

    yield asked


def test_commands_calculators_kinds_and_topics(offer: Callable[..., Offer]) -> None:
    assert offer("").words == list(COMMANDS)
    assert offer("--deb").words == ["--debug"]
    assert offer("calc ").words == sorted(load().calculators)
    assert offer("calc fill-").words == ["fill-repeatability", "fill-target"]
    assert {"--dry-mass", "--keep", "--db"} <= set(offer("calc fill-target --").words)
    assert offer("record ").words == [kind.name.replace("_", "-") for kind in KINDS if kind.own]
    assert offer("help ").words == list(TOPICS)
    assert "builds" in offer("help tables b").words
    assert offer("plugin check bench").words[0] == "bench_drag"
    assert offer("import --date-order ").words == ["dmy", "mdy", "ymd"]


def test_names_and_fields_of_records(offer: Callable[..., Offer]) -> None:
    assert offer("record build rear-a/").words == ["rear-a/1", "rear-a/2", "rear-a/10"]
    assert offer("record build REAR-A/1").words == ["rear-a/1", "rear-a/10"], "in another case too"
    assert offer("record weighing build=rear-a/1").words == ["build=rear-a/1", "build=rear-a/10"]
    assert "build=rear-a" in offer("record weighing build=rear").words, "a diff means its build"
    assert offer("record build dry_m") == (["dry_mass="], {"part"})
    assert "dry_mass=" not in offer("record build dry_mass=12.4g dry_m").words
    assert "rear_temp=" in offer("record run rear_").words
    assert offer("record diff usual_position=").words == [
        f"usual_position={one}" for one in ("front", "centre", "rear")
    ]
    assert offer("record weighing cost\\ \\$5/10").words == ["cost $5/10#1"]
    for line in ("card ", "compare ", "compare rear-a/1 ", "history ", "record build like=", "calc fill-target --for "):
        assert offer(f"{line}rear-a/2").words == [line.split(" ")[-1] + "rear-a/2"], line
    assert offer("calc fill-target --for scale:").words == ["scale:pocket"]
    assert offer("scale-check ").words == ["pocket"]
    assert offer("plan ").words == ["spring race"]
    assert offer("join diff rear").words == ["rear-a"]
    assert offer("erase person an").words == ["anna b"]
    assert offer("history weighing cost").words[0] == "cost $5/1"
    assert offer("take-back ").words == ["1"]
    assert offer("check --by ").words == ["anna b", "cem"]
    assert offer("check --by=an").words == ["--by=anna b"]
    assert offer("record build note=x -- rear").words == [], "its name stands first"


def test_files_are_left_to_the_shell(offer: Callable[..., Offer]) -> None:
    for line, kind in (("--db ", "file"), ("check --db ", "file"), ("calc --plugins ", "dir"), ("import ", "file")):
        assert offer(line).kinds == {kind}, line


def test_the_database_is_the_one_that_the_line_names(
    offer: Callable[..., Offer], book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BEVELBOOK_DB", str(tmp_path / "none.db"))
    assert offer("card ").words == []
    for line in (f'--db "{book}" card rear-a/2', f"card --db '{book}' rear-a/2", f'card --db="{book}" rear-a/2'):
        assert offer(line).words == ["rear-a/2"], line
    monkeypatch.chdir(book.parent)
    shutil.copy(book, tmp_path / "bevelbook.db")
    monkeypatch.delenv("BEVELBOOK_DB")
    assert offer("card rear-a/2").words == []
    monkeypatch.chdir(tmp_path)
    assert offer("card rear-a/2").words == ["rear-a/2"]


def test_nothing_is_written_and_nothing_said_whatever_the_file_is(
    book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, bevelbook: Run
) -> None:
    whole = book.read_bytes()
    (tmp_path / "whole.db").write_bytes(whole)
    (tmp_path / "cut.db").write_bytes(whole[: len(whole) // 3])
    (tmp_path / "noise.db").write_bytes(b"SQLite format 3\0" + bytes(range(256)) * 40)
    (tmp_path / "empty.db").touch()
    (tmp_path / "folder.db").mkdir()
    before = {file.name: file.read_bytes() for file in tmp_path.iterdir() if file.is_file()}
    monkeypatch.setenv(VARIABLE, "zsh_complete")
    for name in ("whole", "cut", "noise", "empty", "folder", "none"):
        monkeypatch.setenv(LINE, f"bevelbook card --db {name}.db rear-a/1")
        done = bevelbook()
        assert (done.code, done.err) == (0, ""), name
        assert done.out == ("plain\trear-a/1\t\nplain\trear-a/10\t\n" if name == "whole" else ""), name
    assert {file.name: file.read_bytes() for file in tmp_path.iterdir() if file.is_file()} == before


def test_a_busy_database_is_left_alone_and_one_that_is_open_is_read(
    offer: Callable[..., Offer], book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = Path(shutil.copy(book, tmp_path / "open.db"))
    monkeypatch.setenv("BEVELBOOK_DB", str(path))
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("UPDATE scales SET name = 'other'")
        assert offer("scale-check ").words == ["other"]
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("UPDATE scales SET name = 'third'")
        assert offer("scale-check ").words == []


@pytest.mark.parametrize(
    "line", ["calc nothing ", "nothing ", "record nothing ", "--nothing x ", '"', "record build \\"]
)
def test_what_makes_no_sense_is_completed_by_nothing_and_without_a_word(
    line: str, bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(VARIABLE, "bash_complete")
    monkeypatch.setenv(LINE, f"bevelbook {line}")
    done = bevelbook()
    assert (done.code, done.err) == (0, "")


def test_everything_that_is_offered_is_offered_to_a_parameter_that_there_is() -> None:
    ctx = click.Context(group)
    for words, name in OFFERED:
        if not words:
            assert name in {opt for param in group.params for opt in param.opts}
            continue
        first, *rest = words.split()
        command = group.get_command(ctx, first)
        for one in rest:
            assert isinstance(command, click.Group)
            command = command.commands[one]
        if words == "calc":
            command = command.get_command(ctx, "fill-target")  # type: ignore[union-attr]
        assert command is not None
        assert name in {param.name for param in command.params}, (words, name)


@pytest.mark.skipif(shutil.which("bash") is None, reason="needs a bash")
def test_a_real_bash_completes_and_reads_a_name_as_it_is(book: Path, tmp_path: Path) -> None:
    program = tmp_path / "bevelbook"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -c "from bevelbook.cli import main; main()" "$@"\n')
    program.chmod(0o755)
    lines = ("bevelbook record weighing build=front", "bevelbook card 'cost", "bevelbook calc tight")
    asked = "\n".join(
        f"COMP_LINE={quote(line)}; COMP_POINT=${{#COMP_LINE}}; _bevelbook_completion bevelbook; "
        "printf '%s\\n' \"${COMPREPLY[@]}\" ---"
        for line in lines
    )
    put_in = [
        (before, mark, name)
        for name in (*ODD, "rear-a", "a\\b", "it`s")
        for before in ("", "build=")
        for mark in ("", '"')
    ]
    read = "\n".join(
        f"printf '%s\\n' {before}{mark}{typed_line(f'bevelbook {before}{mark}{name[:2]}').in_bash(before + name)}{mark}"
        for before, mark, name in put_in
    )
    script = f"{SWITCHED_ON['bash, in ~/.bashrc']}\ncomplete -p bevelbook\n{asked}\n{read}\n"
    env = {**os.environ, "PATH": f"{tmp_path}:{os.environ['PATH']}", "BEVELBOOK_DB": str(book)}
    done = subprocess.run(["bash", "--norc", "-c", script], env=env, capture_output=True, text=True, check=True)
    assert done.stderr == ""
    registered, *answers = done.stdout.split("\n", 1)
    assert registered.endswith("-F _bevelbook_completion bevelbook")
    fronts = "".join(f"front:\\ x{ending}\n" for ending in ("/1", "/2", "/10", ""))
    costs = "".join(f"cost $5{ending}\n" for ending in ("/1", "/2", "/10", ""))
    assert answers[0].split("---\n") == [
        fronts,
        costs,
        "tightening\n",
        "".join(f"{before}{name}\n" for before, _, name in put_in),
    ]
