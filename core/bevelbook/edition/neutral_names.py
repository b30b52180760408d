"""Names of people in what people wrote, found as whole words and replaced by words that name nobody: "driver 1".

Which number somebody gets follows from where they are first named in the edition, never from the name: whoever knows
the names of a team could else work out who is who.
"""

from __future__ import annotations

import re
import sqlite3
import unicodedata
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import product
from typing import Final, NamedTuple

from bevelbook.edition.edition_rows import change_rows, json_of, texts_of
from bevelbook.edition.texts_in_json import with_texts
from bevelbook.records import BY_NAME, Kind
from bevelbook.store.common_names import common_words

NEUTRAL: Final = "driver"
_OPEN, _CLOSE = "\ue000", "\ue001"
_TOKEN: Final = re.compile(f"{_OPEN}(\\d+){_CLOSE}")
_NUMBERED: Final = re.compile(rf"\b{NEUTRAL} \d+\b")
_WORD: Final = re.compile(r"[^\W\d_]+")
_AROUND: Final = 18
_SAMPLES: Final = 3
_SHORTEST_INSIDE: Final = 4
_SHORT_NAME: Final = 3
"""Of a name with so few letters nothing is guessed twice: Joe is Jö at most, not Jo."""
_TWO_LETTERS: Final = {
    "ä": "ae",
    "ö": "oe",
    "ü": "ue",
    "ß": "ss",
    "Ä": "Ae",
    "Ö": "Oe",
    "Ü": "Ue",
    "ẞ": "SS",
    "å": "aa",
    "ø": "oe",
    "æ": "ae",
    "œ": "oe",
    "Å": "Aa",
    "Ø": "Oe",
    "Æ": "Ae",
    "Œ": "Oe",
}
_ONE_LETTER: Final = {"ae": "ä", "oe": "ö", "ue": "ü", "ss": "ß"}
_PAIR: Final = re.compile("|".join(_ONE_LETTER))
_MOST_PAIRS: Final = 4
_PLAIN: Final = {"ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d", "Đ": "D", "ı": "i"}
"""Letters with a stroke, which are not a letter and a mark."""
_SMALL_WORDS: Final = frozenset(
    {"a", "and", "da", "de", "del", "der", "di", "dos", "du", "el", "la", "le", "of", "the"}
)
_SMALL_WORDS_OF_NAMES: Final = _SMALL_WORDS | {"van", "von", "zu", "bin", "ibn", "jr", "sr"}


class Spelled(NamedTuple):
    """How often one person is named, with some of the places; ``common`` where that is a word of everyday language too,
    ``inside`` how often it was left inside longer words."""

    name: str
    times: int
    samples: tuple[str, ...]
    common: bool
    inside: int


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


def _spellings(names: Iterable[str]) -> Iterator[str]:
    """The names as they may stand in a text: each as it is, composed and decomposed, without marks, with two letters
    for one, its words alone."""
    for name in names:
        words = _WORD.findall(name)
        alone = (
            word for word in words if len(words) > 1 and len(word) > 2 and word.casefold() not in _SMALL_WORDS_OF_NAMES
        )
        for one in (name, *alone):
            for spelled in _with_letters(unicodedata.normalize("NFC", one)):
                split = unicodedata.normalize("NFD", spelled)
                yield from (spelled, split)
                if spelled.casefold() == unicodedata.normalize("NFC", one).casefold() or len(spelled) > _SHORT_NAME:
                    plain = "".join(sign for sign in split if not unicodedata.combining(sign))
                    yield "".join(_PLAIN.get(sign, sign) for sign in plain)


def _with_letters(name: str) -> Iterator[str]:
    """A name as it is, with two letters for one that a keyboard may not have, and with that one for the two; of a long
    name, in which that may be in many ways, all of them or none.

    >>> sorted(_with_letters("Jörg")), sorted(_with_letters("Joerg"))
    (['Joerg', 'Jörg'], ['Joerg', 'jörg'])
    """
    yield name
    two = "".join(_TWO_LETTERS.get(sign, sign) for sign in name)
    if two != name:
        yield two
    folded = name.casefold()
    places = list(_PAIR.finditer(folded))
    if not places:
        return
    for chosen in (
        product((False, True), repeat=len(places)) if len(places) <= _MOST_PAIRS else ((True,) * len(places),)
    ):
        made, at = "", 0
        for found, is_one in zip(places, chosen, strict=True):
            made += folded[at : found.start()] + (_ONE_LETTER[found[0]] if is_one else found[0])
            at = found.end()
        if any(chosen):
            yield made + folded[at:]


class NeutralNames:
    """Replaces names in a copy, and counts what it replaced."""

    def __init__(self, people: Sequence[tuple[str, ...]]) -> None:
        self._person: dict[str, int] = {}
        self._label = [names[0] for names in people]
        exact: set[str] = set()
        for number, names in enumerate(people):
            for name in names:
                self._person.setdefault(unicodedata.normalize("NFC", name).casefold(), number)
        for number, names in enumerate(people):
            for spelled in _spellings(names):
                self._person.setdefault(spelled.casefold(), number)
                self._person.setdefault(spelled.lower(), number)
                if len(spelled) == 1:
                    exact.add(spelled)
        self._exact = exact
        known = sorted(self._person, key=lambda one: (-len(one), one))
        either = "|".join(map(_at_words, known)) or r"(?!)"
        self._pattern = re.compile(rf"(?:{either})(?P<of>['’]s?|s)?(?![^\W\d_])", re.IGNORECASE)
        self._inside = {
            number: re.compile(
                "|".join(
                    re.escape(one) for one in known if self._person[one] == number and len(one) >= _SHORTEST_INSIDE
                )
                or r"(?!)",
                re.IGNORECASE,
            )
            for number in range(len(people))
        }
        self.counts: Counter[int] = Counter()
        self.lower: Counter[int] = Counter()
        self.samples: dict[int, list[str]] = {}
        self.inside: Counter[int] = Counter()

    def take_out_of(self, aside: sqlite3.Connection, kinds: Sequence[Kind]) -> None:
        """Put a sign for each person in the place of their name, in every text of these kinds."""
        for kind in kinds:
            texts, in_json = texts_of(kind), json_of(kind)

            def change(
                row: dict[str, object], texts: tuple[str, ...] = texts, in_json: tuple[str, ...] = in_json
            ) -> None:
                for column in texts:
                    if isinstance(held := row[column], str):
                        row[column] = self.in_text(held)
                for column in in_json:
                    if isinstance(held := row[column], str):
                        row[column] = with_texts(held, self.again_in_text if column == "entered" else self.in_text)

            change_rows(aside, kind, change)

    def again_in_text(self, text: str) -> str:
        """The same where the text stands elsewhere too: nothing is counted twice."""
        counted = self.counts, self.lower, self.samples, self.inside
        self.counts, self.lower, self.samples, self.inside = Counter(), Counter(), {}, Counter()
        try:
            return self.in_text(text)
        finally:
            self.counts, self.lower, self.samples, self.inside = counted

    def in_text(self, text: str) -> str:
        """The text with a sign in the place of each name."""
        text = text.replace(_OPEN, "").replace(_CLOSE, "")
        changed = self._pattern.sub(lambda found: self._sign(found, text), text)
        for number, pattern in self._inside.items():
            if found := pattern.findall(changed):
                self.inside[number] += len(found)
        return changed

    def _sign(self, found: re.Match[str], text: str) -> str:
        whole, ending = found[0], found["of"] or ""
        name = whole[: len(whole) - len(ending)]
        number = self._person.get(name.casefold(), self._person.get(name.lower()))
        if number is None or (len(name) == 1 and name not in self._exact):
            return whole
        self.counts[number] += 1
        self.lower[number] += name.islower()
        samples = self.samples.setdefault(number, [])
        if len(samples) < _SAMPLES:
            before, after = text[max(0, found.start() - _AROUND) : found.start()], text[found.end() :][:_AROUND]
            samples.append(f"{before}{whole}{after}".replace("\n", " ").strip())
        return f"{_OPEN}{number}{_CLOSE}" + ("'s" if ending in ("s", "'s", "’s") else ending)

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
            )
            for number in range(len(self._label))
            if self.counts[number] or self.inside[number]
        ]
        return sorted(found, key=lambda one: (not one.common, -one.times, one.name))

    def _is_common(self, number: int, common: frozenset[str]) -> bool:
        spelled = [one for one, person in self._person.items() if person == number]
        is_capital = self._label[number][:1].isupper()
        return any(one in common or len(one) == 1 for one in spelled) or (is_capital and self.lower[number] > 0)


def _at_words(name: str) -> str:
    """A pattern for a name where it is a word of its own; behind or before a digit it may be one."""
    before = r"(?<![^\W_])" if name[:1].isdigit() else r"(?<![^\W\d_])"
    after = r"(?!\d)" if name[-1:].isdigit() else ""
    return rf"{before}{re.escape(name)}{after}"


def _numbering(numbers: dict[str, int]) -> Callable[[str], str]:
    return lambda text: _TOKEN.sub(lambda found: f"{NEUTRAL} {numbers[found[1]]}", text)


def without_numbers(text: str) -> str:
    """A text in which nobody has a number yet: what puts records in an order must not rest on it."""
    return _NUMBERED.sub(NEUTRAL, _TOKEN.sub(NEUTRAL, text))
