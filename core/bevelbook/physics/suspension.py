"""Oil with wear in it: dark oil is not thick oil."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.sources import Source
from bevelbook.physics.shim_mass import STEEL_G_CM3

EINSTEIN: Final = Source(
    "paper",
    "Einstein: Eine neue Bestimmung der Moleküldimensionen, with the correction of 1911",
    "Annalen der Physik 19 and 34",
    "1906",
    "p. 289 and p. 591",
    "quoted in a page of the University of Wisconsin-Milwaukee: k* = (1 + 2.5 φ) k",
)
PER_SHARE: Final = 2.5
DARK: Final = ("grey", "black")
"""What an opening calls oil with fine wear in it."""
_WEAR_G, _OIL_G, _OIL_G_CM3 = 0.05, 1.5, 0.97


def thicker_by_share(
    solid_mass_g: float, oil_mass_g: float, solid_g_cm3: float = STEEL_G_CM3, oil_g_cm3: float = _OIL_G_CM3
) -> float:
    """How much thicker fine particles make an oil, as a share: 2.5 times their share of the volume (Einstein).

    Valid for few (under about 2 % of the volume), small, round ones that do not cling together.

    >>> round(thicker_by_share(0.05, 1.5), 4)
    0.0103
    """
    solid = solid_mass_g / solid_g_cm3
    return PER_SHARE * solid / (solid + oil_mass_g / oil_g_cm3)


def dark_oil_words(found: str | None) -> str | None:
    """What grey or black oil means, in a sentence; None for oil that is not dark.

    >>> dark_oil_words("clear") is None
    True
    """
    if found not in DARK:
        return None
    share = thicker_by_share(_WEAR_G, _OIL_G)
    return (
        f"dark oil is not thick oil: even {_WEAR_G:g} g of steel in {_OIL_G:g} g of oil makes it {100 * share:.0f} % "
        "thicker (Einstein); change it because the gears wear, not for the feel"
    )
