"""The loss of oil from which a diff is to be looked at, and from which it is not run: the team's limits, else ours."""

from __future__ import annotations

from functools import lru_cache
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import LIMIT_UNITS, SHARE_LIMITS

CAUTION_SHARE: Final = 0.05
STOP_SHARE: Final = 0.10
"""Shares of the oil put in (our own figures)."""
_REMEMBERED: Final = 4_096
_ROUNDED_FROM: Final = 0.05
"""Grams from which the third decimal of a computed limit says nothing."""
_SAME: Final = 1e-8


class LossLimits(NamedTuple):
    """Grams of oil lost from which to look at a diff, and from which to stop; ``owner`` of the second: yours or
    proposal; ``typed_g``: the team's own limit, where it was typed in grams."""

    caution_g: float | None
    stop_g: float | None
    owner: str | None
    typed_g: float | None = None


def grams_in_words(mass_g: float) -> str:
    """Grams between two weighings, or a limit that was typed: a third decimal only if it is not 0.

    >>> grams_in_words(0.186), grams_in_words(0.04), grams_in_words(0.045)
    ('0.186 g', '0.04 g', '0.045 g')
    """
    return f"{mass_g:.3f}".removesuffix("0") + " g"


def limit_in_words(limit_g: float, typed_g: float | None = None) -> str:
    """A limit of oil lost as printed everywhere: two decimals where it is a share of the oil, and as it was typed
    where it is ``typed_g``, the limit that was typed in grams. One under 0.05 g keeps its third decimal.

    >>> limit_in_words(0.186), limit_in_words(0.093), limit_in_words(0.045), limit_in_words(0.186, 0.186)
    ('0.19 g', '0.09 g', '0.045 g', '0.186 g')
    """
    is_typed = typed_g is not None and abs(limit_g - typed_g) < _SAME
    return grams_in_words(limit_g) if is_typed or limit_g < _ROUNDED_FROM else f"{limit_g:.2f} g"


def share_in_words(share: float) -> str:
    """A share of the oil as printed everywhere.

    Whole percent; a tenth where it would read 0 but is not.

    >>> share_in_words(0.161), share_in_words(0.004), share_in_words(-0.0001)
    ('16 %', '0.4 %', '0 %')
    """
    percent = 100.0 * share
    decimals = 1 if 0.05 <= abs(percent) <= 0.5 else 0
    return f"{percent:z.{decimals}f} %"


def limit_share_in_words(share: float) -> str:
    """A limit that is a share of the oil, as exactly as it was set (a loss is rounded).

    >>> limit_share_in_words(0.1), limit_share_in_words(0.025)
    ('10 %', '2.5 %')
    """
    return f"{100.0 * share:.3g} %"


def limit_value_in_words(kind: str, value: float) -> str:
    """A limit of the team in the unit of its kind.

    >>> limit_value_in_words("oil lost as a share", 0.05), limit_value_in_words("fill window", 0.04)
    ('5 % of the oil put in', '0.04 g either way')
    """
    number = limit_share_in_words(value) if kind in SHARE_LIMITS else f"{value:g}"
    return f"{number} {LIMIT_UNITS[kind]}"


def whose_limit(owner: str | None, limit_g: float, typed_g: float | None = None) -> str:
    """A limit of oil lost with its owner: ``yours``, else our own figure; ``typed_g`` as in :func:`limit_in_words`.

    >>> whose_limit("yours", 0.125, 0.125), whose_limit("proposal", 0.186)
    ('your limit of 0.125 g', 'our default limit of 0.19 g')
    """
    return f"{'your limit' if owner == 'yours' else 'our default limit'} of {limit_in_words(limit_g, typed_g)}"


@lru_cache(_REMEMBERED)
def loss_limits(
    oil_in_g: float | None,
    own_g: float | None = None,
    own_share: float | None = None,
    caution_share: float = CAUTION_SHARE,
) -> LossLimits:
    """The limits for a build with this much oil in it.

    The nearer of the team's own limits (in grams, or as a share of the oil) is the stop; without one the proposed
    share. The limit to look at it is its own share of the oil, at most the stop. If neither a limit in grams nor the
    oil put in is known, there are none. Limits of 0 or less count as none.

    >>> loss_limits(1.86)
    LossLimits(caution_g=0.093, stop_g=0.186, owner='proposal', typed_g=None)
    >>> loss_limits(1.86, own_g=0.03, own_share=0.08)
    LossLimits(caution_g=0.03, stop_g=0.03, owner='yours', typed_g=0.03)
    >>> loss_limits(None)
    LossLimits(caution_g=None, stop_g=None, owner=None, typed_g=None)
    """
    oil = oil_in_g if oil_in_g is not None and oil_in_g > 0.0 else None
    own = [
        limit
        for limit in (own_g, own_share * oil if own_share is not None and oil is not None else None)
        if limit is not None and limit > 0.0
    ]
    if own:
        stop, owner = min(own), "yours"
    elif oil is not None:
        stop, owner = STOP_SHARE * oil, "proposal"
    else:
        return LossLimits(None, None, None)
    caution = stop if oil is None else min(caution_share * oil, stop)
    typed = own_g if own_g is not None and own_g > 0.0 else None
    return LossLimits(round(caution, 9), round(stop, 9), owner, typed)
