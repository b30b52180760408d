"""The names that an import adds: the oils, venues, people, diffs and cars that no row had before, each with the known
names that it may be another spelling of. They are kept apart; whether two are one only a person can say."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.counting import plural
from bevelbook.declare.errors import shown
from bevelbook.notes.bulk import Bulk
from bevelbook.reading.look_alikes import look_alikes
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import labels_of

_CALLED: Final = {
    "diff": ("diff", "diffs"),
    "fluid": ("oil", "oils"),
    "bottle": ("bottle", "bottles"),
    "person": ("person", "people"),
    "car": ("car", "cars"),
    "venue": ("venue", "venues"),
}
_MOST: Final = 8
"""Names of a kind, and questions, that are said."""
_COMPARED: Final = 50
"""So many new names of a kind are compared with the known ones, since each is held against all of them."""
_SHORTEST_SLIP: Final = 4
"""A shorter word is not taken for another one: front-a and front-b are two diffs."""
_NEAR_WORD: Final = 0.75
"""How alike two words are of which one is a slip of the pen, as a share of their letters (difflib's ratio)."""
_WORD: Final = re.compile(r"[^\W_]+")
_DIGITS: Final = re.compile(r"\d+")


class NewName(NamedTuple):
    """A name that is added: the kind of its record, the line that has it first, and the known names that are like it.

    A bottle is named by its mark alone, which bottles of other oils may have too: none is like it.
    """

    kind: str
    label: str
    line: int
    like: tuple[str, ...] = ()


def new_names(bulk: Bulk) -> tuple[NewName, ...]:
    """What a bulk added, or would add, kind by kind, in the order of the lines."""
    found: list[NewName] = []
    for kind in _CALLED:
        added = sorted((line, _label(key)) for one, key, line in bulk.new_names if one == kind)
        labels = dict.fromkeys(label for _, label in added)
        if not added or kind == "bottle":
            found += [NewName(kind, label, line) for line, label in added]
            continue
        held = [label for label in labels_of(bulk.connection, BY_NAME[kind]) if label not in labels]
        for number, (line, label) in enumerate(added):
            like = names_like(label, held) if number < _COMPARED else []
            found.append(NewName(kind, label, line, tuple(like)))
    return tuple(found)


def names_like(name: str, known: Sequence[str]) -> list[str]:
    """The known names that a new one may be another spelling of: drawn alike, with a word more or less, or with a slip
    of the pen. Names with other numbers are none.

    >>> names_like("5k", ["tin 5k", "tin 7k", "15k"]), names_like("Tannery hall", ["Tannery Hall"])
    (['tin 5k'], ['Tannery Hall'])
    >>> names_like("jorris", ["joris", "ana"]), names_like("K-03", ["K-01"]), names_like("front-b", ["front-a"])
    (['joris'], [], [])
    """
    alike = [one for group in look_alikes((name, *known)) if name in group for one in group if one != name]
    digits, words = _DIGITS.findall(name), _words(name)
    near = (one for one in known if one not in alike and _DIGITS.findall(one) == digits)
    return [*alike, *(one for one in near if _are_near(words, _words(one)))][:_MOST]


def new_name_lines(names: Iterable[NewName]) -> Iterator[str]:
    """What is added by name, a sentence for each kind, and a question for each name that is like a known one."""
    listed = [*names]
    for kind, called in _CALLED.items():
        labels = [one.label for one in listed if one.kind == kind]
        if labels:
            more = f" and {len(labels) - _MOST} more" if len(labels) > _MOST else ""
            yield f"New {called[len(labels) > 1]}: {', '.join(map(_plain, labels[:_MOST]))}{more}."
    asked = [one for one in listed if one.like]
    for one in asked[:_MOST]:
        like = " or ".join(map(shown, one.like[:2]))
        yield (
            f"Is {shown(one.label)} in line {one.line} the {_CALLED[one.kind][0]} {like} that the book has? "
            "Then stop, write it the same way in the file, and bring that in."
        )
    if len(asked) > _MOST:
        left = len(asked) - _MOST
        yield f"{left} more new {plural(left, 'name')} {'is' if left == 1 else 'are'} like one that the book has."


def _words(name: str) -> list[str]:
    return _WORD.findall(name.casefold())


def _are_near(words: Sequence[str], known: Sequence[str]) -> bool:
    """Whether one has all the words of the other, or each word is that of the other or a slip of the pen for it."""
    one, other = set(words), set(known)
    if one and other and (one <= other or one >= other):
        return True
    return len(words) == len(known) and all(map(_is_slip, words, known))


def _is_slip(word: str, known: str) -> bool:
    from difflib import SequenceMatcher

    is_long = min(len(word), len(known)) >= _SHORTEST_SLIP
    return word == known or (is_long and SequenceMatcher(None, word, known).ratio() >= _NEAR_WORD)


def _plain(name: str) -> str:
    """A name as it stands in a list; in quotes where it could be read as two."""
    return shown(name) if "," in name or shown(name) != f'"{name}"' else name


def _label(key: str | tuple[str, str]) -> str:
    return key if isinstance(key, str) else key[0]
