"""The search in the page: files of words and of what was found, each a script that a browser loads when it needs it.

A page opened from a folder may load scripts beside it and nothing else, so the words are scripts, not data. They are
in parts by their first letter, and the pages in parts of ``EACH``, so that a phone loads some of a large book only.
"""

from __future__ import annotations

import json
import unicodedata
from array import array
from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern

FOLDER: Final = "search"
EACH: Final = 250
LONGEST_WORD: Final = 40
LONGEST_LINE: Final = 160
PARTS: Final = (*"0123456789abcdefghijklmnopqrstuvwxyz", "other")
"""The parts of the words; ``web/static/site_search.js`` knows them too."""
KINDS: Final = (
    ("diff", "Diffs"),
    ("build", "Builds"),
    ("fluid", "Fluids"),
    ("venue", "Venues"),
    ("run", "Runs"),
    ("day", "Days"),
    ("scale", "Scales"),
    ("photo", "Photographs"),
    ("chart", "Charts"),
    ("worked", "What worked"),
)
"""The pages that are found, by the name of the page, in the order in which they are shown."""
_WORD: Final = late_pattern(r"[^\W_]+")
_THOUSANDS: Final = late_pattern(r"(?<=\d),(?=\d{3}(?!\d))")
_MARKS: Final = late_pattern("[\u0300-\u036f]")


class FoundPage(NamedTuple):
    """A page that the search knows: its file, its name, and the beginning of its words."""

    file: str
    title: str
    line: str


def words_in(text: str) -> set[str]:
    """The words of a text as they are compared: without marks on letters, in small letters, figures without commas.

    >>> sorted(words_in("Zoë's 7,000 cSt in rear-a/12"))
    ['12', '7000', 'a', 'cst', 'in', 'rear', 's', 'zoe']
    """
    plain = _MARKS.sub("", unicodedata.normalize("NFKD", _THOUSANDS.sub("", text))).lower()
    return {word[:LONGEST_WORD] for word in _WORD.findall(plain)}


def part_of(word: str) -> str:
    """The part that a word is in.

    >>> part_of("rear"), part_of("7000"), part_of("жук")
    ('r', '7', 'other')
    """
    return word[0] if word[0] in PARTS else "other"


class SearchFiles:
    """Gathers the words of pages, which are given in the order in which they are to be found."""

    def __init__(self) -> None:
        self._pages: list[FoundPage] = []
        self._kinds: list[tuple[str, int]] = []
        self._words: dict[str, array[int]] = {}
        self._titles: dict[str, array[int]] = {}

    def begin(self, heading: str) -> None:
        """The pages from here on stand under that heading."""
        self._kinds.append((heading, len(self._pages)))

    def add(self, file: str, title: str, words: str) -> None:
        """Take in a page."""
        place = len(self._pages)
        line = words.removeprefix(title).lstrip(" .,;:")
        cut = line if len(line) <= LONGEST_LINE else f"{line[:LONGEST_LINE].rpartition(' ')[0]} …"
        self._pages.append(FoundPage(file, title, cut))
        for known, text in ((self._words, f"{title} {words}"), (self._titles, title)):
            for word in words_in(text):
                known.setdefault(word, array("L")).append(place)

    def files(self) -> Iterator[tuple[str, str]]:
        """The name and the text of each file."""
        kinds = [[heading, first] for heading, first in self._kinds]
        yield f"{FOLDER}/kinds.js", _script("kinds", "", {"kinds": kinds, "pages": len(self._pages), "each": EACH})
        for part in PARTS:
            held = {
                name: {word: _steps(known[word]) for word in sorted(known) if part_of(word) == part}
                for name, known in (("titles", self._titles), ("words", self._words))
            }
            yield f"{FOLDER}/words-{part}.js", _script("words", part, held)
        for number in range(0, len(self._pages), EACH):
            block = [list(one) for one in self._pages[number : number + EACH]]
            yield f"{FOLDER}/pages-{number // EACH}.js", _script("pages", str(number // EACH), block)


def _steps(places: Sequence[int]) -> list[int]:
    """Rising numbers as the steps between them, which are shorter.

    >>> _steps([3, 4, 9])
    [3, 1, 5]
    """
    return [place - before for before, place in zip((0, *places), places, strict=False)]


def _script(what: str, which: str, held: object) -> str:
    """A call that hands over what a file holds; nothing in it ends the script or opens another."""
    as_json = json.dumps(held, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c")
    return f"bevelbookSearch({json.dumps(what)},{json.dumps(which)},{as_json});\n"
