"""How far something has to be off to be clear, where several chances are looked at together."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.stats.distributions import normal_quantile

SIDAK: Final = Source(
    "paper",
    "Šidák: Rectangular confidence regions for the means of multivariate normal distributions",
    "Journal of the American Statistical Association 62",
    "1967",
    "p. 626-633: each of m at 1 - (1 - a)^(1/m)",
    "not opened; from memory",
)


@lru_cache(256)
def k_of_several(many: int, chance: float) -> float:
    """Standard uncertainties that none of ``many`` independent normal errors passes, either way, but with ``chance``.

    Each of them gets the chance 1 - (1 - chance)^(1 / many) (Šidák 1967). ``chance`` is above 0 and below 1.

    >>> [round(k_of_several(many, 0.05), 3) for many in (1, 2, 5, 9)]
    [1.96, 2.236, 2.569, 2.766]
    """
    each = 1.0 - (1.0 - chance) ** (1.0 / max(1, many))
    return normal_quantile(1.0 - each / 2.0)
