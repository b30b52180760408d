"""A number and its unit on one line, and a command to copy: wrapping in a terminal holds them together, on a page a
no-break space does so for a number."""

from __future__ import annotations

import re
from collections.abc import Callable
from contextvars import ContextVar
from functools import cache
from typing import Final

from bevelbook.declare.coverage import TAKEN_AS
from bevelbook.declare.known_units import KNOWN
from bevelbook.declare.late_pattern import late_pattern

HELD: Final = "\ue000"
"""Stands for a space that no line breaks at, while a text is wrapped."""
KEPT: Final = "\ue001"
"""Stands for a space within a command, at which no line breaks however narrow it is: half a command that is pasted does
something else."""
ROOM: Final = "\ue002"
"""Stands for one letter that a command gains where it is printed."""
_PRINTED_AS: Final[ContextVar[Callable[[str], str] | None]] = ContextVar("commands as they are printed", default=None)
NO_BREAK: Final = "\u00a0"
_MORE_UNITS: Final = (
    "mg",
    "kg",
    "cm³",
    "g/cm³",
    "mN·m",
    "mN·m·s",
    "Pa·s",
    "min",
    "h",
    "ml",
    "runs",
    "run",
    "days",
    "day",
)
_AFTER_RUN: Final = late_pattern(r"(?<=\brun) (?=\d)")
_SPREAD: Final = late_pattern(rf"(?:(?<![\d.,])[\d.,]+ )?± [^±()<>]{{0,40}}?(?:\(?k = [12]\)?|{TAKEN_AS})")
_QUOTED_WORDS: Final = r""""[^"\n]*"|(?<=\s)'[^'\n]*'(?:"'"'[^'\n]*')*"""
"""Words of a shell in quotes; single quotes begin after a blank, so that those at a command's end are none."""
COMMANDS_IN_TEXT: Final = late_pattern(
    rf"""(?<![\w'])'(?:bevelbook|pip|python|chmod) (?:[^'"\\\n]|\\.|{_QUOTED_WORDS})*'"""
    rf"""|(?:(?<=[:?)] )|(?<=\()|^)bevelbook (?:[^'"\\\n]|\\.|{_QUOTED_WORDS})*?(?=\. [A-Z]|[;,] |\)| \(|$)""",
    re.MULTILINE,
)
"""Commands in a text: in single quotes; or after a colon, a question or a bracket, up to the end of the sentence or the
bracket."""
_POWER: Final = late_pattern(r"(?<=\d) × (?=10[⁰¹²³⁴⁵⁶⁷⁸⁹⁻])")
_AS_THEY_ARE: Final = ("script", "style", "textarea", "pre", "title", "option", "svg")
PIECES_OF_PAGE: Final = late_pattern(
    rf"<(?P<name>{'|'.join(_AS_THEY_ARE)})\b.*?</(?P=name)\s*>|<[^>]*>", re.DOTALL | re.IGNORECASE
)
"""What of a page of HTML is not text to be read: its tags, and what is run, typed into or drawn."""


def held(text: str, by: str = HELD) -> str:
    """The text with the spaces that no line may end at replaced.

    >>> held("lost 0.30 g of 1.86 g in 13 runs; 5 ± 1 cSt (k = 2) at 25 °C", "_")
    'lost 0.30_g of 1.86_g in 13_runs; 5_±_1_cSt_(k_=_2) at 25_°C'
    """
    if " " not in text:
        return text
    if "±" in text:
        text = _SPREAD.sub(lambda found: found[0].replace(" ", by), text)
    if "×" in text:
        text = _POWER.sub(f"{by}×{by}", text)
    return _AFTER_RUN.sub(by, _before_unit().sub(by, text))


def print_commands_as(printed: Callable[[str], str] | None) -> None:
    """Say what a text with a command becomes where it is printed, as with the database that was named: a line that is
    made before that leaves room for it."""
    _PRINTED_AS.set(printed)


def held_with_commands(text: str) -> str:
    r"""The same for lines of a terminal, with each command to copy as one word.

    >>> text = "Say so: 'bevelbook record event \"spring race\" air_low=...'. It took 2 g."
    >>> held_with_commands(text).replace(HELD, "_").replace(KEPT, "-")
    'Say so: \'bevelbook-record-event-"spring-race"-air_low=...\'. It took 2_g.'
    >>> released(held_with_commands(text)) == text
    True
    """
    if "bevelbook " in text or " '" in text:
        text = COMMANDS_IN_TEXT.sub(lambda found: f"{found[0].replace(' ', KEPT)}{_room(found[0])}", text)
    return held(text)


def _room(command: str) -> str:
    printed = _PRINTED_AS.get()
    return "" if printed is None else ROOM * (len(printed(command)) - len(command))


def released(line: str) -> str:
    """A line with its spaces again.

    >>> released(f"2{HELD}g")
    '2 g'
    """
    return line.replace(HELD, " ").replace(KEPT, " ").replace(ROOM, "")


@cache
def _before_unit() -> re.Pattern[str]:
    """The space between a number and one of the units that are known."""
    units = sorted({*KNOWN.unit_of_suffix.values(), *_MORE_UNITS}, key=lambda unit: (-len(unit), unit))
    return re.compile(rf"(?<=\d) (?=(?:{'|'.join(map(re.escape, units))})(?![\w·/³]))")


KNOWN.when_changed(_before_unit.cache_clear)


def unbroken_page(page: str) -> str:
    """A page of HTML with no-break spaces between numbers and their units; what is typed into or run stays as it is.

    >>> unbroken_page('<p title="2 g">2 g</p><pre>2 g</pre>').replace(NO_BREAK, "_")
    '<p title="2 g">2_g</p><pre>2 g</pre>'
    """
    made: list[str] = []
    end = 0
    for tag in PIECES_OF_PAGE.finditer(page):
        made += [held(page[end : tag.start()], NO_BREAK), tag[0]]
        end = tag.end()
    made.append(held(page[end:], NO_BREAK))
    return "".join(made)
