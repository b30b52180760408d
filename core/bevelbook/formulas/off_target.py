"""Oil that is further from its target than the window of a fill and the scale explain."""

from __future__ import annotations

from typing import Final, NamedTuple

from bevelbook.formulas.fill_window import DROP_G, USUAL_SHARE, grams_in_words, half_width_g
from bevelbook.formulas.percent import percent
from bevelbook.physics.weighing import COVERAGE_K, ScaleNoise, difference_uncertainty_g

_ROUNDING_G: Final = 1e-9


class OffTarget(NamedTuple):
    """Oil that went in and the oil that was meant to, in g; the window either way, whether it is the team's own, and
    the uncertainty of a mass by difference on that scale (k = 2), in g."""

    oil_g: float
    target_g: float
    window_g: float
    is_own_window: bool
    uncertainty_g: float
    step_g: float

    @property
    def words(self) -> str:
        """The oil, its target, how far it is off, and the window with where it is from.

        >>> print(off_target(1.5, 1.9, None, ScaleNoise(0.01, 0.005)).words)
        1.50 g of oil went in, and its target is 1.90 g: 0.40 g too little (0.02 g either way is fine, 1 % of the oil \
but not under 0.02 g, and the scale explains 0.016 g more)
        >>> print(off_target(2.0, 1.9, 0.05, ScaleNoise(0.01, 0.005)).words)
        2.00 g of oil went in, and its target is 1.90 g: 0.10 g too much (0.05 g either way is fine, your limit of the \
fill window, and the scale explains 0.016 g more)
        """
        oil, target, off = (
            grams_in_words(mass, self.step_g) for mass in (self.oil_g, self.target_g, abs(self.oil_g - self.target_g))
        )
        window, origin = (
            (f"{self.window_g:g}", "your limit of the fill window")
            if self.is_own_window
            else (f"{self.window_g:.2g}", f"{percent(USUAL_SHARE)} of the oil but not under {DROP_G:g} g")
        )
        return (
            f"{oil} g of oil went in, and its target is {target} g: {off} g too "
            f"{'much' if self.oil_g > self.target_g else 'little'} ({window} g either way is fine, {origin}, "
            f"and the scale explains {self.uncertainty_g:.2g} g more)"
        )


def off_target(oil_g: float, target_g: float, own_window_g: float | None, noise: ScaleNoise) -> OffTarget | None:
    """How the oil in a fill (g, 0 or more) is off its target (g, over 0); None where window and scale explain it.

    ``own_window_g`` is the team's tolerance of a fill either way, None where it has none. The scale explains twice the
    standard uncertainty of a mass by difference on top of it.

    Source: JCGM 100:2008, 5.1.2 and F.2.2.1, for the scale's part; the usual window is our own figure.

    >>> off_target(1.93, 1.9, None, ScaleNoise(0.01, 0.005)) is None
    True
    """
    window = half_width_g(own_window_g, target_g)
    uncertainty = COVERAGE_K * difference_uncertainty_g(noise.step_g, noise.repeatability_g, noise.error_bound_g)
    if abs(oil_g - target_g) <= window + uncertainty + _ROUNDING_G:
        return None
    return OffTarget(oil_g, target_g, window, bool(own_window_g), uncertainty, noise.step_g)
