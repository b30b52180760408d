"""Names of diffs, people, oils and venues, and what else is written in a cell, without what only marks it as text."""

from __future__ import annotations

import re
from typing import Final

from bevelbook.declare.counting import counted
from bevelbook.declare.fields import Field
from bevelbook.declare.unseen import is_unseen, without_unseen
from bevelbook.reading.faults import SAYS_NOTHING, TEXT_MISSING, fault, trimmed
from bevelbook.reading.options import ReadingOption

_PAIRS: Final = {'"': '"', "'": "'", "“": "”", "„": "“”", "”": "”", "‘": "’", "‚": "‘’", "’": "’", "＂": "＂"}
"""An opening quotation mark with those that may close it."""
_MAY_BE_WRAPPED: Final = frozenset((*_PAIRS, "="))
_EQUALS_QUOTED: Final = r'=\s*"((?:[^"]|"")*)"'
_SHORT_WORD: Final = r"'[a-z]{1,2}[\s-]"
"""``'s-Hoek``, ``'t Veld``: here the apostrophe is part of the name."""
_DITTO_MARKS: Final = frozenset("\"'“”„‟‘’‚‛«»‹›〃″′‴＂＇〝〞〟`´¨^↑⇑")
_BESIDE_DITTO: Final = frozenset("-–—−‐‑‒― \t\u00a0.|")
_LONGEST_DITTO: Final = 40
_ARROWS: Final = frozenset(map(chr, range(0x2190, 0x2200)))
"""The block Arrows of Unicode."""
_DITTO_WORDS: Final = frozenset(
    (
        *(",,", "↓", "⇓", "々", "仝", "同上"),
        *("do.", "dº", "ditto", "dito", "dto", "dto.", "idem", "ídem", "id.", "same", "same as above", "as above"),
        *(
            "ibid",
            "ibid.",
            "ibidem",
            "ebd.",
            "ebenda",
            "see above",
            "wie oben",
            "siehe oben",
            "s.o.",
            "s. o.",
            "dsgl.",
            "desgl.",
            "come sopra",
            "c.s.",
            "igual",
        ),
    )
)
"""In lower case: English, and the languages whose profiles come with the project."""


def plain_label(text: str) -> str:
    """A name as it was meant: trimmed, accents composed (NFC), without characters that nobody sees, and without what
    only marks text: an apostrophe before it, ``="..."``, one pair of quotation marks around all of it.

    >>> [plain_label(text) for text in (' "K-01"', '="007"', "'007", "K-01\\u200f", '3"', "'t Veld")]
    ['K-01', '007', '007', 'K-01', '3"', "'t Veld"]
    """
    plain = _unwrapped(text)
    if plain[:1] == "'" and len(plain) > 1 and not re.match(_SHORT_WORD, plain) and not is_ditto(plain):
        return plain[1:].strip()
    return plain


def one_line(text: str) -> str:
    """A name on one line: each line break in it, with the blanks around it, is a blank.

    >>> one_line("rear\\n a"), one_line("rear  a"), one_line("rear a\\n")
    ('rear a', 'rear  a', 'rear a')
    """
    lines = text.splitlines()
    return text if len(lines) < 2 and "\n" not in text else " ".join(filter(None, map(str.strip, lines)))


def taken_out_of_name(typed: str, kept: str) -> str | None:
    """What is not in a name any more as it is kept, in words: signs that nobody sees, line breaks; None where nothing
    was taken out of it.

    >>> taken_out_of_name("RTL\\u202ex", "RTLx")
    'the name is kept as RTLx: 1 sign that nobody sees was taken out (U+202E)'
    >>> taken_out_of_name("new\\nline", "new line")
    'the name is kept as new line: a line break in it became a blank'
    >>> taken_out_of_name(' "rear a" ', "rear a") is None
    True
    """
    unseen = [sign for sign in trimmed(typed) if is_unseen(sign)]
    for sign in filter(is_unseen, kept):
        if sign in unseen:
            unseen.remove(sign)
    said = []
    if unseen:
        which = ", ".join(dict.fromkeys(f"U+{ord(sign):04X}" for sign in unseen))
        was = "was" if len(unseen) == 1 else "were"
        said.append(f"{counted(len(unseen), 'sign')} that nobody sees {was} taken out ({which})")
    if len(typed.strip().splitlines()) > 1:
        said.append("a line break in it became a blank")
    return f"the name is kept as {kept}: {', and '.join(said)}" if said else None


def folded_label(text: str) -> str:
    """What two names that people take for one have in common: :func:`plain_label` without regard to case and to blanks
    between words.

    >>> folded_label(' "Rear  A"')
    'rear a'
    """
    return " ".join(plain_label(text).casefold().split())


def _unwrapped(text: str) -> str:
    plain = text.strip()
    if not plain.isascii():
        from unicodedata import normalize

        plain = normalize("NFC", without_unseen(trimmed(plain))).strip()
    return _inside(plain) if plain[:1] in _MAY_BE_WRAPPED else plain


def _inside(plain: str) -> str:
    found = re.fullmatch(_EQUALS_QUOTED, plain, re.DOTALL)
    if found:
        return found[1].replace('""', '"').strip()
    inner = plain[1:-1].strip()
    closing = _PAIRS.get(plain[:1], "")
    if inner and plain[-1] in closing and not is_ditto(plain):
        return plain if any(mark in inner for mark in (plain[0], *closing)) else inner
    return plain


def is_ditto(text: str) -> bool:
    """Whether a cell only says that it is the same as the cell above.

    >>> [is_ditto(text) for text in ('"', "''", '-"-', "-//-", "〃", "do.", "Do", "-", "")]
    [True, True, True, True, True, True, False, False, False]
    """
    plain = trimmed(text)
    if not plain or len(plain) > _LONGEST_DITTO:
        return False
    marks = frozenset(plain)
    if plain.count("/") > 1 and marks <= _BESIDE_DITTO | {"/"}:
        return True
    if marks <= _DITTO_MARKS | _BESIDE_DITTO:
        return bool(marks & _DITTO_MARKS)
    return without_unseen(plain).strip(" ()\"'“”").casefold() in _DITTO_WORDS


def refuse_ditto(field: Field, text: str) -> None:
    """Raise ReadingError (ditto_mark) for a cell that only points to the one above."""
    if is_ditto(text):
        raise fault(
            field,
            "ditto_mark",
            "it only says that it is the same as above",
            text,
            wanted=field.words,
            remedy="Write it out.",
            settled_by=ReadingOption.AS_ABOVE,
        )


DOTS_STAND: Final = "dots stand for what you write there"
_DOTS: Final = frozenset(".…‥⋯ \u00a0")
_QUOTES: Final = "\"'“”„‘’ "


def is_only_dots(text: str) -> bool:
    """Whether a text is nothing but dots, as a command that is printed has them for what its reader is to write.

    >>> [is_only_dots(text) for text in ("...", "…", ".. .", '"..."', "", " ", "a...", "-")]
    [True, True, True, True, False, False, False, False]
    """
    return bool(plain := trimmed(text).strip(_QUOTES)) and _DOTS.issuperset(plain)


def refuse_dots(field: Field, text: str) -> None:
    """Raise ReadingError (not_a_name) for a text of nothing but dots: a command was copied with the dots in it that
    stand for what is to be written."""
    if is_only_dots(text):
        raise fault(field, "not_a_name", DOTS_STAND, text, remedy=f"Write the {field.words} in their place.")


LONGEST_NAME: Final = 200
"""Letters that the name of a record may have."""
_LONG_SHOWN: Final = 40


def read_label(field: Field, text: str) -> str | None:
    """A name as people mean it: :func:`plain_label`. None for an empty text, dashes, "?" or "n/a". Raises ReadingError
    for one that only points to the name above (ditto_mark), or that is signs without a letter, a digit or a picture
    (not_a_name)."""
    plain = one_line(plain_label(text))
    if plain.lower() in TEXT_MISSING:
        return None
    refuse_ditto(field, plain)
    refuse_long_name(field, plain)
    if not any(map(str.isalnum, plain)):
        if not plain.strip(SAYS_NOTHING):
            return None
        if not any(map(_is_picture, plain)):
            raise fault(
                field,
                "not_a_name",
                "signs without a letter or a digit",
                text,
                wanted=field.words,
                remedy="Write the name, or leave the cell empty if there is none.",
            )
    return plain


def refuse_long_name(field: Field, text: str) -> None:
    """Raise ReadingError (name_too_long) for a name of more than ``LONGEST_NAME`` letters: it is a remark."""
    if len(text.strip()) > LONGEST_NAME:
        raise fault(
            field,
            "name_too_long",
            f"a name of {len(text.strip())} letters; it may have {LONGEST_NAME}",
            f"{text.strip()[:_LONG_SHOWN]} …",
            wanted=field.words,
            remedy="Give a short name, and write the rest into a remark.",
        )


def _is_picture(character: str) -> bool:
    """Whether a sign other than a letter may mark a diff: a coloured dot, a star, a font's own sign."""
    from unicodedata import category

    return category(character) in ("So", "Co") and character not in _ARROWS


def in_plain_signs(text: str) -> str:
    """A number, day, time or choice in plain signs: without characters that nobody sees, without ``="..."`` or a pair
    of quotation marks around it, and with full-width signs narrow.

    Superscripts and fractions stay as they are, so that 10³ is not taken for 103.

    Source: Unicode Character Database, decomposition mappings <wide>, <narrow> and <square>.

    >>> [in_plain_signs(text) for text in ("２２．１", "１０，０００", "10³", '="1.35"')]
    ['22.1', '10,000', '10³', '1.35']
    """
    plain = _unwrapped(text)
    return plain if plain.isascii() else "".join(map(_plain_sign, plain)).strip()


def _plain_sign(character: str) -> str:
    from unicodedata import decomposition, normalize

    is_form = decomposition(character).startswith(("<wide>", "<narrow>", "<square>"))
    return normalize("NFKC", character) if is_form else character
