"""Texts for people who only read: without the commands that write, and with the words still making sense."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count
from typing import Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.unbroken import COMMANDS_IN_TEXT
from bevelbook.manual.commands import READING_WITH, WRITING, WRITING_WITH

TAGS_FROM: Final = 0x100000
"""From here on stand letters for tags within a line of a page, such as those around a command."""
_TAG: Final = "\U00100000-\U0010fffd"
_GONE: Final = "\ue004"
"""Stands for a command that is left out."""
_KEPT_FROM: Final = 0xF0000
"""From here on stand letters for the commands that stay, so that no full stop of theirs ends a sentence."""
_NAME: Final = late_pattern(r"bevelbook (?P<name>[a-z][a-z-]*)")
_CODE: Final = late_pattern(rf"[{_TAG}]bevelbook [^{_TAG}]*[{_TAG}]")
_SENTENCE: Final = late_pattern(rf"\S.*?(?:[.?!](?=[\s{_TAG}]|$)|$)", re.DOTALL)
_SEVERAL: Final = rf"{_GONE}(?:[;,]?(?: (?:or|and|then))*\s*{_GONE})*"
_IN_BRACKETS: Final = late_pattern(rf"\s*\({_SEVERAL}\)")
_AFTER_COLON: Final = late_pattern(rf"(?P<head>[^{_GONE}]*\S):\s*{_SEVERAL}(?P<rest>.*?)(?P<end>[.?!]?)", re.DOTALL)
_IN_LAST_PART: Final = late_pattern(
    rf"(?P<head>[^{_GONE}]*\S)(?:;|:\s(?!{_GONE}))[^;:]*{_GONE}.*?(?P<end>[.?!]?)", re.DOTALL
)
_NO_CLAUSE: Final = late_pattern(r"(?:to|for|if|when|where|with)\b[^,]*", re.IGNORECASE | re.DOTALL)
"""What leads to a command and says nothing without it."""
_NAMES_ONLY: Final = late_pattern(r"an?\s", re.IGNORECASE)
"""How what is before a colon begins that only names what the rest is about."""


def writes(command: str) -> bool:
    """Whether a whole command, as it is shown, changes a book.

    >>> [writes(f"bevelbook {one}") for one in ("record opening", "check", "check --rebuild", "calc viscosity")]
    [True, False, True, False]
    """
    found = _NAME.search(command)
    if found is None:
        return False
    options = {one.partition("=")[0] for one in re.findall(r"(?<=\s)--[a-z-]+", command)}
    name = found["name"]
    if name in WRITING:
        return not options & READING_WITH.get(name, frozenset())
    return bool(options & WRITING_WITH.get(name, frozenset()))


def without_writing(text: str) -> str:
    """A text without the commands that write: after a colon or in brackets a command goes alone, else with its part of
    the sentence, or with the sentence.

    >>> without_writing("Open it, and note what you find: 'bevelbook record opening'. Then look again.")
    'Open it, and note what you find. Then look again.'
    >>> without_writing("It may be wrong. To leave it out: 'bevelbook record run 5 --remove WHY'.")
    'It may be wrong.'
    >>> without_writing("'bevelbook calc viscosity' says more. 'bevelbook import FILE' brings notes in.")
    "'bevelbook calc viscosity' says more."
    """
    if "bevelbook " not in text:
        return text
    kept: dict[str, str] = {}
    letters = map(chr, count(_KEPT_FROM))

    def masked(found: re.Match[str]) -> str:
        if writes(found[0]):
            return _GONE
        letter = next(letters)
        kept[letter] = found[0]
        return letter

    plain = COMMANDS_IN_TEXT.sub(masked, _CODE.sub(masked, text))
    if _GONE not in plain:
        return text
    said = "".join(_sentences(plain))
    return re.sub("|".join(kept) or r"(?!)", lambda found: kept[found[0]], said)


def _sentences(text: str) -> Iterator[str]:
    """What is left of the sentences of a text, with the blanks around them; nothing where none is left."""
    end, is_first = 0, True
    blanks_first = text[: len(text) - len(text.lstrip())]
    for found in _SENTENCE.finditer(text):
        said = _said(found[0])
        if said:
            yield (blanks_first if is_first else text[end : found.start()]) + said
            is_first = False
        end = found.end()
    if not is_first:
        yield text[end:]


def _said(sentence: str) -> str:
    """What is left of a sentence; empty where it says nothing without its command."""
    sentence = _IN_BRACKETS.sub("", sentence)
    for pattern in (_AFTER_COLON, _IN_LAST_PART):
        found = pattern.fullmatch(sentence)
        if found is None:
            continue
        parts = found["head"].split("; ")
        while parts and _NO_CLAUSE.fullmatch(parts[-1]):
            parts.pop()
        if parts and not (found.groupdict().get("rest") and _NAMES_ONLY.match(parts[-1])):
            return f"{'; '.join(parts)}{found['end']}"
    return "" if _GONE in sentence else sentence
