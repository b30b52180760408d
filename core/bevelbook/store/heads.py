"""The versions of one record as a graph: which of them no later one follows, which is shown, and whether they clash.

Everything here is a function of the versions alone, so that every laptop that has the same versions shows the same.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Sequence
from typing import Any, Final, Literal, NamedTuple

from bevelbook.kept_json import object_in
from bevelbook.records import Kind
from bevelbook.store.versions import LABELLED, PLACED

Content = dict[str, Any]
Why = Literal["changed", "removed", "needed"]
_NO_TIME: Final = ""


class Version(NamedTuple):
    """One version of a record: its content, None where it is a removal, and the versions that it followed."""

    version: str
    parents: frozenset[str]
    content: Content | None

    @property
    def at(self) -> str:
        """When it was written; empty for a removal."""
        return _NO_TIME if self.content is None else str(self.content.get("updated_at") or _NO_TIME)

    @property
    def key(self) -> tuple[str, str]:
        """Its place among versions that nothing else orders: by time, then by id."""
        return self.at, self.version


class Standing(NamedTuple):
    """What follows from the versions of a record.

    ``heads`` are the versions that no known one follows, in order; ``shown`` is the one that holds, None where the
    record is removed. ``why`` is set where they clash, and ``differing`` are the columns in which the living ones do.
    """

    heads: tuple[Version, ...]
    shown: Version | None
    why: Why | None
    differing: tuple[str, ...]


def heads_of(versions: Collection[Version]) -> list[Version]:
    """The versions that no other one names among its parents, by key. Parents that are not there are no fault."""
    followed = {parent for one in versions for parent in one.parents if parent != one.version}
    heads = [one for one in versions if one.version not in followed]
    return sorted(heads or versions, key=lambda one: one.key)


def in_order(versions: Iterable[Version]) -> list[Version]:
    """All versions, each after those that it followed; of those that may come next first the earlier, then the lesser.

    >>> one, two = Version("b", frozenset(), {}), Version("a", frozenset({"b"}), {})
    >>> [each.version for each in in_order([two, one])]
    ['b', 'a']
    """
    by_id = {one.version: one for one in versions}
    waits = {
        one.version: {parent for parent in one.parents if parent in by_id} - {one.version} for one in by_id.values()
    }
    followers: dict[str, list[str]] = {}
    for version, parents in waits.items():
        for parent in parents:
            followers.setdefault(parent, []).append(version)
    free = [one.key for one in by_id.values() if not waits[one.version]]
    heapq.heapify(free)
    found: list[Version] = []
    while len(found) < len(by_id):
        if not free:  # each of the rest follows another of the rest: nothing that this program writes does
            heapq.heappush(free, min(by_id[version].key for version, parents in waits.items() if parents))
        _, version = heapq.heappop(free)
        waits[version] = set()
        found.append(by_id[version])
        for follower in followers.get(version, ()):
            if waits[follower]:
                waits[follower].discard(version)
                if not waits[follower]:
                    heapq.heappush(free, by_id[follower].key)
    return found


def may_be_derived(kind: Kind) -> frozenset[str]:
    """The columns of a kind that follow from other rows where notes made the record."""
    placed = PLACED.get(kind.name, frozenset())
    return placed | {kind.label or "id"} if kind.name in LABELLED else placed


def derived_columns(kind: Kind, content: Content) -> frozenset[str]:
    """The columns of a record's content that follow from other rows: of a record from notes what placing sets and the
    counted label, but for what a person typed."""
    if not content.get("note_file"):
        return frozenset()
    derived = may_be_derived(kind)
    entered = content.get("entered")
    typed = object_in(entered) if derived and isinstance(entered, str) else None
    return derived - typed.keys() if typed else derived


def comparable(kind: Kind, content: Content) -> Content:
    """What two versions are compared by: the declared columns that are filled, without those that follow from other
    rows."""
    aside = derived_columns(kind, content)
    return {name: value for name in kind.columns if (value := content.get(name)) is not None and name not in aside}


def same_content(kind: Kind, one: Content, other: Content) -> bool:
    """Whether two contents say the same in all that people write."""
    return comparable(kind, one) == comparable(kind, other)


def shown_of(heads: Sequence[Version]) -> Version | None:
    """The living head with the latest time, then the greater id; None where all are removals."""
    return max((one for one in heads if one.content is not None), key=lambda one: one.key, default=None)


def differing(kind: Kind, contents: Sequence[Content]) -> tuple[str, ...]:
    """The declared columns in which contents differ."""
    compared = [comparable(kind, one) for one in contents]
    return tuple(name for name in kind.columns if any(one.get(name) != compared[0].get(name) for one in compared[1:]))


def standing(kind: Kind, versions: Collection[Version]) -> Standing:
    """What follows from all known versions of a record."""
    heads = heads_of(versions)
    living = [one.content for one in heads if one.content is not None]
    columns = differing(kind, living) if len(living) > 1 else ()
    why: Why | None = None
    if living and len(living) < len(heads):
        why = "removed"
    elif columns:
        why = "changed"
    return Standing(tuple(heads), shown_of(heads), why, columns)


def last_living(versions: Collection[Version]) -> Version | None:
    """The last content of a record that is removed: of the versions that no later content followed the latest."""
    living = [one for one in versions if one.content is not None]
    return shown_of(heads_of(living)) if living else None
