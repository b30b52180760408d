"""The signs beside a word, never without it: tick, triangle, octagon, dashed circle, a drop of oil, two half rings."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from markupsafe import Markup

from bevelbook.declare.vocabulary import CHANGE_THE_OIL, LEAVE_IT, REBUILD_IT, SECOND_ONE

_SHAPES: Final = {
    "ok": '<path d="M2.5 8.5 6.2 12.5 13.5 3.5"/>',
    "caution": '<path d="M8 2 14.6 13.6H1.4Z"/>',
    "stop": '<path d="M5.2 1.6h5.6l3.6 3.6v5.6l-3.6 3.6H5.2L1.6 10.8V5.2Z"/>',
    "unclear": '<circle cx="8" cy="8" r="6.2" stroke-dasharray="2.6 2.27"/>',
    "oil": '<path d="M8 1.4C10.6 5 12.4 7.4 12.4 10A4.4 4.4 0 0 1 3.6 10C3.6 7.4 5.4 5 8 1.4Z"/>',
    "second": '<path d="M6 2A6 6 0 0 0 6 14M10 2A6 6 0 0 1 10 14"/>',
}
SIGN_OF: Final = {
    "ok": "ok",
    "ready": "ok",
    "full": "ok",
    "caution": "caution",
    "look at it": "caution",
    "doubtful": "caution",
    "stop": "stop",
    "open it": "stop",
    "lost oil": "stop",
    "unclear": "unclear",
    "unknown": "unclear",
    "weigh it": "unclear",
    "done": "ok",
    LEAVE_IT: "ok",
    CHANGE_THE_OIL: "oil",
    REBUILD_IT: "stop",
    SECOND_ONE: "second",
}


@lru_cache(maxsize=256)
def with_sign(word: str) -> Markup:
    """A word with its sign, or the word alone where it has none.

    >>> str(with_sign("open"))
    'open'
    """
    sign = SIGN_OF.get(word)
    if sign is None:
        return Markup("{}").format(word)
    return Markup(
        '<span class="verdict {sign}"><svg class="sign" viewBox="0 0 16 16" aria-hidden="true">{shape}</svg> '
        "{word}</span>"
    ).format(sign=sign, shape=Markup(_SHAPES[sign]), word=word)
