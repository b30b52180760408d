"""The words and letters beside a mass in the lines that scales print, and what each says.

Common practice, no source: such words differ from maker to maker, and these are those in general use. A line with a
word that is not here is shown and not taken, since the word may say that the mass is a sum, a limit or a mean.
"""

from __future__ import annotations

from enum import Enum
from typing import Final


class Sign(Enum):
    """What a word in a line says of the mass beside it."""

    STEADY = "steady"
    NOT_STEADY = "not steady"
    GROSS = "gross"
    NET = "net"
    TARE = "tare"
    OVERLOAD = "more than the scale takes"
    UNDERLOAD = "less than the scale can weigh"
    FAULT = "an error of the scale"
    COUNTER = "the number of an item or of the print follows"
    PLAIN = "nothing of the mass itself"


_WORDS: Final = {
    Sign.STEADY: "s st stb stab stable steady",
    Sign.NOT_STEADY: "d sd u us ust unst unstab unstable unsteady un-stable instable dyn dynamic motion moving ? ~",
    Sign.GROSS: "g gs gr gross brutto",
    Sign.NET: "n nt net netto",
    Sign.TARE: "t tr tare tara pt",
    Sign.OVERLOAD: "ol o.l over overload over-load overrange",
    Sign.UNDERLOAD: "ul u.l under underload under-load underrange",
    Sign.FAULT: "err err. error fault fail failed",
    Sign.COUNTER: "no no. nr nr. num number # id item lot batch sample count counter s/n p/n ticket",
    Sign.PLAIN: "weight weight. wt wt. mass date time on at",
}
SIGNS: Final[dict[str, Sign]] = {word: sign for sign, words in _WORDS.items() for word in words.split()}
"""What each word says, in small letters."""
NOT: Final = frozenset({"not", "non", "no"})
"""Before a word for steady they make it one for not steady."""
