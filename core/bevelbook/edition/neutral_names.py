"""Names of people in what people wrote, found as whole words and replaced by words that name nobody: "driver 1".

Which number somebody gets follows from where they are first named in the edition, never from the name: whoever knows
the names of a team could else work out who is who.
"""

from __future__ import annotations

import sqlite3
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.edition.edition_rows import change_rows, json_of, texts_of
from bevelbook.edition.texts_in_json import with_texts
from bevelbook.reading.initials import letters_beside
from bevelbook.reading.names_in_texts import (
    TOKEN,
    KnownNames,
    any_of_keys,
    exact_key,
    initial_of,
    keys_of_name,
    keys_of_name_word,
    keys_of_word,
    keys_with_initial,
    parts_of_name,
    words_of,
)
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.common_names import common_words

NEUTRAL: Final = "driver"
_OPEN, _CLOSE = "\ue000", "\ue001"
_TOKEN: Final = late_pattern(f"{_OPEN}(\\d+){_CLOSE}")
_NUMBERED: Final = late_pattern(rf"\b{NEUTRAL} \d+\b")
_AROUND: Final = 18
_SAMPLES: Final = 3
_SHORTEST_INSIDE: Final = 4
_MOST_TO_LOOK_AT: Final = 40
_INITIALS: Final = late_pattern(
    r"(?<![^\W_])(?:[A-Z\u00c0-\u00de]\.[ \u00a0]?){2,4}|(?<![^\W_])[A-Z\u00c0-\u00de]{2,4}(?![^\W_])"
)
_LOOKS_LIKE: Final = (
    ("an e-mail address", late_pattern(r"(?<![^\s@<>\"',;])[^\s@<>\"',;]+@[^\s@<>\"',;]+\.[^\W\d_]{2,}")),
    ("a phone number", late_pattern(r"(?<![\w.,+])(?:\+|0)[ ()/\u00a0-]*(?:\d[ ()/\u00a0-]*){6,14}(?![\w]|[.,]\d)")),
)


class Spelled(NamedTuple):
    """How often one person is named, with some of the places; ``common`` where that is a word of everyday language or a
    name of somebody else too, ``inside`` how often it was left inside longer words, which are ``inside_words``."""

    name: str
    times: int
    samples: tuple[str, ...]
    common: bool
    inside: int
    inside_words: tuple[str, ...] = ()


class LooksPersonal(NamedTuple):
    """What is left in a text and may tell who somebody is or which day it was: what it looks like, where it stands, and
    it."""

    like: str
    where: str
    text: str


def people_of(source: sqlite3.Connection) -> list[tuple[str, ...]]:
    """The spellings of each person of a database: names now and before, other labels, and who is written as having
    changed, brought in or calculated something. Whoever is one with another is the same person."""
    stands = dict(source.execute("SELECT id, stands FROM main.one_with WHERE kind = 'person' ORDER BY id").fetchall())
    found: dict[str, set[str]] = {}
    asked = (
        "SELECT id, name FROM main.people UNION SELECT row_id, label FROM main.also_called WHERE table_name = 'people' "
        "UNION SELECT row_id, written FROM main.as_written WHERE table_name = 'people' AND column_name = 'name' "
        "UNION SELECT row_id, iif(json_valid(content), json_extract(content, '$.name'), NULL) FROM main.history "
        "WHERE table_name = 'people' AND content IS NOT NULL ORDER BY 1, 2"
    )
    for row_id, name in source.execute(asked).fetchall():
        if isinstance(name, str) and name.strip():
            found.setdefault(stands.get(row_id, row_id), set()).add(name.strip())
    owner = {_folded(name): person for person, names in sorted(found.items()) for name in sorted(names)}
    for name in sorted(_who_columns(source)):
        person = owner.setdefault(_folded(name), f"by {name}")
        found.setdefault(person, set()).add(name)
    merged: dict[str, set[str]] = {}
    for _, names in sorted(found.items()):
        one = min(owner[_folded(name)] for name in names)
        merged.setdefault(one, set()).update(names)
    return [tuple(sorted(names)) for _, names in sorted(merged.items())]


def _who_columns(source: sqlite3.Connection) -> Iterator[str]:
    asked = [f"SELECT DISTINCT updated_by AS who FROM main.{kind.table}" for kind in BY_NAME.values() if kind.own]
    asked += ["SELECT DISTINCT made_by FROM main.entries", "SELECT DISTINCT calculated_by FROM main.calculations"]
    asked.append(
        "SELECT DISTINCT iif(json_valid(content), json_extract(content, '$.updated_by'), NULL) FROM main.history "
        "WHERE content IS NOT NULL"
    )
    for one in asked:
        for (who,) in source.execute(one).fetchall():
            if isinstance(who, str) and who.strip():
                yield who.strip()


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


class NeutralNames:
    """Replaces names in a copy, and counts what it replaced."""

    def __init__(self, people: Sequence[tuple[str, ...]]) -> None:
        self._label = [names[0] for names in people]
        exact: dict[str, int] = {}
        whole: dict[str, int] = {}
        part: dict[str, int] = {}
        words: dict[str, int] = {}
        self._words: dict[int, set[str]] = {}
        self._shared: set[int] = set()
        for number, names in enumerate(people):
            for name in names:
                exact.setdefault(exact_key(name), number)
        for number, names in enumerate(people):
            for name in names:
                for key in keys_of_name(name):
                    whole.setdefault(key, number)
                for key in (key for one in parts_of_name(name) for key in keys_of_name_word(one)):
                    if part.setdefault(key, number) != number:
                        self._shared |= {number, part[key]}
                self._words.setdefault(number, set()).update(words_of(name))
            for key in keys_with_initial(names):
                if part.setdefault(key, number) != number:
                    self._shared |= {number, part[key]}
        for key, number in part.items():
            if whole.get(key, number) != number:
                self._shared |= {number, whole[key]}
        for known in (whole, part):
            for key, number in known.items():
                words.setdefault(key, number)
        self._initials = {
            initials: number
            for number, names in enumerate(people)
            for name in names
            if len(initials := "".join(word[0] for word in words_of(name) if word.isalpha()).upper()) > 1
        }
        self._single = {name for names in people for name in names if len(name) == 1}
        longest = max((len(words_of(name)) for names in people for name in names), default=1)
        self._known = KnownNames(exact.get, whole.get, part.get, longest)
        self._inside_of = words
        self._pattern_inside = any_of_keys(tuple(words), _SHORTEST_INSIDE)
        self._inside_known: dict[str, int | None] = {}
        self.counts: Counter[int] = Counter()
        self.lower: Counter[int] = Counter()
        self.samples: dict[int, list[str]] = {}
        self.inside: Counter[int] = Counter()
        self.inside_words: dict[int, list[str]] = {}
        self.to_look_at: list[LooksPersonal] = []

    def take_out_of(self, aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
        """Put a sign for each person in the place of their name, in every text of these kinds."""
        for kind in kinds:
            texts, in_json = texts_of(kind), json_of(kind)

            label = kind.label

            def change(
                row: dict[str, object],
                texts: tuple[str, ...] = texts,
                in_json: tuple[str, ...] = in_json,
                named: str = kind.name,
                label: str | None = label,
            ) -> None:
                for column in texts:
                    if isinstance(held := row[column], str):
                        row[column] = new = self.in_text(held)
                        self._look_at(new, named, row, label)
                for column in in_json:
                    if isinstance(held := row[column], str):
                        row[column] = with_texts(held, self.again_in_text if column == "entered" else self.in_text)

            change_rows(aside, kind, change)

    def again_in_text(self, text: str) -> str:
        """The same where the text stands elsewhere too: nothing is counted twice."""
        counted = self.counts, self.lower, self.samples, self.inside, self.inside_words
        self.counts, self.lower, self.samples, self.inside, self.inside_words = Counter(), Counter(), {}, Counter(), {}
        try:
            return self.in_text(text)
        finally:
            self.counts, self.lower, self.samples, self.inside, self.inside_words = counted

    def in_text(self, text: str) -> str:
        """The text with a sign in the place of each name."""
        text = text.replace(_OPEN, "").replace(_CLOSE, "")
        pieces: list[str] = []
        at = 0
        for found in self._known.found_in(text):
            spelled = text[found.start : found.end - len(found.ending)]
            if len(spelled) == 1 and spelled not in self._single:
                continue
            self._count(found.who, spelled, text, found.start, found.end)
            between = text[at : found.start]
            self._count_inside(between)
            pieces += [between, f"{_OPEN}{found.who}{_CLOSE}", "'s" if found.ending else ""]
            at = found.end
        self._count_inside(text[at:])
        return "".join((*pieces, text[at:]))

    def _count(self, number: int, spelled: str, text: str, start: int, end: int) -> None:
        self.counts[number] += 1
        self.lower[number] += spelled.islower()
        samples = self.samples.setdefault(number, [])
        if len(samples) < _SAMPLES:
            around = f"{text[max(0, start - _AROUND) : end]}{text[end:][:_AROUND]}"
            samples.append(around.replace("\n", " ").strip())

    def _count_inside(self, text: str) -> None:
        for token in TOKEN.finditer(text):
            word = token[0]
            if len(word) <= _SHORTEST_INSIDE:
                continue
            if word not in self._inside_known:
                found = next((one for key in keys_of_word(word) if (one := self._pattern_inside.search(key))), None)
                self._inside_known[word] = None if found is None else self._inside_of[found[0]]
            number = self._inside_known[word]
            if number is not None:
                self.inside[number] += 1
                words = self.inside_words.setdefault(number, [])
                if word not in words and len(words) < _MOST_TO_LOOK_AT:
                    words.append(word)

    def _look_at(self, text: str, kind: str, row: dict[str, object], label: str | None) -> None:
        """Note what may tell who somebody is without a name."""
        found = [(like, one[0].strip()) for like, pattern in _LOOKS_LIKE for one in pattern.finditer(text)]
        found += [("initials", one[0]) for one in _INITIALS.finditer(text) if _letters(one[0]) in self._initials]
        found += [
            ("an initial", one.text)
            for one in letters_beside(text, _TOKEN.pattern)
            if initial_of(one.letter) in map(initial_of, self._words[int(one.who)])
        ]
        for like, said in found:
            where = row.get(label) if label else None
            shown = f"{kind.replace('_', ' ')} {where or row['id']}"
            one = LooksPersonal(like, without_numbers(shown), without_numbers(said))
            if one not in self.to_look_at:
                self.to_look_at.append(one)

    def number(self, aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
        """Put the neutral words in the place of the signs, numbered as they come in these kinds' order of ids."""
        numbers: dict[str, int] = {}
        named = [(kind, (*texts_of(kind), *json_of(kind))) for kind in kinds]
        for kind, columns in named:
            if columns:
                asked = f"SELECT {', '.join(columns)} FROM {kind.table} ORDER BY id"
                for row in aside.execute(asked).fetchall():
                    for held in row:
                        for sign in _TOKEN.findall(held) if isinstance(held, str) and _OPEN in held else ():
                            numbers.setdefault(sign, len(numbers) + 1)
        words = _numbering(numbers)
        for kind, columns in named:

            def change(row: dict[str, object], columns: tuple[str, ...] = columns) -> None:
                for column in columns:
                    held = row[column]
                    if isinstance(held, str) and _OPEN in held:
                        row[column] = words(held)

            change_rows(aside, kind, change)

    def said(self) -> list[Spelled]:
        """Every person that was named, those whose name is a word as well first, then the most often named."""
        common = common_words()
        found = [
            Spelled(
                self._label[number],
                self.counts[number],
                tuple(self.samples.get(number, ())),
                self._is_common(number, common),
                self.inside[number],
                tuple(self.inside_words.get(number, ())),
            )
            for number in range(len(self._label))
            if self.counts[number] or self.inside[number]
        ]
        return sorted(found, key=lambda one: (not one.common, -one.times, one.name))

    def _is_common(self, number: int, common: frozenset[str]) -> bool:
        is_capital = self._label[number][:1].isupper()
        is_word = any(word in common or len(word) == 1 for word in self._words[number])
        return is_word or number in self._shared or (is_capital and self.lower[number] > 0)


def _letters(initials: str) -> str:
    return "".join(sign for sign in initials if sign.isalpha())


def _numbering(numbers: dict[str, int]) -> Callable[[str], str]:
    return lambda text: _TOKEN.sub(lambda found: f"{NEUTRAL} {numbers[found[1]]}", text)


def without_numbers(text: str) -> str:
    """A text in which nobody has a number yet: what puts records in an order must not rest on it."""
    return _NUMBERED.sub(NEUTRAL, _TOKEN.sub(NEUTRAL, text))
