"""Three laptops meet in different orders and groupings, and twice; and what must then hold on each of them."""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Callable, Iterator, Sequence
from hashlib import sha256
from itertools import permutations
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory
from typing import Final, NamedTuple

from laptops import Laptop, memory
from meeting_rule import (
    Erased,
    Record,
    Versions,
    blank,
    declared_content,
    erased_in,
    united,
    unlike_rule,
    versions_in,
    without_names,
)
from random_histories import PEOPLE, Player

from bevelbook.facts.renew import stale
from bevelbook.interchange.descriptor import DESCRIPTOR
from bevelbook.interchange.read_export import read_export
from bevelbook.interchange.write_export import write_files
from bevelbook.plugin.registry import Registry
from bevelbook.records import KINDS
from bevelbook.reports.check import check
from bevelbook.store.searching import wrong_searches
from bevelbook.store.soundness import faults

_BESIDE: Final = {
    "as_written": "table_name, row_id, column_name, written",
    "also_called": "table_name, row_id, label",
    "note_bytes": "sha256",
    "picture_bytes": "sha256, jpeg, thumbnail",
}
"""Plain tables and what of them counts; how a kept file is packed does not."""
_KEPT: Final = ("entries", "note_files", "pictures", "calculations")


class Way(NamedTuple):
    """An order in which three meet: ``into`` takes in two others, one after the other, or those two after they met."""

    into: int
    first: int
    second: int
    others_meet_before: bool

    def words(self, names: Sequence[str]) -> str:
        """The way for people."""
        into, first, second = names[self.into], names[self.first], names[self.second]
        if self.others_meet_before:
            return f"{into} takes in ({first} with {second})"
        return f"({into} takes in {first}), then {second}"


EVERY_WAY: Final = tuple(Way(*order, before) for order in permutations(range(3)) for before in (False, True))
"""The 12 ways in which three come together."""


class Unequal(AssertionError):
    """Something that must hold after a meeting and does not; ``kind`` is in short what."""

    ways: tuple[Way, ...] = ()
    """The ways in which they met, of which the last showed it."""

    def __init__(self, kind: str, words: str) -> None:
        super().__init__(f"{kind}: {words}")
        self.kind = kind


class Written(NamedTuple):
    """All that was ever written on some laptop."""

    versions: Versions
    kept: dict[str, frozenset[str]]
    bytes_of_files: frozenset[str]
    erased_files: frozenset[str]


def written_on(laptops: Sequence[Laptop]) -> Written:
    """All that is written on these laptops now."""
    connections = [one.connection for one in laptops]
    erased = erased_in(connections, (one.casefold() for one in PEOPLE))
    return Written(
        united(*blank([versions_in(one) for one in connections], erased)),
        {
            table: frozenset(row[0] for one in connections for row in one.execute(f"SELECT id FROM {table}"))
            for table in _KEPT
        },
        frozenset(name for one in connections for name in _hashes(one)) - erased.hashes,
        erased.hashes | {name for one in connections for name in _files_with_names(one, erased)},
    )


def _files_with_names(connection: sqlite3.Connection, erased: Erased) -> Iterator[str]:
    """The kept files that hold a name that was erased."""
    for name, packed in connection.execute("SELECT sha256, packed FROM note_bytes ORDER BY sha256"):
        text = zlib.decompress(packed).decode()
        if without_names(text, erased, all_of_them=True) != text:
            yield name


def _hashes(connection: sqlite3.Connection) -> Iterator[str]:
    for table in ("note_bytes", "picture_bytes"):
        yield from (row[0] for row in connection.execute(f"SELECT sha256 FROM {table}"))


def dumped(connection: sqlite3.Connection) -> str:
    """All that a database holds, whatever its rowids, as text: rows by id, the history of each record in its order."""
    lines = []
    for kind in KINDS:
        order = "id" if kind.name != "clash" else "table_name, row_id"
        left = ", id" if kind.name == "clash" else ""
        lines += _rows(connection, kind.table, f"SELECT * FROM {kind.table} ORDER BY {order}{left}")
    columns = "table_name, row_id, version, parents, content, replaced_in, replaced_at"
    lines += _rows(connection, "history", f"SELECT {columns} FROM history ORDER BY table_name, row_id, id")
    for table, names in _BESIDE.items():
        lines += _rows(connection, table, f"SELECT {names} FROM {table} ORDER BY {names}")
    return "\n".join(lines)


def _rows(connection: sqlite3.Connection, table: str, sql: str) -> Iterator[str]:
    cursor = connection.cursor()
    cursor.row_factory = None
    cursor.execute(sql)
    names = [column[0] for column in cursor.description]
    for row in cursor:
        values = {
            name: sha256(value).hexdigest() if isinstance(value, bytes) else value
            for name, value in zip(names, row, strict=True)
        }
        yield f"{table} {json.dumps(values, ensure_ascii=False)}"


def first_differences(one: str, other: str, most: int = 4) -> str:
    """Lines that only one of two dumps has; of rows that both have what differs in them."""
    left, right = one.split("\n"), other.split("\n")
    of_left, of_right = set(left), set(right)
    only_left = [line for line in left if line not in of_right]
    only_right = [line for line in right if line not in of_left]
    found = []
    for line in only_left[:most]:
        alike = next((it for it in only_right if _key(it) == _key(line)), None)
        if alike is None:
            found.append(f"- {line}")
        else:
            only_right.remove(alike)
            before, after = _values(line), _values(alike)
            names = [name for name in before if before[name] != after.get(name)]
            said = ", ".join(f"{name}: {before[name]!r} against {after.get(name)!r}" for name in names) or _apart(
                line, alike
            )
            found.append(f"  {' '.join(_key(line))}: {said}")
    found += [f"+ {line}" for line in only_right[:most]]
    return "\n".join(line[:900] for line in found) or "the same lines in another order"


def _apart(one: str, other: str) -> str:
    at = next((place for place, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), 0)
    return f"...{one[max(0, at - 60) : at + 60]}... against ...{other[max(0, at - 60) : at + 60]}..."


def _key(line: str) -> tuple[str, ...]:
    values = _values(line)
    if not values:
        return (line,)
    names = ("table_name", "row_id", "version", "replaced_in") if line.startswith("history ") else ("id", "row_id")
    return (line.partition(" ")[0], *(str(values.get(name)) for name in names))


def _values(line: str) -> dict[str, object]:
    """The values of a dumped row, those of a content one by one."""
    _, brace, rest = line.partition(" {")
    try:
        found: dict[str, object] = json.loads(brace.strip() + rest) if brace else {}
        content = found.pop("content", None)
        return found | (
            {f"content.{name}": value for name, value in json.loads(str(content)).items()} if content else {}
        )
    except (ValueError, AttributeError):
        return {}


Content = Callable[[sqlite3.Connection], str]


def exported(connection: sqlite3.Connection) -> str:
    """The description of an export, which has the hash of every other file of it."""
    with TemporaryDirectory(dir=memory()) as folder:
        write_files(connection, Path("team.db"), Path(folder))
        return (Path(folder) / DESCRIPTOR).read_text(encoding="utf-8")


def meet_all_ways(
    player: Player,
    ways: Sequence[Way],
    *,
    contents: Sequence[Content] = (dumped,),
    thorough: bool = True,
    folder: Path,
    random: Random,
) -> int:
    """Have the laptops, as they are now, come together in each of these ways; returns how many meetings there were.

    Where it is ``thorough``, the whole file is looked at after each way (pages, references, facts, search, what
    ``check`` says), the first result meets somebody once more too, not the last alone, and an export of the last comes
    into an empty database as it was.

    Raises Unequal where one of the results is not what the others are, or is not what must hold.
    """
    laptops = player.laptops
    begun = [one.kept() for one in laptops]
    wanted = written_on(laptops)
    sent = [one.to_send(folder / f"sent-{one.name}.db") for one in laptops]
    names = [one.name for one in laptops]
    first: tuple[list[str], Way] | None = None
    checked: str | None = None
    count = 0
    pairs = {(way.first, way.second) for way in ways if way.others_meet_before}
    together: dict[tuple[int, int], Path] = {}

    def take_in(into: int, other: Path, pair: tuple[int, int] | None = None) -> None:
        """Take in what was sent; where two that met so are wanted later, keep what they then send."""
        nonlocal count
        player.merge_file(laptops[into], other)
        count += 1
        if pair in pairs and pair not in together:
            together[pair] = laptops[into].to_send(folder / f"sent-{names[pair[0]]}-{names[pair[1]]}.db")

    for number, way in enumerate(ways):
        into = laptops[way.into]
        for laptop, kept in zip(laptops, begun, strict=True):
            laptop.put(kept)
        if way.others_meet_before:
            pair = way.first, way.second
            if pair not in together:
                take_in(way.first, sent[way.second], pair)
            take_in(way.into, together[pair])
        else:
            take_in(way.into, sent[way.first], (way.into, way.first))
            take_in(way.into, sent[way.second])
        words = way.words(names)
        try:
            found = [content(into.connection) for content in contents]
            if first is None:
                first = found, way
                _must_hold(into, wanted, words)
            for here, there in zip(found, first[0], strict=True):
                if here != there:
                    both = f"{first[1].words(names)} against {words}"
                    raise Unequal("other content", f"{both}\n{first_differences(there, here)}")
            if thorough:
                _sound(into, words)
                report = _checked(into, player.registry)
                if checked is not None and report != checked:
                    raise Unequal("other check", f"{words}\n{first_differences(checked, report)}")
                checked = report
            if number == len(ways) - 1 or (thorough and number == 0):
                again = random.choice([*sent, into.to_send(folder / "sent-again.db")])
                take_in(way.into, again)
                for content, there in zip(contents, first[0], strict=True):
                    if (here := content(into.connection)) != there:
                        raise Unequal("twice", f"{words}, then {again.stem}\n{first_differences(there, here)}")
            if thorough and number == len(ways) - 1:
                empty = laptops[way.first]
                player.merge_file(put_empty(empty), read_back(into, folder / "read-back.db"))
                if (here := dumped(empty.connection)) != (there := dumped(into.connection)):
                    raise Unequal("read back", f"{words}\n{first_differences(there, here)}")
        except Unequal as fault:
            fault.ways = (way,) if first is None or first[1] == way else (first[1], way)
            raise
    return count


def put_empty(laptop: Laptop) -> Laptop:
    """The laptop, with an empty database."""
    laptop.put(laptop.empty)
    return laptop


def read_back(laptop: Laptop, aside: Path) -> Path:
    """What an export of all that a laptop holds is when it is read: a database that can be taken in."""
    aside.unlink(missing_ok=True)
    with TemporaryDirectory(dir=memory()) as folder:
        write_files(laptop.connection, laptop.path, Path(folder))
        read_export(Path(folder), aside)
    return aside


def _must_hold(laptop: Laptop, wanted: Written, words: str) -> None:
    """Nothing is lost, and what is shown is what the rule says."""
    held = written_on([laptop])
    for record, versions in wanted.versions.items():
        for name, version in versions.items():
            there = held.versions.get(record, {}).get(name)
            if there is None:
                raise Unequal("lost", f"{words}: version {name} of {record}")
            if declared_content(record, there) != declared_content(record, version):
                raise Unequal("lost", f"{words}: what version {name} of {record} says: {version} {there}")
    for table, ids in wanted.kept.items():
        gone = {one for one in ids - held.kept[table] if not _in_history(laptop.connection, table, one)}
        if gone:
            raise Unequal("lost", f"{words}: {table} {sorted(gone)}")
    if wanted.bytes_of_files - wanted.erased_files != held.bytes_of_files:
        raise Unequal("lost", f"{words}: bytes of files")
    if wanted.erased_files != held.erased_files:
        raise Unequal("not erased", f"{words}: {sorted(wanted.erased_files ^ held.erased_files)}")
    if new := [
        (record, name)
        for record, versions in held.versions.items()
        for name in versions
        if name not in wanted.versions.get(record, {})
    ]:
        raise Unequal("new version", f"{words}: {new[:3]}")
    if unlike := unlike_rule(laptop.connection, wanted.versions):
        raise Unequal("unlike the rule", f"{words}: " + "\n".join(unlike[:3]))


def _in_history(connection: sqlite3.Connection, table: str, row_id: str) -> bool:
    found = connection.execute("SELECT 1 FROM history WHERE table_name = ? AND row_id = ?", (table, row_id))
    return found.fetchone() is not None


def _sound(laptop: Laptop, words: str) -> None:
    connection = laptop.connection
    for pragma, good in (("integrity_check", [("ok",)]), ("foreign_key_check", [])):
        if (found := [tuple(row) for row in connection.execute(f"PRAGMA {pragma}")]) != good:
            raise Unequal(pragma, f"{words}: {found[:5]}")
    if wrong := {table: count for table, count in stale(connection).items() if count}:
        raise Unequal("facts", f"{words}: {wrong}")
    if searches := wrong_searches(connection):
        raise Unequal("search", f"{words}: {[kind.name for kind in searches]}")


def _checked(laptop: Laptop, registry: Registry) -> str:
    found = check(laptop.connection, registry)
    lines = [*found.lines(), *faults(laptop.connection)]
    return "\n".join(map(str, lines))


def lost_records(before: Versions, after: Versions) -> list[Record]:
    """Records with a version that is not there any more."""
    return sorted(record for record, versions in before.items() if set(versions) - set(after.get(record, {})))
