"""The rule of a meeting, as plainly as it can be written: what each database holds is a set, sets are united, and what
is shown follows from the union alone. Slow and without SQL; the tests compare the real one with it.

Of two contents under one version the lesser counts, where the tool may have written both: an import names a version by
what stood in the row; who wrote it when, from which file, which records it found for the names in it, and what follows
from other rows is of each laptop. What another program wrote under a version stays where it is (:func:`met`): no rule
makes one of both. Nor of what one entry is, kept of a result or noted of a file (:func:`kept_apart`): an entry is made
on one laptop. Nor of what was left out of a file (:func:`left_out_apart`), where both know what may have read it.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.notes.note_columns import LOOSE, WORKED_OUT
from bevelbook.records import BY_TABLE, KINDS, Kind
from bevelbook.store.ids import content_id
from bevelbook.store.kept_past import NOT_VERSIONED
from bevelbook.store.same_things import SaidOfTwo, Thing, stands_for
from bevelbook.store.schema import BOOKKEEPING
from bevelbook.store.versions import LABELLED, PLACED

_OWN: Final = tuple(kind for kind in KINDS if kind.own)
_FOLLOWS: Final = ("id", "version", "parents")

Record = tuple[str, str]
"""A record: its table and id."""


class Version(NamedTuple):
    """A version of a record; ``content`` is None where it was removed, ``parents`` are those it follows."""

    name: str
    parents: tuple[str, ...]
    content: str | None
    replaced: tuple[str, str] | None
    """When and in which entry it was replaced, as far as somebody noted it."""
    of_diffs: frozenset[str] = frozenset()
    """The diffs of which laptops that show it say that a row of notes is: that of its build, unless they keep
    another."""

    @property
    def values(self) -> dict[str, Any]:
        found: dict[str, Any] = json.loads(self.content) if self.content else {}
        return found

    @property
    def at(self) -> str:
        return str(self.values.get("updated_at") or "")


Versions = dict[Record, dict[str, Version]]


def versions_in(connection: sqlite3.Connection) -> Versions:
    """All versions of all records that people or an import wrote."""
    found: Versions = {}
    written: dict[tuple[str, str], dict[str, str]] = {}
    for table, row_id, column, text in connection.execute("SELECT * FROM as_written ORDER BY 1, 2, 3"):
        written.setdefault((table, row_id), {})[column] = text
    kept = {
        (row_id, version): diff
        for row_id, version, diff in connection.execute("SELECT row_id, version, diff FROM note_diffs ORDER BY id")
    }
    written_diffs = {
        row_id: written.get(("builds", row_id), {}).get("diff", diff)
        for row_id, diff in connection.execute("SELECT id, diff FROM builds ORDER BY id")
    }
    for kind in _OWN:
        names = [*list(BOOKKEEPING)[2:], *kind.columns]
        for row in connection.execute(f"SELECT * FROM {kind.table} ORDER BY id"):
            content = {name: row[name] for name in names} | written.get((kind.table, row["id"]), {})
            diff = kept.get((row["id"], row["version"])) or (
                written_diffs.get(row["build"]) if "build" in names else None
            )
            of_diffs = frozenset({str(diff)} if diff else ())
            version = Version(row["version"], _read(row["parents"]), _json(content), None, of_diffs)
            _add(found, (kind.table, row["id"]), version)
    for row in connection.execute(
        "SELECT table_name, row_id, version, parents, content, replaced_in, replaced_at FROM history "
        "WHERE version <> ? ORDER BY id",
        (NOT_VERSIONED,),
    ):
        table, row_id, name, parents, content, replaced_in, replaced_at = row
        if not BY_TABLE[table].own:
            continue
        replaced = (replaced_at or "", replaced_in or "") if replaced_at or replaced_in else None
        text = None if content is None else _json(json.loads(content))
        of_diffs = frozenset({kept[row_id, name]} if (row_id, name) in kept else ())
        _add(found, (table, row_id), Version(name, _read(parents), text, replaced, of_diffs))
    return found


def united(*all_of_them: Versions) -> Versions:
    """What all hold together."""
    found: Versions = {}
    for one in all_of_them:
        for record, versions in one.items():
            for version in versions.values():
                _add(found, record, version)
    return found


def met(own: Versions, theirs: Versions) -> tuple[Versions, frozenset[tuple[Record, str, str]]]:
    """What the first holds after it took in the second; and the record, version and column of what another program
    wrote in one of them."""
    apart: set[tuple[Record, str, str]] = set()
    stays: dict[tuple[Record, str], str | None] = {}
    for record, versions in theirs.items():
        for name, version in versions.items():
            held = own.get(record, {}).get(name)
            columns = () if held is None else columns_apart(record, held, version)
            apart |= {(record, name, column) for column in columns}
            if held is not None and columns:
                stays[record, name] = held.content
    found = united(own, theirs)
    for (record, name), content in stays.items():
        found[record][name] = found[record][name]._replace(content=content)
    return found, frozenset(apart)


def columns_apart(record: Record, one: Version, other: Version) -> tuple[str, ...]:
    """The columns of two contents under one version of which the tool wrote one only."""
    kind = BY_TABLE[record[0]]
    if one.content is None or other.content is None or one.content == other.content:
        return ()
    aside = left_aside(kind, one.values) | left_aside(kind, other.values)
    names = set(one.values.keys() & other.values.keys()) - aside
    if one.name[14:15] == "8":
        names &= {field.name for field in kind.fields if field.kind != "reference"}
        names -= set(WORKED_OUT.get(kind.name, ()))
    return tuple(sorted(name for name in names if one.values[name] != other.values[name]))


Acts = dict[tuple[Record, str], list[Mapping[str, Any]]]
"""What each entry made of what has no versions: of itself, of kept results and of files of notes, each content that is
shown or was once."""


def acts_in(connection: sqlite3.Connection) -> Acts:
    """What the entries made of what has no versions."""
    found: Acts = {}
    for row in connection.execute("SELECT * FROM entries ORDER BY id"):
        found[("entries", row["id"]), row["id"]] = [dict(row)]
    for table in ("calculations", "note_files"):
        past = connection.execute(
            "SELECT row_id, content FROM history WHERE table_name = ? AND version = ? AND content IS NOT NULL "
            "ORDER BY id",
            (table, NOT_VERSIONED),
        ).fetchall()
        rows = connection.execute(f"SELECT * FROM {table} ORDER BY id").fetchall()
        for row_id, values in [
            *((row[0], json.loads(row[1])) for row in past),
            *((one["id"], dict(one)) for one in rows),
        ]:
            if values is not None and values["entry"] is not None:
                found.setdefault(((table, row_id), values["entry"]), []).append(values)
    return found


def kept_apart(own: Acts, theirs: Acts) -> frozenset[tuple[Record, str]]:
    """The rows and columns in which another program changed, in one of two books, what an entry made."""
    return frozenset(
        (act[0], name)
        for act in own.keys() & theirs.keys()
        for name in own[act][0]
        if {one[name] for one in own[act] if name in one} != {one[name] for one in theirs[act] if name in one}
    )


class LeftOut(NamedTuple):
    """What was left out of files: of each row what it first was, under "", and what each entry made of it; and what
    was asked for in each entry."""

    states: Mapping[tuple[Record, str], Mapping[str, Any] | None]
    asked: Mapping[str, str]


def left_out_in(connection: sqlite3.Connection) -> LeftOut:
    """What was left out of files, and cells beside rows without those that a placing moves."""
    states: dict[tuple[Record, str], Mapping[str, Any] | None] = {}
    for table in ("note_rejects", "note_extras"):
        columns = [field.name for field in BY_TABLE[table].fields]
        now = {
            row["id"]: {name: row[name] for name in columns}
            for row in connection.execute(f"SELECT * FROM {table} ORDER BY id")
        }
        past: dict[str, list[tuple[str | None, str | None]]] = {}
        for row_id, content, entry in connection.execute(
            "SELECT row_id, content, replaced_in FROM history WHERE table_name = ? ORDER BY id", (table,)
        ):
            past.setdefault(row_id, []).append((content, entry))
        for row_id in now.keys() | past.keys():
            owner = ""
            for content, entry in past.get(row_id, []):
                if content is None and entry is None:  # that the entry removed it
                    states[(table, row_id), owner] = None
                    continue
                states[(table, row_id), owner] = _left_out(json.loads(content) if content else None)
                owner = entry or owner
            if row_id in now:
                states[(table, row_id), owner] = _left_out(now[row_id])
    return LeftOut(states, {row[0]: row[1] for row in connection.execute("SELECT id, asked FROM entries ORDER BY id")})


def _left_out(values: Mapping[str, Any] | None) -> Mapping[str, Any] | None:
    if values is None or "cells" not in values:
        return values
    cells = {name: text for name, text in json.loads(values["cells"]).items() if name not in LOOSE}
    return {**values, "cells": json.dumps(cells, sort_keys=True)}


def left_out_apart(own: LeftOut, theirs: LeftOut) -> frozenset[tuple[Record, str]]:
    """The rows and columns in which another program changed, in one of two books, what was left out of a file."""
    known_once = [(own.asked | theirs.asked)[one] for one in own.asked.keys() ^ theirs.asked.keys()]
    may_have_read = [
        asked
        for asked in known_once
        if re.match(r"(record|calc|take-back|merge|check|join|erase|remove)( |$)", asked) is None
    ]
    found = set()
    for state in own.states.keys() & theirs.states.keys():
        here, there = own.states[state], theirs.states[state]
        if here is None or there is None or (not state[1] and may_have_read):
            continue
        found |= {(state[0], name) for name in here if here[name] != there[name]}
    return frozenset(found)


def _add(found: Versions, record: Record, version: Version) -> None:
    held = found.setdefault(record, {}).get(version.name)
    if held is not None:
        contents = [one.content for one in (held, version) if one.content is not None]
        content = min(contents, key=_by_content) if contents else None
        replaced = min([one.replaced for one in (held, version) if one.replaced is not None], default=None)
        parents = min(held.parents, version.parents)
        version = Version(version.name, parents, content, replaced, held.of_diffs | version.of_diffs)
    found[record][version.name] = version


def _by_content(content: str) -> tuple[str, int, str]:
    values = json.loads(content)
    return str(values["created_at"]), -len(values), content


class Erased(NamedTuple):
    """What was erased: ``names`` with what stands there, and whether they go out of texts too; the ``texts`` by record,
    version and column; ``files`` and pictures by hash."""

    names: Mapping[str, tuple[str, bool]]
    texts: frozenset[tuple[Record, str, str]]
    hashes: frozenset[str]


def erased_in(connections: Iterable[sqlite3.Connection], called: Iterable[str]) -> Erased:
    """All that was erased on any of these laptops; a name is known by the id that notes give to a person so called."""
    ids = {content_id("1970-01-01", f"person\0{name}"): name for name in called}
    with_initials = {
        content_id("1970-01-01", f"part of a name\0{key}")
        for one in ids.values()
        for other in ids.values()
        for key in (f"{one} {other[0]}", f"{other[0]} {one}")
    }
    names: dict[str, tuple[str, bool]] = {}
    texts, hashes = set(), set()
    for connection in connections:
        for what, table, row_id, version, column, instead, in_texts in connection.execute(
            "SELECT what, table_name, row_id, version, column_name, instead, in_texts FROM erasures ORDER BY id"
        ):
            if what == "name":
                if row_id in with_initials:  # of a person with two names; no text of these histories has an initial
                    continue
                name = ids[row_id]
                before = names.get(name, (instead, False))
                names[name] = min(before[0], instead, key=_by_form), before[1] or in_texts == "yes"
            elif what == "text" and version:
                texts.add(((table, row_id), version, column))
            elif what != "text":
                hashes.add(row_id)
    return Erased(names, frozenset(texts), frozenset(hashes))


def _by_form(instead: str) -> tuple[bool, str]:
    """What an erasing writes comes before what another program does."""
    return re.fullmatch(r"erased( \d{4})?", instead) is None, instead


def blank(all_of_them: Sequence[Versions], erased: Erased) -> list[Versions]:
    """The same without what was erased: a text also where another version of the record says the same."""
    said: dict[tuple[Record, str], set[str]] = {}
    for record, version, column in erased.texts:
        for one in all_of_them:
            text = one[record][version].values.get(column) if version in one.get(record, {}) else None
            if text not in (None, "erased"):
                said.setdefault((record, column), set()).add(without_names(text, erased))
    return [
        {
            record: {name: _blank(record, version, erased, said) for name, version in versions.items()}
            for record, versions in one.items()
        }
        for one in all_of_them
    ]


def _blank(record: Record, version: Version, erased: Erased, said: Mapping[tuple[Record, str], set[str]]) -> Version:
    if version.content is None:
        return version
    kind = BY_TABLE[record[0]]
    values = version.values
    typed = json.loads(values["entered"]) if values.get("entered") else {}
    for field in kind.fields:
        text = values.get(field.name)
        if field.kind != "text" or not isinstance(text, str):
            continue
        new = without_names(text, erased)
        if (record, version.name, field.name) in erased.texts or new in said.get((record, field.name), ()):
            new = "erased"
        values[field.name] = new
    for name, text in typed.items():
        is_erased = values.get(name) == "erased"
        typed[name] = "erased" if is_erased else without_names(text, erased, all_of_them=True)
    if values.get("entered"):
        values["entered"] = json.dumps(typed, ensure_ascii=False)
    if values.get("updated_by"):
        values["updated_by"] = without_names(values["updated_by"], erased)
    return version._replace(content=_json(values))


def without_names(text: str, erased: Erased, *, all_of_them: bool = False) -> str:
    """A text without the names that were erased, as whole words; one that is a name and nothing else always."""
    for name, (instead, in_texts) in erased.names.items():
        if text.casefold() == name:
            return instead
        if in_texts or all_of_them:
            ending = "(s?)" if len(name) > 2 else "()"
            text = re.sub(rf"(?i)(?<![^\W_]){name}{ending}(?![^\W_])", rf"{instead}\1", text)
    return text


class Shown(NamedTuple):
    """What is shown of a record: a version, None where it is removed; and the heads, if they differ."""

    version: Version | None
    heads: tuple[Version, ...]
    why: str | None


def shown(versions: Versions) -> dict[Record, Shown]:
    """What is shown of each record."""
    found = {record: _shown(record, tuple(held.values())) for record, held in versions.items()}
    _bring_back(found, versions)
    for build in _builds_of_notes(found, versions):
        found[build] = Shown(_last_living(versions[build].values()), found[build].heads, "needed")
    _bring_back(found, versions)
    return found


def _bring_back(found: dict[Record, Shown], versions: Versions) -> None:
    """What is shown needs what it refers to, and that what it refers to."""
    while needed := {
        target
        for record, one in found.items()
        if one.version is not None
        for target in _needed(record, one.version)
        if target in found and found[target].version is None
    }:
        for record in needed:
            found[record] = Shown(_last_living(versions[record].values()), found[record].heads, "needed")


def _last_living(versions: Iterable[Version]) -> Version:
    living = [one for one in versions if one.content is not None]
    last = [one for one in living if not any(one.name in other.parents for other in living)]
    return max(last or living, key=lambda one: (one.at, one.name))


def heads_of(versions: Iterable[Version]) -> tuple[Version, ...]:
    """The versions that no other follows."""
    all_of_them = tuple(versions)
    followed = {name for one in all_of_them for name in one.parents}
    return tuple(sorted((one for one in all_of_them if one.name not in followed), key=lambda one: one.name))


def _shown(record: Record, versions: tuple[Version, ...]) -> Shown:
    heads = heads_of(versions)
    living = [one for one in heads if one.content is not None]
    version = max(living, key=lambda one: (one.at, one.name)) if living else None
    alike = {declared_content(record, one) for one in heads}
    why = None if len(alike) < 2 else "changed" if len(living) == len(heads) else "removed"
    return Shown(version, heads, why)


def declared_content(record: Record, version: Version) -> str | None:
    """What people or an import wrote of a version, without what follows from other records."""
    if version.content is None:
        return None
    kind = BY_TABLE[record[0]]
    values = version.values
    aside = left_aside(kind, values)
    return _json(
        {name: values.get(name) for name in kind.columns if name not in aside and values.get(name) is not None}
    )


def left_aside(kind: Kind, values: Mapping[str, Any]) -> frozenset[str]:
    """The columns that follow from other records, of one from notes; not those that a person typed."""
    if not values.get("note_file"):
        return frozenset()
    label = frozenset({kind.label or ""}) if kind.name in LABELLED else frozenset[str]()
    typed = json.loads(values["entered"]) if values.get("entered") else {}
    return (PLACED.get(kind.name, frozenset()) | label) - frozenset(typed)


def _needed(record: Record, version: Version) -> Iterable[Record]:
    kind = BY_TABLE[record[0]]
    values = version.values
    aside = left_aside(kind, values)
    tables = {one.name: one.table for one in KINDS}
    for field in kind.fields:
        if field.kind == "reference" and field.target and field.name not in aside and values.get(field.name):
            yield tables[field.target], values[field.name]


def _builds_of_notes(found: Mapping[Record, Shown], versions: Versions) -> set[Record]:
    """The builds that come back for rows from notes: such a row, if no person named its build, goes to the build that
    it made itself, else to one of its diff; where none stands, to one that once was of that diff; where there is none
    either, the first of those that were removed comes back, or the first of those that once were of it. Diffs that a
    join or their name makes one are one. Of several diffs that laptops say a row is of the one with the least id."""
    stands = stands_for(
        [
            Thing("diff", of[1], one.version.values["label"])
            for of, one in found.items()
            if of[0] == "diffs" and one.version
        ],
        [_said(one.version) for of, one in found.items() if of[0] == "joins" and one.version],
    )

    def diff_of(version: Version) -> str:
        return one_diff(str(version.values["diff"]))

    def one_diff(diff: str) -> str:
        return stands.get(("diff", diff), diff)

    builds = {of: one.version for of, one in found.items() if of[0] == "builds"}
    living = {of: version for of, version in builds.items() if version is not None}
    built = {diff_of(version) for version in living.values()}
    made = {of[1][:-1] for of in living}
    removed = {
        of: _last_living(versions[of].values())
        for of, version in builds.items()
        if version is None and any(one.content is not None for one in versions[of].values())
    }
    once = {of: {diff_of(one) for one in versions[of].values() if one.content is not None} for of in builds}
    in_order = sorted(removed, key=lambda of: (removed[of].values["built_on"], of))
    back = set()
    for of, one in found.items():
        kind = BY_TABLE[of[0]]
        if one.version is None or "build" not in left_aside(kind, one.version.values) or of[1][:-1] in made:
            continue
        said = versions[of][one.version.name].of_diffs
        if not said:
            lay_on = removed.get(("builds", str(one.version.values.get("build"))))
            said = frozenset({str(lay_on.values["diff"])} if lay_on else ())
        if not said:
            continue
        wanted = one_diff(min(said))
        if wanted in built or any(wanted in once[build] for build in living):
            continue
        gone = [build for build in in_order if diff_of(removed[build]) == wanted]
        gone += [build for build in in_order if wanted in once[build]]
        back |= set(gone[:1])
    return back


def _said(version: Version) -> SaidOfTwo:
    values = version.values
    return SaidOfTwo(values["kind"], values["one"], values["other"], values.get("same") != "no")


def _read(parents: str | None) -> tuple[str, ...]:
    return tuple(json.loads(parents)) if parents else ()


def _json(values: Mapping[str, Any]) -> str:
    return json.dumps(values, sort_keys=True, ensure_ascii=False)


def unlike_rule(connection: sqlite3.Connection, versions: Versions | None = None) -> list[str]:
    """Where a database shows another version than the rule says of what it holds, or of what it should hold."""
    found = shown(versions_in(connection) if versions is None else versions)
    lines = []
    for (table, row_id), one in sorted(found.items()):
        row = connection.execute(f"SELECT version FROM {table} WHERE id = ?", (row_id,)).fetchone()
        is_shown = None if row is None else row[0]
        wanted = one.version and one.version.name
        alike = {head.name for head in one.heads} if one.why is None else {wanted}
        if is_shown != wanted and (is_shown is None or wanted is None or is_shown not in alike):
            heads = [(head.name, head.at, head.content is None) for head in one.heads]
            lines.append(f"{table} {row_id}: shows {is_shown}, by the rule {wanted} of {heads}")
    return lines
