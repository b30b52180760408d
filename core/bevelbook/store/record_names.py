"""The name of each record, as people read and type it, and the records that a typed name may mean.

A record with a label is named by it. What has no label is named by the record that it belongs to:

    opening         opening of rear-a/10
    weighing        rear-a/10#2, the second weighing of that build that was written down
    seal fitting    rear-a/11 joint
    part            rear-a/11 outdrive lid side
    shim            rear-a/11 behind case-side gear, and #2 for the next one there
    part of a blend rear-a/11 house 7k
    diff in a run   2026-05-03/2 rear
    diff in a car   blue rear from 2026-05-03
    value of a car  blue motor from 2026-05-03
    bench job       rear-a rebuild begun 2026-05-03
    bench step      rear-a rebuild begun 2026-05-03: Weigh it dry
    event           spring race; club race of 2026-05-03, where another one has that name
    scale reading   pocket closed rear-b on 2026-05-03 reading 4
    photograph      rear-a/11 outdrive lid side#2, the second one of that
    bottle          house 7k, second
    comparison      house 7k, second thicker than house 5k
    limit           seal uses for rear-a
    car at an event spring race red
    stock change    shaft ring counted on 2026-05-03
    part of a kit   shaft ring in rebuild kit
    bottle checked  house 7k, second checked on 2026-05-03
    plan            plan for spring race made 2026-05-03T18:20
    line of a plan  plan for spring race made 2026-05-03T18:20 1
    join            diff rear-a and rear-A2

Those that are counted keep their number when another one is removed, is taken back or goes to another owner.
A diff's name is taken for its last build. Names are read without regard to case, and as far as they are written.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterable, Iterator
from itertools import groupby
from typing import Any, Final, NamedTuple

from bevelbook.display.diff_names import with_mark
from bevelbook.facts.builds import last_build_sql
from bevelbook.kept_json import object_in
from bevelbook.reading import read_text
from bevelbook.reading.labels import folded_label
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.records.joins import JOINED_KINDS, TOLD_APART_KINDS
from bevelbook.store.piece_ids import numbers
from bevelbook.store.schema import quoted, selected_columns
from bevelbook.store.told_apart import names_in, of_one_name, of_one_thing_each


class _Belonging(NamedTuple):
    """How the records of a kind are named by the record that the column ``owner`` refers to.

    ``words`` is the SQL of what comes after the owner's name, of the row ``t``; ``prefix`` is put before it.
    """

    owner: str
    words: str
    prefix: str = ""


class _Past(NamedTuple):
    """A record as it was: its id, and its content, which is read and as text."""

    row_id: str
    content: dict[str, Any]
    text: str


class Candidate(NamedTuple):
    """A record that a name may mean: its id, its name, and other forms in which that may be typed."""

    row_id: str
    name: str
    forms: tuple[str, ...]


_BOTTLE: Final = (
    "(SELECT f.label || coalesce(', ' || z.lot, '') FROM bottles z JOIN fluids f ON f.id = z.fluid WHERE z.id = {0})"
)
_BELONGING: Final = {
    "opening": _Belonging("build", "''", "opening of "),
    "weighing": _Belonging("build", "''"),
    "seal_fitting": _Belonging("build", "t.place"),
    "build_part": _Belonging("build", "t.part || coalesce(' ' || t.place, '')"),
    "build_shim": _Belonging("build", "t.place"),
    "blend_part": _Belonging(
        "build",
        f"coalesce({_BOTTLE.format('t.bottle')}, (SELECT label FROM fluids WHERE id = t.fluid), "
        "printf('%.10g cSt', t.viscosity_cst))",
    ),
    "run_diff": _Belonging("run", "coalesce(t.position, (SELECT label FROM builds WHERE id = t.build), '')"),
    "car_diff": _Belonging("car", "t.position || ' from ' || t.from_on"),
    "car_value": _Belonging("car", "t.what || ' from ' || t.from_on"),
    "bench_job": _Belonging("diff", "t.kind || ' begun ' || substr(t.begun_at, 1, 10)"),
    "event_car": _Belonging("event", "(SELECT name FROM cars WHERE id = t.car)"),
    "stock_change": _Belonging("stock_part", "t.what || ' on ' || t.changed_on"),
    "kit_part": _Belonging("stock_part", "'in ' || t.kit"),
    "scale_reading": _Belonging("scale", "t.thing || ' on ' || t.read_on || ' reading ' || t.place"),
}
_JOB_OF_STEP: Final = (
    "(SELECT d.label || ' ' || j.kind || ' begun ' || substr(j.begun_at, 1, 10) FROM bench_jobs j "
    "JOIN diffs d ON d.id = j.diff WHERE j.id = t.job)"
)
_BUILD_OF_PHOTO: Final = (
    "coalesce(t.build, (SELECT build FROM openings WHERE id = t.opening), "
    "(SELECT build FROM build_parts WHERE id = t.build_part), "
    "(SELECT build FROM seal_fittings WHERE id = t.seal_fitting))"
)
_PLAN: Final = (
    "(SELECT 'plan' || coalesce(' for ' || e.name, '') || ' made ' || substr(p.made_at, 1, 16) FROM plans p "
    "LEFT JOIN events e ON e.id = p.event WHERE p.id = {0})"
)
_ONE_OF_JOIN: Final = (
    "coalesce(CASE t.kind "
    + " ".join(
        f"WHEN '{name}' THEN (SELECT {quoted(BY_NAME[name].label or 'id')} FROM {BY_NAME[name].table} WHERE id = {{0}})"
        for name in JOINED_KINDS
    )
    + " END, 'one that is gone')"
)
_BY_THEMSELVES: Final = {
    "join": f"t.kind || ' ' || {_ONE_OF_JOIN.format('t.one')} || ' and ' || {_ONE_OF_JOIN.format('t.other')}",
    "photo": f"coalesce((SELECT label FROM builds WHERE id = {_BUILD_OF_PHOTO}), {_BOTTLE.format('t.bottle')}, '') "
    "|| ' ' || t.piece || coalesce(' ' || t.side, '')",
    "bench_step": f"{_JOB_OF_STEP} || ': ' || t.title",
    "bottle": _BOTTLE.format("t.id"),
    "fluid_comparison": f"{_BOTTLE.format('t.thicker')} || ' thicker than ' || {_BOTTLE.format('t.thinner')}",
    "job_time": "t.job || coalesce(' for ' || (SELECT label FROM diffs WHERE id = t.diff), '')",
    "bottle_check": f"{_BOTTLE.format('t.bottle')} || ' checked on ' || t.checked_on",
    "plan": _PLAN.format("t.id"),
    "plan_line": f"{_PLAN.format('t.plan')} || ' ' || t.place",
    "limit": "t.kind || coalesce(' for ' || (SELECT label FROM diffs WHERE id = t.diff), '')",
}
"""The SQL of the name of the row ``t``, for kinds that belong to no other record."""
_NUMBERED: Final = frozenset({"weighing"})
"""Kinds that have nothing but their number among those of their owner."""
_ENDS_A_NAME: Final = "('', ' ', '#', ',')"


def is_named_by_label(kind: Kind) -> bool:
    """Whether the records of a kind have a label of their own that names them."""
    return kind.label is not None and kind.name not in _BY_THEMSELVES


def name_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """The name of a record, as it can be typed; None if there is no such record."""
    return names_of(connection, kind, [row_id]).get(row_id)


def names_of(connection: sqlite3.Connection, kind: Kind, row_ids: Iterable[str]) -> dict[str, str]:
    """The names of records of one kind, by id: each owner, and what is past, is read once for all of them."""
    rows = connection.execute(
        f"SELECT * FROM {kind.table} WHERE id IN (SELECT value FROM json_each(?))", (json.dumps(list(row_ids)),)
    ).fetchall()
    found: dict[str, str | None] = {}
    if kind.name in _BELONGING:
        owners = dict.fromkeys(row[_BELONGING[kind.name].owner] for row in rows)
        past = _past_of(connection, kind, owners)
        for owner in owners:
            found.update((one.row_id, one.name) for one in _of_owner(connection, kind, owner, past=past.get(owner, ())))
    elif kind.name == "photo":
        found.update((one.row_id, one.name) for one in _photos(connection, kind, [row["id"] for row in rows]))
    elif kind.name in _BY_THEMSELVES:
        found.update((one.row_id, one.name) for one in _by_themselves(connection, kind))
    elif kind.name == "put_by":
        found.update((row["id"], _put_by(connection, row)) for row in rows)
    elif kind.name == "event":
        found.update(_events(connection, rows))
    elif kind.label or kind.day:
        found.update((row["id"], row[kind.label or kind.day or "id"]) for row in rows)
    return {row["id"]: str(found.get(row["id"]) or f"{_words(kind)} {row['id'][-6:]}") for row in rows}


def _events(connection: sqlite3.Connection, rows: Iterable[sqlite3.Row]) -> Iterator[tuple[str, str]]:
    """The ids and names of events, with the first day where others have the name too."""
    kind = BY_NAME["event"]
    of_name: dict[str, list[str]] = {}
    standing = "SELECT id, name FROM events WHERE id NOT IN (SELECT id FROM one_with WHERE kind = 'event') ORDER BY id"
    for row_id, name in connection.execute(standing):
        of_name.setdefault(folded_label(name), []).append(row_id)
    for row in rows:
        alike = of_name.get(folded_label(row["name"]), [])
        parted = of_one_thing_each(connection, kind, alike) if len(alike) > 1 and row["id"] in alike else []
        yield row["id"], next((one.shown for one in parted if one.row_id == row["id"]), row["name"])


def title_of(connection: sqlite3.Connection, kind: Kind, row_id: str) -> str | None:
    """The name of a record where nothing around it says what kind it is: ``weighing rear-a/3#2, 2026-05-17``."""
    name = name_of(connection, kind, row_id)
    if name is not None and kind.name == "diff":
        return with_mark(name, connection.execute("SELECT mark FROM diffs WHERE id = ?", (row_id,)).fetchone()[0])
    if name is not None and kind.name in ("photo", "join"):
        return with_kind(kind, name)
    if (
        name is None
        or kind.name not in _BELONGING
        or kind.name
        in (
            "run_diff",
            "car_diff",
            "car_value",
            "scale_reading",
            "bench_job",
            "stock_change",
            "bottle_check",
            "plan_line",
        )
    ):
        return name
    if kind.day is None:
        return with_kind(kind, name)
    day = connection.execute(f"SELECT {quoted(kind.day)} FROM {kind.table} WHERE id = ?", (row_id,)).fetchone()[0]
    return ", ".join(part for part in (with_kind(kind, name), day) if part)


def marked_diffs(connection: sqlite3.Connection, kind: Kind, row_id: str) -> dict[str, str]:
    """The diffs that a record names, by field: each with its mark where it has one."""
    fields = [field.name for field in kind.fields if field.target == "diff"]
    row = connection.execute(
        f"SELECT {selected_columns(kind.table, ['id', *fields])} FROM {kind.table} WHERE id = ?", (row_id,)
    ).fetchone()
    found = {name: row[name] for name in fields if row is not None and row[name] is not None}
    return {name: title_of(connection, BY_NAME["diff"], diff) or diff for name, diff in found.items()}


def with_kind(kind: Kind, name: str) -> str:
    """The kind and the name, the kind once: ``build rear-a/3``, ``opening of rear-a/3``."""
    words = _words(kind)
    return name if name.startswith((f"{words} of ", f"{words} ")) and kind.name in _BELONGING else f"{words} {name}"


def candidates(connection: sqlite3.Connection, kind: Kind, typed: str, *, gone: bool = False) -> list[Candidate]:
    """The records of a kind without a label that a typed name may mean; with ``gone`` those that were removed.

    Those whose name it is; else those whose name begins with it, up to the end of a word.
    """
    names = {_folded(typed), _folded(_without_kind(kind, typed.strip()))}
    known = list(near(connection, kind, typed, gone=gone))
    exact = [one for one in known if names & set(one.forms)]
    found = exact or [one for one in known if any(_begins(form, name) for form in one.forms for name in names)]
    return list({one.row_id: one for one in reversed(found)}.values())[::-1]


def near(connection: sqlite3.Connection, kind: Kind, typed: str, *, gone: bool = False) -> Iterator[Candidate]:
    """All records of a kind without a label that belong to what the typed name begins with.

    With ``gone`` those that belonged to it and were removed; those that belong to no other record are not found then.
    """
    if kind.name in _BELONGING:
        for owner, said in _owners(connection, kind, typed):
            yield from _of_owner(connection, kind, owner, said, gone=gone)
    elif kind.name == "photo":
        yield from _photos(connection, kind, gone=gone)
    elif gone:
        return
    elif kind.name in _BY_THEMSELVES:
        yield from _by_themselves(connection, kind)
    elif kind.name == "put_by":
        for row in connection.execute(f"SELECT * FROM {kind.table} ORDER BY id"):
            name = _put_by(connection, row)
            yield Candidate(row["id"], name, (_folded(name),))


def _owners(connection: sqlite3.Connection, kind: Kind, typed: str) -> Iterator[tuple[str, str]]:
    """The ids of records that may own what is named, each with the owner's name as it was typed."""
    owner = BY_NAME[kind.field(_BELONGING[kind.name].owner).target or ""]
    named = _without_kind(kind, read_text(typed) or typed)
    label = quoted(owner.label or "id")
    begins = f"substr(?1, 1, length({label})) = {label} COLLATE NOCASE AND substr(?1, length({label}) + 1, 1)"
    stands = f"coalesce((SELECT stands FROM one_with o WHERE o.kind = '{owner.name}' AND o.id = t.id), t.id)"
    found = connection.execute(
        f"SELECT {stands}, {label} FROM {owner.table} t WHERE {begins} IN {_ENDS_A_NAME} "
        f"ORDER BY length({label}) DESC, t.id",
        (named,),
    ).fetchall()
    if owner.name == "build":
        stands = "coalesce((SELECT stands FROM one_with o WHERE o.kind = 'diff' AND o.id = diffs.id), diffs.id)"
        found += connection.execute(
            f"SELECT b.id, d.label FROM (SELECT {stands} AS id, label FROM diffs WHERE {begins} IN {_ENDS_A_NAME}) d "
            f"JOIN builds b ON b.id = {last_build_sql('d.id')}",
            (named,),
        ).fetchall()
    for shared in names_in(connection, owner) if owner.name in TOLD_APART_KINDS else ():
        if _begins_name(named, shared):
            found += [(one.row_id, shared) for one in of_one_name(connection, owner, shared)]
    yield from ((str(row[0]), str(row[1])) for row in found)


def _begins_name(named: str, name: str) -> bool:
    return named[: len(name)].casefold() == name.casefold() and named[len(name) :][:1] in ("", " ", "#", ",")


def _of_owner(
    connection: sqlite3.Connection,
    kind: Kind,
    owner: str,
    said: str | None = None,
    *,
    gone: bool = False,
    past: Iterable[_Past] | None = None,
) -> list[Candidate]:
    """The records of a kind that belong to one other record, with their names, in the order of those.

    With ``gone`` those that belonged to it, and are nowhere now; ``past`` is what its history has, where that is read.
    """
    belonging = _BELONGING[kind.name]
    owners = BY_NAME[kind.field(belonging.owner).target or ""]
    row = connection.execute(
        f"SELECT {quoted(owners.label or 'id')} FROM {owners.table} WHERE id = ?", (owner,)
    ).fetchone()
    if row is None:
        return []
    label = str(row[0])
    belong = connection.execute(
        f"SELECT t.*, {belonging.words} AS words FROM {kind.table} t WHERE t.{quoted(belonging.owner)} = ?", (owner,)
    ).fetchall()
    wanted = {row["id"] for row in belong}
    if past is None:
        past = _past_of(connection, kind, [owner]).get(owner, ())
    by_words = _once_there(connection, kind, past, belong, belonging.words)
    if gone:
        wanted = {row["id"] for alike in by_words.values() for row in alike} - _living(connection, kind)
    found = []
    for words, alike in sorted(by_words.items()):
        counted = {row_id: number for row_id, number in numbers(kind, alike).items() if row_id in wanted}
        for row_id, number in sorted(counted.items(), key=lambda item: item[1]):
            end = f"#{number}" if number > 1 or kind.name in _NUMBERED else ""
            name = f"{belonging.prefix}{label}{' ' if words else ''}{words}{end}"
            typed = (label, said or label)
            forms = {_folded(f"{one}{' ' if words else ''}{words}{end or '#1'}") for one in typed}
            forms |= {form.removesuffix("#1") for form in forms if kind.name not in _NUMBERED}
            if len(counted) == 1:
                forms |= {form.removesuffix(_folded(end)) for form in forms if end}
            found.append(Candidate(row_id, name, tuple(sorted(forms))))
    return found


def _once_there(
    connection: sqlite3.Connection, kind: Kind, past: Iterable[_Past], living: Iterable[sqlite3.Row], words: str
) -> dict[str, list[dict[str, Any]]]:
    """All records that ever belonged to an owner, by their words (SQL), each as it is, else as it was last.

    One that was written, removed and written again counts from the first time.
    """
    found = {row["id"]: dict(row) for row in living}
    for row_id, content, text in past:
        if row_id not in found:
            columns = ", ".join(f"json_extract(:content, '$.{one}') AS {quoted(one)}" for one in kind.columns)
            said = f"SELECT {words} FROM (SELECT :id AS id, {columns}) t"
            (in_words,) = connection.execute(said, {"content": text, "id": row_id}).fetchone()
            found[row_id] = {**content, "id": row_id, "words": in_words}
        written = content.get("created_at")
        found[row_id]["created_at"] = min(filter(None, (found[row_id].get("created_at"), written)), default=None)
    by_words: dict[str, list[dict[str, Any]]] = {}
    for row in found.values():
        by_words.setdefault(str(row["words"]), []).append(row)
    return by_words


def _past_of(connection: sqlite3.Connection, kind: Kind, owners: Collection[str]) -> dict[str, list[_Past]]:
    """What the history has of the records of each owner, the latest first; read once for all owners."""
    column = _BELONGING[kind.name].owner
    found: dict[str, list[_Past]] = {}
    if len(owners) == 1:
        asked, given = "instr(content, ?) AND json_valid(content)", next(iter(owners))
    else:
        asked = f"CASE WHEN json_valid(content) THEN content ->> '{column}' END IN (SELECT value FROM json_each(?))"
        given = json.dumps(list(owners))
    for row_id, text in connection.execute(
        f"SELECT row_id, content FROM history WHERE table_name = ? AND {asked} ORDER BY id DESC", (kind.table, given)
    ).fetchall():
        content = object_in(text) or {}
        owner = content.get(column)
        if isinstance(owner, str) and owner in owners:
            found.setdefault(owner, []).append(_Past(row_id, content, text))
    return found


def _living(connection: sqlite3.Connection, kind: Kind) -> set[str]:
    return {row[0] for row in connection.execute(f"SELECT id FROM {kind.table}")}


def _by_themselves(connection: sqlite3.Connection, kind: Kind) -> Iterator[Candidate]:
    rows = connection.execute(
        f"SELECT t.*, {_BY_THEMSELVES[kind.name]} AS words FROM {kind.table} t ORDER BY words, t.id"
    ).fetchall()
    for words, alike in groupby(rows, key=lambda one: one["words"]):
        for row_id, number in numbers(kind, alike).items():
            if words is None:
                continue
            name = f"{words}#{number}" if number > 1 and kind.name != "bottle" else str(words)
            forms = {_folded(name), _folded(name.replace(", ", " "))}
            if kind.name == "join":
                forms |= _forms_of_join(name)
            yield Candidate(row_id, name, tuple(sorted(forms)))


def _forms_of_join(name: str) -> set[str]:
    """A join by the two names alone, in either order: ``rear-A2 and rear-a``."""
    kind, _, two = name.partition(" ")
    one, _, other = two.partition(" and ")
    turned = f"{other} and {one}"
    return {_folded(form) for form in (two, turned, f"{kind} {turned}", other)}


def _photos(
    connection: sqlite3.Connection, kind: Kind, only: Collection[str] | None = None, *, gone: bool = False
) -> Iterator[Candidate]:
    """Photographs with their names, only some where those are named; with ``gone`` those that are nowhere now."""
    words = _BY_THEMSELVES[kind.name]
    named = f"SELECT t.*, {words} AS words FROM {kind.table} t"
    if only is None:
        living = connection.execute(f"{named} ORDER BY t.id").fetchall()
        wanted = {row["id"] for row in living}
    else:
        wanted = set(only)
        alike_words = f"SELECT words FROM ({named} WHERE t.id IN (SELECT value FROM json_each(?)))"
        living = connection.execute(
            f"SELECT * FROM ({named}) WHERE words IN ({alike_words}) ORDER BY id", (json.dumps(sorted(wanted)),)
        ).fetchall()
    past = [
        _Past(row_id, content, text)
        for row_id, text in connection.execute(
            "SELECT row_id, content FROM history WHERE table_name = ? AND content IS NOT NULL ORDER BY id DESC",
            (kind.table,),
        ).fetchall()
        if (content := object_in(text)) is not None
    ]
    by_words = _once_there(connection, kind, past, living, words)
    if gone:
        wanted = {row["id"] for alike in by_words.values() for row in alike} - wanted
    for said, alike in sorted(by_words.items()):
        for row_id, number in numbers(kind, alike).items():
            if row_id in wanted:
                name = f"{said}#{number}" if number > 1 else said
                forms = {_folded(one) for one in (name, name.replace(", ", " "), f"{said}#{number}")}
                yield Candidate(row_id, name, tuple(sorted(forms)))


def _put_by(connection: sqlite3.Connection, row: sqlite3.Row) -> str:
    about = BY_TABLE.get(row["subject_table"])
    subject = name_of(connection, about, row["subject_id"]) if about else None
    return f"{subject or row['subject_id']} {row['code'].replace('_', ' ')}"


def _without_kind(kind: Kind, name: str) -> str:
    """A typed name without the kind before it: ``opening of rear-a/3`` to ``rear-a/3``."""
    for words in (f"{_words(kind)} of ", f"{_words(kind)} "):
        if name.casefold().startswith(words):
            return name[len(words) :].strip()
    return name


def _folded(name: str) -> str:
    return " ".join(name.casefold().replace("#", " #").split())


def _begins(form: str, name: str) -> bool:
    return form.startswith(name) and form[len(name) :][:1] in ("", " ", ",")


def _words(kind: Kind) -> str:
    return kind.name.replace("_", " ")


def listed(found: Iterable[Candidate]) -> str:
    """Records by name, for a sentence; those that share a name by name and id."""
    named = list(found)
    names = [one.name for one in named]
    return " or ".join(one.name if names.count(one.name) == 1 else f"{one.name} ({one.row_id})" for one in named)
