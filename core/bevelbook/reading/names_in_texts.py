"""How a name is written in a text, and where it stands in one: the one rule for editions and for what is erased.

A team mate writes a whole name or a part of it, in capitals or not, with or without the marks on its letters, with two
letters for one that a keyboard lacks, with an s behind it, and with initials of the other words before or behind it.
Words are compared by keys: the keys of a name are all that it may be written as, those of a word in a text are the word
itself and the word in plain letters.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import product
from typing import Final, Generic, NamedTuple, TypeVar
from unicodedata import combining, normalize

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.initials import end_of_initial, is_initial_after, is_initial_before
from bevelbook.reading.labels import folded_label

_Who = TypeVar("_Who")
_MARKS: Final = "\u0300-\u036f"
_UNSEEN: Final = "\u00ad\u200b-\u200d\u2060\ufeff"
"""Signs inside a word that nobody sees: a soft hyphen, joiners, a mark of the order of bytes."""
TOKEN: Final = late_pattern(rf"[^\W\d_](?:[^\W\d_]|[{_MARKS}{_UNSEEN}])*|\d+")
"""Letters, with accents behind them, or digits: what a name is made of."""
_HYPHENED: Final = late_pattern(r"(?<![^\W\d_])[^\W\d_]+(?:[-\u2010\u2011][^\W\d_]+)+")
_NOT_SEEN: Final = late_pattern(f"[{_UNSEEN}]")
_FARTHEST: Final = 3
"""Signs that may stand between the words of a name."""
_TWO_LETTERS: Final = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "å": "aa", "ø": "oe", "æ": "ae", "œ": "oe", "þ": "th"}
)
"""DIN 5007-2 for ä, ö, ü, ß; ICAO Doc 9303 part 3, section 6, for the others (both from memory). Which marks a letter
has, and that letter without them, is of Unicode (``unicodedata``, canonical decomposition)."""
_PLAIN: Final = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ð": "d", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})
"""Letters with a stroke, which are not a letter and a mark (ICAO Doc 9303, from memory; ø by common practice, no
source)."""
_PAIR: Final = late_pattern("ae|oe|ue|aa")
_ONE_LETTER: Final = {"ae": "a", "oe": "o", "ue": "u", "aa": "a"}
_MOST_PAIRS: Final = 4
_SHORT_NAME: Final = 3
"""Of a name with so few letters nothing is guessed twice: Joe is not Jo."""
_MOST_KEYS: Final = 64
_MOST_KEPT: Final = 200_000
"""Words, and words in a row, of which is kept whether they are a name."""
_STEM_LETTERS: Final = 3
"""Letters that a name needs for ``annas`` to be taken for Anna's."""
_CAPITAL_LETTERS: Final = 2
"""Letters of a name that is taken only where it begins with a capital, alone or as ``Bos``."""
_SMALL_WORDS_LIST: Final = """
a an and al da das de del dem den der di dos du el la le les los of the van von zu zum zur bin ibn jr sr st
ten ter
"""
SMALL_WORDS: Final = frozenset(_SMALL_WORDS_LIST.split())
"""Words of names that name nobody by themselves."""


def _bare(word: str) -> str:
    return normalize("NFC", _NOT_SEEN.sub("", word)).casefold()


def _without_marks(word: str) -> str:
    return "".join(sign for sign in normalize("NFD", word) if not combining(sign))


def forms_of(text: str) -> tuple[str, ...]:
    """A text with two letters for one, and in plain letters, where that is something else."""
    bare = _bare(text)
    two = _without_marks(bare.translate(_TWO_LETTERS).translate(_PLAIN))
    return tuple(dict.fromkeys((two, _without_marks(bare).translate(_PLAIN))))


@lru_cache(100_000)
def keys_of_word(word: str) -> tuple[str, ...]:
    """What a word of a text is compared by: with two letters for one, and in plain letters.

    >>> keys_of_word("Jörg"), keys_of_word("JOERG"), keys_of_word("José"), keys_of_word("Strauß")
    (('joerg', 'jorg'), ('joerg',), ('jose',), ('strauss',))
    """
    return forms_of(word)


def keys_of_name_word(word: str) -> tuple[str, ...]:
    """What a word of a name may be written as: as a word of a text, and with one letter for two.

    >>> keys_of_name_word("Joerg"), keys_of_name_word("Jörg"), keys_of_name_word("Joe")
    (('joerg', 'jorg'), ('joerg', 'jorg'), ('joe',))
    """
    found = dict.fromkeys(keys_of_word(word))
    bare = _bare(word)
    places = list(_PAIR.finditer(bare)) if len(bare) > _SHORT_NAME else []
    many = len(places) > _MOST_PAIRS
    for chosen in ((True,) * len(places),) if many else product((False, True), repeat=len(places)):
        made, at = "", 0
        for pair, is_one in zip(places, chosen, strict=True):
            made += bare[at : pair.start()] + (_ONE_LETTER[pair[0]] if is_one else pair[0])
            at = pair.end()
        found |= dict.fromkeys(keys_of_word(made + bare[at:]))
    return tuple(found)


def words_of(name: str) -> tuple[str, ...]:
    """The words of a name without regard to case and to signs between them; a name without a letter is one word.

    >>> words_of("Bo B."), words_of("ANNA-Lena")
    (('bo', 'b'), ('anna', 'lena'))
    """
    return tuple(_bare(found[0]) for found in TOKEN.finditer(name)) or (folded_label(name),)


def exact_key(name: str) -> str:
    """The key of a name as it is written, but for case and signs between its words."""
    return " ".join(words_of(name))


def keys_of_name(name: str) -> tuple[str, ...]:
    """The keys of a whole name, each with a blank between its words; the first is the name itself.

    >>> keys_of_name("Anna-Lena"), keys_of_name("Jörg Li")
    (('anna lena', 'annalena'), ('joerg li', 'jorg li', 'joergli', 'jorgli'))
    """
    each = [keys_of_name_word(word) for word in words_of(name)]
    count = 1
    for one in each:
        count *= len(one)
    whole = list(product(*each)) if count <= _MOST_KEYS else [tuple(one[0] for one in each)]
    found = dict.fromkeys(" ".join(one) for one in whole)
    if len(each) > 1 and all(word.isalpha() for word in words_of(name)):
        found |= dict.fromkeys("".join(one) for one in whole)
    return tuple(found)


def keys_of_text(text: str) -> tuple[str, ...]:
    """The keys by which a text that is one name is compared."""
    return _joined(words_of(text))


def parts_of_name(name: str) -> tuple[str, ...]:
    """The words of a name of several that name somebody by themselves, and those with a hyphen also as one.

    >>> parts_of_name("Bo van der Lind B."), parts_of_name("Zoltan"), parts_of_name("Ann-Ida Li")
    (('bo', 'lind'), (), ('ann', 'ida', 'li', 'annida'))
    """
    words = [word for word in words_of(name) if word.isalpha()]
    if len(words) < 2:
        return ()
    words += ["".join(words_of(found[0])) for found in _HYPHENED.finditer(name)]
    return tuple(dict.fromkeys(word for word in words if len(word) >= _CAPITAL_LETTERS and word not in SMALL_WORDS))


def initial_of(word: str) -> str:
    """The first letter of a word, in plain letters.

    >>> initial_of("\u00d6berg"), initial_of("bo")
    ('o', 'b')
    """
    return forms_of(word)[-1][:1]


def keys_with_initial(names: Iterable[str]) -> dict[str, str]:
    """The keys of a word of somebody's names with the initial of another word, and the key of that word alone.

    >>> keys_with_initial(["Bo Berg"]), keys_with_initial(["Bo"])
    ({'b bo': 'bo', 'b berg': 'berg'}, {})
    >>> sorted(keys_with_initial(["Ole van Rau"]))
    ['o rau', 'r ole', 'v ole', 'v rau']
    """
    words = list(dict.fromkeys(word for name in names for word in words_of(name) if word.isalpha()))
    return {
        f"{initial_of(other)} {key}": key
        for word in words
        if len(word) >= _CAPITAL_LETTERS and word not in SMALL_WORDS
        for other in words
        if other != word
        for key in keys_of_name_word(word)
    }


class FoundName(NamedTuple, Generic[_Who]):
    """Where a name stands in a text, and whose; ``ending`` is the s of ``Annas``, which is within. Initials beside the
    name are within."""

    start: int
    end: int
    who: _Who
    ending: str


class KnownNames(Generic[_Who]):
    """The names to be found."""

    def __init__(
        self,
        exact: Callable[[str], _Who | None],
        whole: Callable[[str], _Who | None],
        part: Callable[[str], _Who | None],
        longest: int,
    ) -> None:
        """Who is called by an exact key, by a key of a whole name, by one of a part of a name, with an initial or
        without; ``longest`` is how many words the longest name has."""
        self._exact = exact
        self._whole = whole
        self._part = part
        self._longest = longest
        self._known: dict[tuple[str, ...], tuple[_Who | None, str]] = {}

    def called(self, name: str) -> _Who | None:
        """Who has this very name."""
        words = words_of(name)
        return None if len(words) > self._longest else self._of_whole(" ".join(words), keys_of_text(name))

    def found_in(self, text: str) -> Iterator[FoundName[_Who]]:
        """The names in a text, each as whole words, the longest first."""
        tokens = list(TOKEN.finditer(text))
        words = [token[0] for token in tokens]
        place = 0
        while place < len(tokens):
            who, ending, count = self._at(tokens, words, place)
            first = _after_initials(text, tokens, place)
            if first > place and first - place >= count:
                behind, its_ending, its_count = self._at(tokens, words, first)
                named = words[first : first + max(1, its_count)]
                owner = self._of_initials(words[place:first], named)
                if owner is not None:
                    who, ending, count = owner, its_ending if behind == owner else "", first - place + len(named)
            if not count or who is None:
                who, count = None, 1
            end = tokens[place + count - 1].end()
            if not ending and _is_word(words[place + count - 1]):
                last = _before_initials(text, tokens, place + count)
                named = words[place : place + count]
                while last > place + count:
                    owner = self._of_initials(words[place + count : last], named)
                    if owner is not None and (count == 1 or owner == who):
                        who, count = owner, last - place
                        end = end_of_initial(text, tokens[last - 1].end())
                        behind, its_ending, its_count = (
                            self._at(tokens, words, last) if last < len(tokens) else (None, "", 0)
                        )
                        if behind == who and tokens[last].start() - tokens[last - 1].end() <= _FARTHEST:
                            ending, count = its_ending, count + its_count
                            end = tokens[place + count - 1].end()
                        break
                    last -= 1
            if who is not None:
                yield FoundName(tokens[place].start(), end, who, ending)
            place += count

    def _at(self, tokens: Sequence[re.Match[str]], words: Sequence[str], place: int) -> tuple[_Who | None, str, int]:
        """Whose name begins with this word, the s behind it, and how many words it has; none: 0."""
        most = 1
        while (
            most < self._longest
            and place + most < len(tokens)
            and tokens[place + most].start() - tokens[place + most - 1].end() <= _FARTHEST
        ):
            most += 1
        for count in range(most, 0, -1):
            who, ending = self._of_words(tuple(words[place : place + count]))
            if who is not None:
                return who, ending, count
        return None, "", 0

    def _of_initials(self, initials: Sequence[str], named: Sequence[str]) -> _Who | None:
        """Whose word is among these, with all of these initials beside it."""
        for spelled in (spelled for word in named if _is_word(word) for spelled, _ in _with_and_without_s((word,))):
            for key in keys_of_word(spelled):
                found = [self._part(f"{initial_of(letter)} {key}") for letter in initials]
                if found[0] is not None and all(one == found[0] for one in found):
                    return found[0]
        return None

    def _of_words(self, words: tuple[str, ...]) -> tuple[_Who | None, str]:
        known = self._known.get(words)
        if known is None:
            if len(self._known) >= _MOST_KEPT:
                self._known.clear()
            known = self._known[words] = self._looked_up(words)
        return known

    def _looked_up(self, words: tuple[str, ...]) -> tuple[_Who | None, str]:
        """Whose name these words are, and the s behind it."""
        for last, ending in _with_and_without_s(words):
            spelled = [*words[:-1], last]
            keys = _joined(spelled)
            who = self._of_whole(" ".join(map(_bare, spelled)), keys)
            if who is None and len(words) == 1 and (len(last) > _CAPITAL_LETTERS or last[:1].isupper()):
                who = _first(self._part, keys)
            if who is not None:
                return who, ending
        return None, ""

    def _of_whole(self, exact: str, keys: tuple[str, ...]) -> _Who | None:
        found = self._exact(exact)
        return _first(self._whole, keys) if found is None else found


def _is_word(word: str) -> bool:
    return not _is_letter(word) and word[0].isalpha()


def _is_letter(word: str) -> bool:
    return len(word) <= _FARTHEST and word[0].isalpha() and len(_bare(word)) == 1


def _after_initials(text: str, tokens: Sequence[re.Match[str]], place: int) -> int:
    """The first word behind the initials that begin here."""
    at = place
    while (
        at + 1 < len(tokens)
        and _is_letter(tokens[at][0])
        and is_initial_before(text, *tokens[at].span(), tokens[at + 1].start())
    ):
        at += 1
    return at


def _before_initials(text: str, tokens: Sequence[re.Match[str]], place: int) -> int:
    """The first word behind the initials that follow a name."""
    at = place
    while (
        at < len(tokens)
        and _is_letter(tokens[at][0])
        and is_initial_after(text, *tokens[at].span(), tokens[at - 1].end(), follows_initial=at > place)
    ):
        at += 1
    return at


def _joined(words: Sequence[str]) -> tuple[str, ...]:
    each = [keys_of_word(word) for word in words]
    return tuple(dict.fromkeys((" ".join(one[0] for one in each), " ".join(one[-1] for one in each))))


def _first(known: Callable[[str], _Who | None], keys: tuple[str, ...]) -> _Who | None:
    return next((who for key in keys if (who := known(key)) is not None), None)


def _with_and_without_s(words: Sequence[str]) -> Iterator[tuple[str, str]]:
    """The last of these words, and what it is without the s of ``Annas``; a name that ends in s has an apostrophe alone
    there, so that ``mass`` is not of somebody called Mas."""
    last = words[-1]
    yield last, ""
    stem = last[:-1]
    if (
        last[-1] in "sS"
        and stem[-1:] not in ("s", "S")
        and (len(stem) >= _STEM_LETTERS or (len(stem) == _CAPITAL_LETTERS and last[0].isupper()))
    ):
        yield stem, last[-1]


def any_of_keys(keys: tuple[str, ...], least: int) -> re.Pattern[str]:
    """A pattern for any of these keys within a longer word; shorter ones than ``least`` letters are left out."""
    wanted = sorted((key for key in keys if len(key) >= least and " " not in key), key=lambda key: (-len(key), key))
    return re.compile("|".join(map(re.escape, wanted)) or r"(?!)")
