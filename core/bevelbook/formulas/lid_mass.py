"""What a closed diff weighs more than the filled, open one: the same lid and screws each time."""

from __future__ import annotations

from math import hypot
from typing import Final, NamedTuple

from bevelbook.formulas.fill_window import grams_in_words
from bevelbook.physics.weighing import COVERAGE_K, ScaleNoise, difference_uncertainty_g

OTHER_SCREWS_G: Final = 0.3
"""What other screws, seals and rings weigh more or less than those before; common practice, no source."""
_ROUNDING_G: Final = 1e-9


class OpenAndClosed(NamedTuple):
    """A build by its label, its masses filled and open, and closed, in g, and how well its scale weighs."""

    label: str
    filled_g: float
    closed_g: float
    noise: ScaleNoise

    @property
    def lid_g(self) -> float:
        """Closed less filled, in g: lid, screws and the rest."""
        return round(self.closed_g - self.filled_g, 6)

    @property
    def uncertainty_g(self) -> float:
        """Standard uncertainty (k = 1) of that, in g."""
        return difference_uncertainty_g(self.noise.step_g, self.noise.repeatability_g, self.noise.error_bound_g)

    def in_words(self, mass_g: float) -> str:
        """A mass in g with the decimals of its scale."""
        return grams_in_words(mass_g, self.noise.step_g)


class UnlikeLid(NamedTuple):
    """A build whose lid and screws weigh otherwise than those of one before it, and what the scale explains, in g."""

    build: OpenAndClosed
    before: OpenAndClosed
    uncertainty_g: float

    @property
    def words(self) -> str:
        """The masses of both, how far they are apart, and what was allowed.

        >>> noise = ScaleNoise(0.01, 0.005)
        >>> before = OpenAndClosed("rear-a/2", 14.27, 22.35, noise)
        >>> print(unlike_lid(OpenAndClosed("rear-a/3", 14.29, 23.37, noise), before).words)
        closed (23.37 g) less filled (14.29 g) is 9.08 g, and for rear-a/2 it was 8.08 g (22.35 g less 14.27 g): \
1.00 g more for the same lid and screws, so one of these masses may be a slip of the pen (0.3 g either way is taken \
for other screws, seals and rings, common practice, no source, and the scale explains 0.023 g more)
        """
        build, before = self.build, self.before
        off = build.lid_g - before.lid_g
        return (
            f"closed ({build.in_words(build.closed_g)} g) less filled ({build.in_words(build.filled_g)} g) is "
            f"{build.in_words(build.lid_g)} g, and for {before.label} it was {before.in_words(before.lid_g)} g "
            f"({before.in_words(before.closed_g)} g less {before.in_words(before.filled_g)} g): "
            f"{build.in_words(abs(off))} g {'more' if off > 0 else 'less'} for the same lid and screws, so one of "
            f"these masses may be a slip of the pen ({OTHER_SCREWS_G:g} g either way is taken for other screws, seals "
            f"and rings, common practice, no source, and the scale explains {self.uncertainty_g:.2g} g more)"
        )


def unlike_lid(build: OpenAndClosed, before: OpenAndClosed) -> UnlikeLid | None:
    """How closed less filled differs from that of a build before it; None where scales and other screws explain it.

    The scales explain twice the standard uncertainty of the two masses by difference, combined.

    Source: JCGM 100:2008, 5.1.2 and F.2.2.1, for the scales' part; :data:`OTHER_SCREWS_G` for the rest.

    >>> before = OpenAndClosed("rear-a/2", 14.27, 22.35, ScaleNoise(0.01, 0.005))
    >>> unlike_lid(OpenAndClosed("rear-a/3", 14.29, 22.67, ScaleNoise(0.01, 0.005)), before) is None
    True
    """
    uncertainty = COVERAGE_K * hypot(build.uncertainty_g, before.uncertainty_g)
    if abs(build.lid_g - before.lid_g) <= OTHER_SCREWS_G + uncertainty + _ROUNDING_G:
        return None
    return UnlikeLid(build, before, uncertainty)
