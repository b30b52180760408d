"""What a photograph is of: the record that it hangs on, in words, and what it most likely shows of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import NamedTuple

from bevelbook.display.days import day_in_words
from bevelbook.facts.bench import IS_OPEN_JOB
from bevelbook.records import BY_NAME
from bevelbook.records.photos import HUNG_ON
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import names_of, title_of
from bevelbook.web.host.photographs_shown import side_of


class PhotographOf(NamedTuple):
    """The record that a photograph is to hang on: its kind and id, its name on the page, and what is likely to be seen
    of it, by field. ``job`` is the work at the bench that it is part of, by id, with its diff's name."""

    kind: str
    row_id: str
    words: str
    likely: Mapping[str, str]
    job: tuple[str, str] | None = None


class PhotographChoices(NamedTuple):
    """The records that a photograph is most likely of, where none is named: ids with their names."""

    builds: list[tuple[str, str]]
    bottles: list[tuple[str, str]]


def photograph_of(connection: sqlite3.Connection, kind_name: str, named: str) -> PhotographOf:
    """The record of a kind that a photograph can hang on, by its id or name. Raises UnknownNameError."""
    kind = BY_NAME[kind_name]
    row_id = find_id(connection, kind, named)
    return PhotographOf(
        kind_name,
        row_id,
        _words(connection, kind_name, row_id),
        _likely(connection, kind_name, row_id),
        _job_with(connection, kind_name, row_id),
    )


def photograph_choices(connection: sqlite3.Connection) -> PhotographChoices:
    """The last build of each diff, and the bottles that are not used up."""
    builds = connection.execute(
        "SELECT b.id, b.label FROM diff_facts f JOIN builds b ON b.id = f.current_build ORDER BY b.label, b.id"
    ).fetchall()
    bottles = [
        row[0]
        for row in connection.execute(
            "SELECT id FROM bottles WHERE empty IS NOT 'yes' ORDER BY opened_on DESC, rowid DESC"
        )
    ]
    names = names_of(connection, BY_NAME["bottle"], bottles)
    return PhotographChoices([(str(row[0]), str(row[1])) for row in builds], [(one, names[one]) for one in bottles])


def _words(connection: sqlite3.Connection, kind_name: str, row_id: str) -> str:
    """The record as the heading names it."""
    if kind_name == "opening":
        build, day = connection.execute(
            "SELECT b.label, o.opened_on FROM openings o JOIN builds b ON b.id = o.build WHERE o.id = ?", (row_id,)
        ).fetchone()
        return f"{build}, opened on {day_in_words(str(day))}"
    return title_of(connection, BY_NAME[kind_name], row_id) or ""


def _likely(connection: sqlite3.Connection, kind_name: str, row_id: str) -> dict[str, str]:
    if kind_name == "bottle":
        return {"piece": "label"}
    if kind_name not in ("build_part", "seal_fitting"):
        return {}
    part = "part" if kind_name == "build_part" else "'seal'"
    table = BY_NAME[kind_name].table
    piece, place = connection.execute(f"SELECT {part}, place FROM {table} WHERE id = ?", (row_id,)).fetchone()
    side = side_of(place)
    return {"piece": str(piece), **({"side": side} if side else {})}


def _job_with(connection: sqlite3.Connection, kind_name: str, row_id: str) -> tuple[str, str] | None:
    """The open job at the bench that the record is part of."""
    where = {"opening": "j.opening = :id", "build": "(j.ends = :id OR j.build = :id)"}.get(kind_name)
    if where is None:
        return None
    row = connection.execute(
        f"SELECT j.id, d.label FROM bench_jobs j JOIN diffs d ON d.id = j.diff WHERE {where} AND {IS_OPEN_JOB} "
        "ORDER BY j.begun_at DESC, j.id DESC LIMIT 1",
        {"id": row_id},
    ).fetchone()
    return None if row is None else (str(row[0]), str(row[1]))


def named_in(texts: Mapping[str, str]) -> tuple[str, str] | None:
    """Which record of ``HUNG_ON`` the texts of a form or an address name: its kind, and what it is called there."""
    return next(((name, texts[name]) for name in HUNG_ON if texts.get(name)), None)
