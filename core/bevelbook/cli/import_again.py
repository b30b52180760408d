"""``bevelbook import --again``: a kept file read again."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, report_failed
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.in_command import command_of

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.calculating.recalculate import Upkeep
    from bevelbook.notes.changed_rows import Decide
    from bevelbook.notes.settings import Settings


def read_again(
    session: Session,
    name: str,
    settings: Settings,
    *,
    as_json: bool,
    yes: bool,
    dry: bool,
    decide: Decide | None = None,
    question: str = "Change it?",
) -> int:
    """Show what would change, ask on a terminal, then change it; returns the exit code."""
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words

    connection = open_for_reading(session.path, untouched=True) if dry else session.open_for_writing()
    try:
        with in_words(session.path):
            return _read_again(
                *(connection, session, name, settings),
                as_json=as_json,
                yes=yes,
                dry=dry,
                decide=decide,
                question=question,
            )
    finally:
        connection.close()


def _read_again(
    connection: sqlite3.Connection,
    session: Session,
    name: str,
    settings: Settings,
    *,
    as_json: bool,
    yes: bool,
    dry: bool,
    decide: Decide | None,
    question: str,
) -> int:
    from bevelbook.notes.changed_rows import LOOKS_CHANGED
    from bevelbook.notes.report import SETTLED_BY
    from bevelbook.notes.reread import carry_out, revise
    from bevelbook.saving.imported import AfterImport

    came_of_it: dict[str, object] = {}
    upkeep: Upkeep | None = None
    revision = revise(connection, session.path, name, settings, by=session.by, decide=decide)
    if not as_json:
        for line in revision.lines(dry_run=dry):
            print_text(line)
        for one in revision.report.rejections:
            if one.reason == LOOKS_CHANGED:
                print_text(f"    line {one.line}: {one.reason}. {one.words}")
        if any(one.answer == "reject" for one in revision.report.changed):
            print_text(f"  To settle {LOOKS_CHANGED}: {SETTLED_BY[LOOKS_CHANGED]}")
    if not dry and (revision.says_otherwise or not revision.is_empty):
        if not (yes or revision.is_empty):
            _ask(as_json, question, only_adds=revision.only_adds)

        kept = revision.kept.id
        after = AfterImport(connection, session.registry, session.by)
        carry_out(connection, session.path, revision, by=session.by, asked=session.asked, also=after.work_out)
        after.look(kept)
        upkeep = after.upkeep[kept]
        came_of_it = {
            "kept": upkeep.counts(),
            "weighings_say": after.news[kept].as_dict(),
            "plugin_faults": upkeep.faults(),
        }
        if not as_json:
            placed = revision.report.placed
            moved = [f"  {one.line()}" for one in revision.report.closed]
            moved += [f"  {line}" for line in placed.lines()] if placed else []
            print_text("\n".join(["  Done.", *moved, *after.lines(kept)]))
    if as_json:
        print_json(revision.as_dict() | came_of_it | session.noticed())
    return max(revision.report.exit_code, report_failed(upkeep))


def typed_again(asked: str, file: Path, name: str, beside: Path | None) -> str:
    """The command that reads the kept file again, for an import as it was typed; ``beside`` is the profile that was
    found beside the file.

    >>> typed_again("import notes/n.csv --temp-unit F --dry-run", Path("notes/n.csv"), "n.csv", None)
    'bevelbook import --again n.csv --temp-unit F'
    """
    found: list[str] = []
    for word in shlex.split(asked):
        if Path(word) == file and "--again" not in found:
            found += ["--again", name]
        elif word not in ("--dry-run", "--yes"):
            found.append(word)
    if beside is not None:
        found += ["--profile", str(beside)]
    return command_of(*found)


def _ask(as_json: bool, question: str, *, only_adds: bool) -> None:
    if as_json or not sys.stdin.isatty():
        if only_adds:
            return
        raise InputError(
            "this changes records that are there",
            code="needs_yes",
            place=Place(column="--again"),
            remedy="Look with --dry-run first, then say --yes.",
        )
    click.confirm(question, abort=True, err=True)
