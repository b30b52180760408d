"""Clashes in words: a record that was changed in two places, what each version says, and how it is settled.

The versions of a clash are numbered from the one that is shown. A person names one by its number, so the numbers are
printed with a mark of the versions that were there: where another has come since, the mark is another one too.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.in_command import in_command
from bevelbook.display.clock import local_time
from bevelbook.display.days import day_in_words
from bevelbook.display.format import wrapped
from bevelbook.plugin.check import Finding
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports.finding_subjects import subjects_of
from bevelbook.store.clashes import ClashFound, ClashVersion, both_hold, clashes, with_author, with_others
from bevelbook.store.heads import Content, comparable
from bevelbook.store.known_versions import known_records
from bevelbook.store.users import users_of
from bevelbook.taking_back.words import PART_OF, content_value, field_words, record_words

BOTH: Final = "both"
"""What settles a clash by what each side changed, where they changed other fields."""
_BELONGS: Final = {**PART_OF, "weighing": "build", "opening": "build", "bench_step": "job"}
"""The column of the record on whose page a clash stands too, by kind."""
_MARK_LETTERS: Final = 4
_LONG: Final = 160
"""Letters of a text that are shown of each version at most."""
_BEFORE: Final = 40
"""Letters that are shown before the first one that differs."""
_NAMED: Final = 3
"""Records that are named one by one; more are counted."""
_ANOTHER_PROGRAM: Final = "another program"
_SOMEBODY: Final = "somebody"


class VersionSaid(NamedTuple):
    """A version of a clashing record: its number, what it says where they differ, and who wrote it when.

    Where one field differs ``words`` is its value alone, and ``in_full`` names the field too. Where several do, those
    that it left as they were come last, and say so: nobody wrote them there, and they would be put back with it.
    """

    number: int
    words: str
    in_full: str
    who: str
    when: str
    is_shown: bool
    is_removed: bool

    @property
    def by(self) -> str:
        """Who and when: ``bo, 3 May 12:10``."""
        return _by(self.who, self.when)

    @property
    def line(self) -> str:
        """The same with its number, as ``check`` prints it."""
        return f"{self.number}  {self.words}, {self.by}{' (shown)' if self.is_shown else ''}"


class WithOthersSaid(NamedTuple):
    """A version with what the others changed beside it: its number, the disputed values that it has, what the others
    add, and both in one."""

    number: int
    its_own: str
    added: str

    @property
    def typed(self) -> str:
        """What a person types for it: ``2+others``."""
        return f"{self.number}+others"

    @property
    def words(self) -> str:
        """``dry mass 46.13 g (anna), with note notchy (bo)``."""
        return f"{self.its_own}, with {self.added}"


class ClashSaid(NamedTuple):
    """A clash in words: ``name`` is what a person types for it, ``what`` what it is about, ``both`` what would hold if
    each side's change did (empty where that cannot be), ``seen`` the mark of its versions; ``with_others`` the versions
    that may be kept with what the others changed beside them, where not all changes can."""

    kind: Kind
    row_id: str
    name: str
    what: str
    versions: tuple[VersionSaid, ...]
    both: str
    seen: str
    with_others: tuple[WithOthersSaid, ...]

    @property
    def heading(self) -> str:
        """``build rear-a/12: dry mass``."""
        return f"{self.name}: {self.what}"

    @property
    def in_short(self) -> str:
        """``dry mass of build rear-a/12``; what was removed begins with its name."""
        return self.heading if any(one.is_removed for one in self.versions) else f"{self.what} of {self.name}"

    @property
    def sentence(self) -> str:
        """The clash in one sentence: ``dry mass: 46.31 g (bo, 3 May 12:10, shown) or 46.13 g (anna, ...)``."""
        each = " or ".join(f"{one.words} ({one.by}{', shown' if one.is_shown else ''})" for one in self.versions)
        return f"{self.what}: {each}"

    def command(self, which: str = "N") -> str:
        """The command that settles it."""
        return f"bevelbook merge --settle {in_command(self.name)} {which} --seen {self.seen}"

    @property
    def ways(self) -> str:
        """What may stand for N in the command."""
        both = f"; or both for N: {self.both}" if self.both else ""
        joined = "".join(f"; or {one.typed} for N: {one.words}" for one in self.with_others)
        return f"with {self.numbers('or')} for N{both}{joined}"

    def numbers(self, between: str) -> str:
        """The numbers of its versions: ``1, 2 and 3``."""
        return f"{', '.join(str(one.number) for one in self.versions[:-1])} {between} {self.versions[-1].number}"

    @property
    def choices(self) -> str:
        """All that may be chosen, in a sentence."""
        both = f"; or both, {self.both}" if self.both else ""
        joined = "".join(f"; or {one.typed}, {one.words}" for one in self.with_others)
        return f"{'; '.join(one.line for one in self.versions)}{both}{joined}"

    def lines(self) -> Iterator[str]:
        """The clash for people: what it is about, each version on a line, and the command that settles it."""
        yield from wrapped(f"clash: {self.heading}", indent="  ")
        for one in self.versions:
            yield from wrapped(one.line, indent="    ")
        yield f"    -> say which holds: {self.command()}"
        yield from wrapped(f"   {self.ways}", indent="    ")

    def as_dict(self) -> dict[str, Any]:
        """The clash for programs."""
        return {
            "record": self.kind.name,
            "id": self.row_id,
            "name": self.name,
            "about": self.what,
            "versions": [one._asdict() for one in self.versions],
            "both": self.both or None,
            "with_others": [{"number": one.number, "typed": one.typed, "words": one.words} for one in self.with_others],
            "seen": self.seen,
        }


def said_clashes(
    connection: sqlite3.Connection, found: Iterable[ClashFound] | None = None, *, today: date | None = None
) -> list[ClashSaid]:
    """All clashes, or these, in words, by kind in the order of their declaration, then by name."""
    known = list(clashes(connection) if found is None else found)
    said = [_said(connection, one, today or date.today()) for one in known]
    order = {name: place for place, name in enumerate(BY_NAME)}
    return sorted(said, key=lambda one: (order[one.kind.name], one.name, one.row_id))


def said_about(connection: sqlite3.Connection, kind: Kind, row_id: str) -> list[ClashSaid]:
    """The clashes of a record (by id) and of what is part of it."""
    found = [
        one
        for one in clashes(connection)
        if (one.kind.name, one.row_id) == (kind.name, row_id) or _belongs(one, kind, row_id)
    ]
    return said_clashes(connection, found)


def said_of_diff(connection: sqlite3.Connection, diff: str) -> list[ClashSaid]:
    """The clashes about one diff (by id)."""
    said = said_clashes(connection)
    subjects = subjects_of(connection, [_as_finding(one) for one in said])
    return [one for one in said if subjects[one.kind.table, one.row_id].diff == diff]


def clash_named(said: Sequence[ClashSaid], typed: str) -> ClashSaid:
    """The clash that a person names: as it is printed, by the name alone, or by the id of the record.

    Raises UnknownNameError, or InputError where several have that name.
    """
    wanted = _folded(typed)
    found = [one for one in said if wanted in (_folded(one.name), one.row_id)]
    found = found or [one for one in said if wanted == _folded(one.name.removeprefix(f"{_kind_words(one)} "))]
    if len(found) > 1:
        raise InputError(
            f"{len(found)} clashes have that name",
            code="ambiguous_name",
            found=typed,
            remedy="Name one as it is printed, or by its id: " + " or ".join(one.row_id for one in found) + ".",
        )
    if not found:
        known = "; ".join(one.name for one in said)
        listed = f"In clash: {known}." if said else "Nothing is in clash."
        raise UnknownNameError("clash", typed, [one.name for one in said], by_command=f"{listed} Nothing was changed.")
    return found[0]


def refuse_other_versions(clash: ClashSaid, seen: str | None) -> None:
    """Raise InputError where the versions of a clash are not those that somebody looked at, by their mark."""
    if seen is not None and seen != clash.seen:
        now = "; ".join(one.line for one in clash.versions)
        raise InputError(
            f"the clash of {clash.name} has changed since it was looked at",
            code="clash_changed",
            remedy=f"Now it is: {now}. Look at it again; nothing was settled.",
        )


def _by_first_author(connection: sqlite3.Connection, found: ClashFound) -> ClashFound:
    """The clash with each version that only a taking back wrote again under the name of who wrote it first."""
    took_back = {
        row[0]
        for row in connection.execute(
            "SELECT id FROM entries WHERE took_back IS NOT NULL AND id IN (SELECT value FROM json_each(?)) ORDER BY id",
            (json.dumps([one.entry for one in found.heads if one.entry]),),
        )
    }
    if not took_back or not found.kind.own:
        return found
    known = known_records(connection, found.kind, [found.row_id])[found.row_id].versions.values()
    heads = []
    for head in found.heads:
        first = head
        if head.entry in took_back:
            same = [one for one in known if _is_same(found.kind, one.content, head.content)]
            first = with_author(connection, head._replace(version=min(same, key=lambda one: one.key).version))
        heads.append(first._replace(version=head.version))
    return found._replace(heads=tuple(heads))


def _by_author_of_value(connection: sqlite3.Connection, found: ClashFound) -> ClashFound:
    """The clash with each version under the name of who first wrote its value, where one field differs."""
    if found.why != "changed" or len(found.differing) != 1:
        return found
    return found._replace(
        heads=tuple(
            head if author is None else author._replace(version=head.version)
            for head in found.heads
            for author in [_author_of(connection, found, head, found.differing[0])]
        )
    )


def _author_of(
    connection: sqlite3.Connection, found: ClashFound, head: ClashVersion, column: str
) -> ClashVersion | None:
    """A version as whoever first wrote its value of a column; None where that is its own author, or nobody is known."""
    first = found.written_by.get((head.version, column), head.version)
    if first == head.version:
        return None
    author = with_author(connection, head._replace(version=first, made_by=None, made_at=None, entry=None))
    return author if author.made_by and author.made_by != head.made_by else None


def _is_same(kind: Kind, one: Content | None, other: Content | None) -> bool:
    if one is None or other is None:
        return one is other
    return comparable(kind, one) == comparable(kind, other)


def _said(connection: sqlite3.Connection, found: ClashFound, today: date) -> ClashSaid:
    found = _by_author_of_value(connection, _by_first_author(connection, found))
    living = [one for one in found.heads if one.content is not None]
    name = record_words(connection, found.kind, found.row_id, living[0].content if living else None)
    fields = {field.name: field for field in found.kind.fields}
    differing = [fields[column] for column in found.differing if column in fields]
    values = [_values(connection, field, found) for field in differing]
    versions = tuple(
        VersionSaid(
            number,
            *_version_words(connection, found, head, place, differing, values),
            _who(head),
            _when(head.made_at, today),
            place == 0,
            head.content is None,
        )
        for place, (number, head) in enumerate(zip(range(1, len(found.heads) + 1), found.heads, strict=True))
    )
    return ClashSaid(
        found.kind,
        found.row_id,
        name,
        _what(connection, found, differing),
        versions,
        _both_words(connection, found, differing),
        mark_of(found),
        tuple(_with_others(connection, found)),
    )


def mark_of(found: ClashFound) -> str:
    """Four letters made from the versions of a clash: others where another version has come."""
    from hashlib import sha256

    return sha256("\n".join(sorted(one.version for one in found.heads)).encode()).hexdigest()[:_MARK_LETTERS]


def _both_words(connection: sqlite3.Connection, found: ClashFound, differing: Sequence[Field]) -> str:
    """What would hold if each side's change did; empty where that cannot be, or is what one side says anyway."""
    content = both_hold(found)
    if content is None:
        return ""
    values = {field.name: content.get(field.name) for field in differing}
    sides = {_side(found, name, value).version for name, value in values.items()}
    return _fields_said(connection, found, differing, values) if len(sides) > 1 else ""


def _with_others(connection: sqlite3.Connection, found: ClashFound) -> Iterator[WithOthersSaid]:
    """The versions that may be kept with what the others changed; of those that come to the same the first."""
    if found.why == "needed" or both_hold(found) is not None:
        return
    fields = {field.name: field for field in found.kind.fields}
    seen: list[Content] = []
    for number, head in found.numbered:
        content = with_others(found, number)
        if content is None or head.content is None or any(_is_same(found.kind, content, one) for one in seen):
            continue
        seen.append(content)
        other = [fields[name] for name in found.newest if name in fields]
        added = [field for field in other if content.get(field.name) != head.content.get(field.name)]
        own = [fields[name] for name in found.disputed if name in fields]
        its_own = _fields_said(connection, found, own, head.content, head) if own else f"version {number} kept"
        yield WithOthersSaid(number, its_own, _fields_said(connection, found, added, content))


def _fields_said(
    connection: sqlite3.Connection,
    found: ClashFound,
    fields: Sequence[Field],
    content: Mapping[str, Any],
    head: ClashVersion | None = None,
) -> str:
    """Fields with their values, each with who wrote it: ``dry mass 46.13 g (anna) and note notchy (bo)``."""
    said = []
    for field in fields:
        value = content.get(field.name)
        side = head or _side(found, field.name, value)
        author = _author_of(connection, found, side, field.name) or side
        said.append(f"{field_words(field)} {_cut(content_value(connection, field, value))} ({_who(author)})")
    return ", ".join(said[:-1]) + (" and " if said[:-1] else "") + said[-1]


def _side(found: ClashFound, column: str, value: object) -> ClashVersion:
    """The version that has a value: the one whose value stands, else the first that says the same."""
    place = found.newest.get(column)
    if place is not None:
        return found.heads[place]
    return next(one for one in found.heads if one.content is not None and one.content.get(column) == value)


def _what(connection: sqlite3.Connection, found: ClashFound, differing: Sequence[Field]) -> str:
    """What a clash is about: the fields that two changed to different values, else all in which the versions differ."""
    removers = " and ".join(dict.fromkeys(_who(one) for one in found.heads if one.content is None))
    changers = " and ".join(dict.fromkeys(_who(one) for one in found.heads if one.content is not None))
    if found.why == "needed":
        return f"removed by {removers or _SOMEBODY}, but {_needed_by(connection, found)}"
    asked = [field for field in differing if field.name in found.disputed]
    fields = ", ".join(field_words(field) for field in (asked if asked and found.why == "changed" else differing))
    if found.why == "removed":
        also = f"; and {fields}" if fields else ""
        return f"changed by {changers or _SOMEBODY}, removed by {removers or _SOMEBODY}{also}"
    return fields or "what belongs to it"


def _needed_by(connection: sqlite3.Connection, found: ClashFound) -> str:
    uses = sorted({(one.kind.name, one.row_id) for one in users_of(connection, {found.kind.table: {found.row_id}})})
    named = [record_words(connection, BY_NAME[name], row_id) for name, row_id in uses[:_NAMED]]
    more = f" and {len(uses) - _NAMED} more" if len(uses) > _NAMED else ""
    if not named:
        return "another record needs it"
    return f"{' and '.join(named)}{more} {'needs' if len(uses) == 1 else 'need'} it"


def _version_words(
    connection: sqlite3.Connection,
    found: ClashFound,
    head: ClashVersion,
    place: int,
    differing: Sequence[Field],
    values: Sequence[Sequence[str]],
) -> tuple[str, str]:
    """What a version says: where one field differs its value; and the same in full."""
    if head.content is None:
        words = "kept, as it is needed" if found.why == "needed" and place == 0 else "removed"
        return words, words
    said, kept = [], []
    for field, texts in zip(differing, values, strict=True):
        if _is_as_before(found, head, field):
            kept.append(f"{field_words(field)} {texts[place]}")
        else:
            said.append(f"{field_words(field)} {texts[place]}{_written_by(connection, found, head, field)}")
    said += [f"as before {', '.join(kept)}"] if kept else []
    if found.why == "removed" and not said:
        said = list(_since_before(connection, found, head.content))
    full = "; ".join(said) or "as it is"
    if found.why != "changed":
        full = ", ".join(["kept", *said])
    return (values[0][place] if len(differing) == 1 and found.why == "changed" else full), full


def _is_as_before(found: ClashFound, head: ClashVersion, field: Field) -> bool:
    """Whether a version has left a field as it was before they parted, beside others that it changed."""
    if found.before is None or head.content is None or found.why != "changed" or len(found.differing) == 1:
        return False
    said, before = comparable(found.kind, head.content), comparable(found.kind, found.before)
    return bool(said.get(field.name) == before.get(field.name))


def _written_by(connection: sqlite3.Connection, found: ClashFound, head: ClashVersion, field: Field) -> str:
    """Who wrote a value of a version, where that is somebody else, and somebody changed it since they parted."""
    value, before = (head.content or {}).get(field.name), (found.before or {}).get(field.name)
    if len(found.differing) == 1 or (found.before is not None and value == before):
        return ""
    author = _author_of(connection, found, head, field.name)
    return f" ({_who(author)})" if author else ""


def _since_before(connection: sqlite3.Connection, found: ClashFound, content: Mapping[str, Any]) -> Iterator[str]:
    before = found.before
    for field in found.kind.fields if before else ():
        if content.get(field.name) != (before or {}).get(field.name):
            yield f"{field_words(field)} {_cut(content_value(connection, field, content.get(field.name)))}"


def _values(connection: sqlite3.Connection, field: Field, found: ClashFound) -> list[str]:
    """The values of a field in each version; those that read alike but are not, exactly."""
    raw = [(one.content or {}).get(field.name) for one in found.heads]
    texts = _where_they_differ([content_value(connection, field, value) for value in raw])
    if len(set(texts)) == len({repr(value) for value in raw}):
        return texts
    return [
        text if value is None else f"{text} ({str(value)[-6:] if field.kind == 'reference' else repr(value)})"
        for text, value in zip(texts, raw, strict=True)
    ]


def _cut(text: str) -> str:
    """A text on one line, cut where it is long."""
    plain = " ".join(text.split())
    return plain if len(plain) <= _LONG else f"{plain[:_LONG]} …"


def _where_they_differ(texts: Sequence[str]) -> list[str]:
    """Long texts each from a little before the first letter in which they differ, on one line."""
    plain = [" ".join(one.split()) for one in texts]
    if max(map(len, plain)) <= _LONG:
        return plain
    start = max(0, _in_common(plain) - _BEFORE)
    return [
        f"{'… ' if start else ''}{one[start : start + _LONG]}{' …' if len(one) > start + _LONG else ''}"
        for one in plain
    ]


def _in_common(texts: Sequence[str]) -> int:
    """With how many equal letters texts begin."""
    shortest = min(map(len, texts))
    return next((place for place in range(shortest) if len({one[place] for one in texts}) > 1), shortest)


def author_words(version: ClashVersion, today: date) -> str:
    """Who wrote a version and when: ``bo, 3 May 12:10``."""
    return _by(_who(version), _when(version.made_at, today))


def _by(who: str, when: str) -> str:
    return ", ".join(part for part in (who, when) if part)


def _who(version: ClashVersion) -> str:
    if version.made_by:
        return version.made_by
    return _SOMEBODY if version.entry else _ANOTHER_PROGRAM


def _when(instant: str | None, today: date) -> str:
    at = local_time(instant) if instant else None
    if at is None:
        return instant or ""
    return f"{day_in_words(at.date().isoformat(), beside=today.isoformat())} {at:%H:%M}"


def _belongs(found: ClashFound, kind: Kind, row_id: str) -> bool:
    column = _BELONGS.get(found.kind.name)
    if column is None or found.kind.field(column).target != kind.name:
        return False
    return any((one.content or {}).get(column) == row_id for one in found.heads)


def _as_finding(one: ClashSaid) -> Finding:
    return Finding(
        code="clash",
        severity="caution",
        words=one.what,
        remedy=one.command(),
        subject_table=one.kind.table,
        subject_id=one.row_id,
        subject_label=one.name,
    )


def _kind_words(one: ClashSaid) -> str:
    return one.kind.name.replace("_", " ")


def _folded(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").split())
