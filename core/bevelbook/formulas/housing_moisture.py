"""The water in a plastic housing: how far it can move a mass between two days, and what an empty sister housing takes
off.

Air dries and wets a housing. Between two days the water in it may change by

    u = m c(50 %) √(((60 - 30)² + (80 - 20)²) / 12) / 50 √(days / 50), at most what it is after 50 days,

with m the mass of the housing and c(50 %) the share of water at 23 °C and 50 % humidity, the highest that a source
gives for the material (``water_uptake.csv``). What rests on what:

- The water at rest goes with the humidity of the air. PA66 holds up to 5 % at 90 % humidity (Broudin and others,
  European Polymer Journal 67 (2015) 326-334, the abstract was read); this line gives 3 to 5.4 %.
- The diff is kept in a room at 30 to 60 % humidity and goes to where it is 20 to 80 %, with even chances (our own
  figure; 40 to 80 % outdoors, in heated rooms half of it and in winter under 20 %: ABB, storage advice for
  polyamide products, read).
- Water creeps in by diffusion, with the root of time. A wall of 2 to 3 mm needs several months for all of it (article
  on conditioning in a public encyclopedia, read): a diffusion coefficient of about 4e-13 m²/s (from memory 1e-13 to
  1e-12). A wall of 1.5 mm, wet from outside alone, then has all after π L² / 4 D = 51 days. That the inside counts
  as dry, the wall and the 50 days are our own figure.

The same day there is no such term. A housing whose material is not noted counts as unfilled nylon, one that was never
weighed as 5 g (proposals).
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from math import sqrt
from typing import Final, Literal, NamedTuple

from bevelbook.physics.weighing import COVERAGE_K
from bevelbook.reference import rows

ROOM_PERCENT: Final = (30.0, 60.0)
TRACK_PERCENT: Final = (20.0, 80.0)
"""Humidity of the air where a diff is kept and where it is run, with even chances (our own figures)."""
ALL_THROUGH_DAYS: Final = 50.0
"""Days after which the water in a wall of 1.5 mm has followed the air (our own figure)."""
USUAL_HOUSING_G: Final = 5.0
"""Case and lid without metal parts, where nobody weighed them (our own figure)."""
_AT_PERCENT: Final = 50.0
_HUMIDITY_SPREAD: Final = (
    sqrt(sum((high - low) ** 2 / 12.0 for low, high in (ROOM_PERCENT, TRACK_PERCENT))) / _AT_PERCENT
)
SisterState = Literal["none", "late", "doubtful"]
"""A sister housing that was not weighed; that was not weighed at the first weighing; whose mass cannot be right."""
_OF_THE_SISTER: Final[dict[SisterState, str]] = {
    "none": "weigh an empty sister housing alongside",
    "late": "weigh the sister housing with the build too, next time",
    "doubtful": "weigh the sister housing again",
}
_WORTH_SAYING: Final = 0.5
"""Water is named where it moves the mass by this share of what the scale itself may be off (proposal)."""

NYLON: Final = "PA6 and PA66"
_FILLER: Final = r"(?:glass|carbon|fib(?:re|er)s?|gf ?\d*|cf ?\d*|fill(?:ed|er|ers|ing)?|reinforced|reinforcement)"
_NOT: Final = r"\b(?:un|0 ?% ?|(?:no|not|non|without|zero|never)\b[\s-]*)"
_LEFT_OUT: Final = (
    rf"{_NOT}(?:{_FILLER}\b[\s-]*)+",
    rf"\b{_FILLER}[\s-]*free\b",
    r"(?<![a-z])gf ?0\b",
    r"\b(?:no|not|non|without|never)\b[\s-]*(?:an? |the )?\w+",
)
"""Words that say what a housing is not made of: without them the rest is read."""
_NYLONS: Final = r"(?:\bnylon|\bpolyamide?\b|\bpa\b|\bpa ?\d)"
_GLASS: Final = r"(?:\bglass|(?<![a-z])gf|\bfib(?:re|er)|\bfilled|\breinforced)"
_ACETAL: Final = r"(?:\bpom\b|\bacetal\b|\bpolyoxymethylene\b)"
_GRADES: Final = (
    (r"(?:\bpa|\bnylon|\bpolyamide?)[ -]?(?:6[., ]?12|11|12)\b", "PA12"),
    (rf"{_GLASS}.*{_NYLONS}|{_NYLONS}.*{_GLASS}", "PA6 and PA66 30% glass"),
    (_NYLONS, NYLON),
    (r"\bpolypropylene\b|\bpp\b", "polypropylene"),
    (rf"{_ACETAL}.*\bhomopolymer\b|\bhomopolymer\b.*{_ACETAL}|\bpom[ -]?h\b", "POM homopolymer"),
    (rf"{_ACETAL}|\bpom[ -]?c\b", "POM copolymer"),
    (r"\bpolycarbonate\b|\bpc\b", "polycarbonate"),
    (r"\babs\b", "ABS"),
    (r"\b(?:plastic|polymer|resin|composite|look|coloured|painted|filled)", None),
    (
        r"\balum?\b|\balumini?um\b|\balloy\b|\b(?:2024|5083|6061|6063|6082|7020|7050|7075)\b|\bsteel\b|\bstainless\b|"
        r"\btitanium\b|\bmagnesium\b|\bbrass\b|\bmetal\b",
        "metal",
    ),
)
"""What people call a housing, and its row of the table; the first that fits. None is a name that says too little."""


class Housing(NamedTuple):
    """Case and lid without metal parts: what they are made of and their mass in g, as noted; None where not noted."""

    material: str | None = None
    mass_g: float | None = None

    @property
    def grade(self) -> str | None:
        """Its row of the table; None where the material is not noted or not known."""
        return _grade(self.material or "")

    @property
    def words(self) -> str:
        """What it counts as.

        >>> Housing("nylon", 6.2).words, Housing("acetal").words
        ('the housing of nylon', 'the housing of acetal (5 g assumed)')
        >>> Housing().words, Housing("resin", 5).words
        ('the housing (material not noted: counted as nylon; 5 g assumed)', 'the housing of resin (counted as nylon)')
        """
        counted = [] if self.grade else ["counted as nylon"]
        if not self.material:
            counted = ["material not noted: counted as nylon"]
        if self.mass_g is None:
            counted.append(f"{USUAL_HOUSING_G:g} g assumed")
        named = f"the housing of {self.material}" if self.material else "the housing"
        return f"{named} ({'; '.join(counted)})" if counted else named


@cache
def _grade(material: str) -> str | None:
    name = " ".join(re.split(r"[\s_/,;:()]+", material.lower()))
    for pattern in _LEFT_OUT:
        name = re.sub(pattern, " ", name)
    return next((row for pattern, row in _GRADES if re.search(pattern, name)), None)


@cache
def water_at_50_percent(grade: str) -> float:
    """The largest share of water that a source gives for a material at 23 °C and 50 % humidity, in g per g.

    >>> water_at_50_percent("PA6 and PA66"), water_at_50_percent("POM copolymer"), water_at_50_percent("metal")
    (0.03, 0.002, 0.0)
    """
    known = [row["share_at_50_percent_high"] for row in rows("water_uptake.csv") if row["material"] == grade]
    return max(float(share) for share in known if share)


def takes_up_water(housing: Housing) -> bool:
    """Whether air moves its mass at all; metal it does not.

    >>> takes_up_water(Housing()), takes_up_water(Housing("aluminium"))
    (True, False)
    """
    return _variance_g2(housing) > 0.0


@lru_cache(1024)
def _variance_g2(housing: Housing) -> float:
    """Variance of the water in a housing that follows the air, in g²."""
    mass_g = USUAL_HOUSING_G if housing.mass_g is None else housing.mass_g
    return float((mass_g * water_at_50_percent(housing.grade or NYLON) * _HUMIDITY_SPREAD) ** 2)


def moisture_g(housing: Housing, days: float) -> float:
    """Standard uncertainty (k = 1) of the water that a housing gains or loses in so many days, in g.

    >>> [round(moisture_g(Housing("nylon", 5.0), days), 3) for days in (0, 1, 7, 30, 365)]
    [0.0, 0.008, 0.022, 0.045, 0.058]
    >>> round(moisture_g(Housing("acetal", 5.0), 7), 4), moisture_g(Housing("aluminium", 5.0), 7)
    (0.0014, 0.0)
    """
    return sqrt(_variance_g2(housing) * min(1.0, abs(days) / ALL_THROUGH_DAYS))


def moisture_covariance_g2(housing: Housing, days: float) -> float:
    """Covariance of the water in two readings so many days apart, in g²; with 0 days the variance of one.

    C(d) = u² / 2 max(0, 1 - d / 50 days), so that the difference of two readings has 2 (C(0) - C(d)), which is the
    square of :func:`moisture_g`.

    >>> nylon = Housing("nylon", 5.0)
    >>> apart = 2.0 * (moisture_covariance_g2(nylon, 0.0) - moisture_covariance_g2(nylon, 7.0))
    >>> round(apart**0.5 - moisture_g(nylon, 7.0), 12)
    0.0
    """
    return _variance_g2(housing) / 2.0 * max(0.0, 1.0 - abs(days) / ALL_THROUGH_DAYS)


def is_worth_saying(housing: Housing, days: float, scale_g: float) -> bool:
    """Whether water moves a difference enough to be named, beside ``scale_g``, what the scale may be off (k = 1)."""
    moved = moisture_g(housing, days)
    return moved > 0.0 and moved >= _WORTH_SAYING * scale_g


def moisture_in_words(housing: Housing, days: float, sister: SisterState = "none") -> str:
    """What water does to a loss between days, and what to do about it.

    >>> print(moisture_in_words(Housing("nylon", 5.0), 7.0))
    the housing of nylon takes up and gives off water: ± 0.043 g (k = 2) between these days;
    weigh an empty sister housing alongside
    """
    wide = COVERAGE_K * moisture_g(housing, days)
    return (
        f"{housing.words} takes up and gives off water: ± {wide:.3f} g (k = 2) between these days; "
        f"{water_advice(housing, sister)}"
    )


def water_advice(housing: Housing, sister: SisterState = "none") -> str:
    """What to do where water in the housing hides a loss.

    >>> water_advice(Housing("nylon")), water_advice(Housing())[:40]
    ('weigh an empty sister housing alongside', 'note what the housing is made of, or wei')
    >>> water_advice(Housing("nylon"), "late"), water_advice(Housing("nylon"), "doubtful")
    ('weigh the sister housing with the build too, next time', 'weigh the sister housing again')
    """
    return f"{'' if housing.material else 'note what the housing is made of, or '}{_OF_THE_SISTER[sister]}"


def less_water_g(mass_g: float, sister_mass_g: float, first_sister_mass_g: float) -> float:
    """A reading in g without the water that an empty sister housing of the same kind took up since the first reading.

    >>> round(less_water_g(22.38, 5.01, 4.98), 3)
    22.35
    """
    return mass_g - (sister_mass_g - first_sister_mass_g)


def sister_in_words(water_g: float) -> str:
    """What the sister housing took up, and that it is taken off; a negative figure is what it gave off.

    >>> sister_in_words(0.03), sister_in_words(0.0)
    ('0.03 g of water by the sister housing, taken off', 'no water by the sister housing')
    >>> sister_in_words(-0.02)
    '0.02 g dried off by the sister housing, added back'
    """
    if round(water_g, 3) == 0.0:
        return "no water by the sister housing"
    if water_g > 0.0:
        return f"{_grams(water_g)} of water by the sister housing, taken off"
    return f"{_grams(-water_g)} dried off by the sister housing, added back"


def _grams(value_g: float) -> str:
    return f"{value_g:.3f}".removesuffix("0") + " g"
