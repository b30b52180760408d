"""Units: what one is, whether it is declared well, and whether two contradict each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from math import isfinite
from typing import Final, NamedTuple

from bevelbook.declare.errors import shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.sources import Source


class Unit(NamedTuple):
    """One unit: how it is called, how people write it, and how it converts.

    ``name`` is how it is written in declarations and printed: ``km/h``. ``about`` is what it measures, with its
    article: ``a speed``; units about the same convert into each other. A value times ``factor`` plus ``offset`` is the
    value in the base of these, the unit whose factor is 1: 1 km/h is 1 / 3.6 m/s. An offset is for a scale with a zero
    of its own, such as a temperature in °F: 32 °F x 5/9 - 160/9 is 0 °C.

    ``suffix`` is how the name of a field in this unit ends: ``_km_h`` of ``speed_km_h``. A unit without one is taken
    where a person types it, and no field is declared in it. ``exact`` are more spellings, and ``any_case`` those that
    are taken in capitals and small letters alike, each with blanks between; a dot is a blank that belongs to a
    spelling: ``miles·per·hour``. ``ucum`` is its code in The Unified Code for Units of Measure, for other programs: a
    unit with a suffix needs one. ``decimals`` are those that a number in it is shown with; left out, it has three
    significant figures. ``source`` says where the factor is from.

    >>> Unit("km/h", "a speed", 1 / 3.6, "_km_h", any_case="kmh kph", ucum="km/h").spellings
    ('km/h', 'kmh', 'kph')
    """

    name: str
    about: str
    factor: float
    suffix: str | None = None
    exact: str = ""
    any_case: str = ""
    offset: float = 0.0
    ucum: str | None = None
    decimals: int | None = None
    source: Source | None = None

    @property
    def spellings(self) -> tuple[str, ...]:
        """All ways to write it, its name among them."""
        words = (*self.exact.split(), *self.any_case.split())
        return tuple(dict.fromkeys(words if self.name in words else (self.name, *words)))

    @property
    def quantity(self) -> str:
        """What it measures, without the article: ``speed``."""
        return self.about.split(" ", 1)[1]

    def is_same(self, other: Unit) -> bool:
        """Whether it means the same as another: the same size and zero of the same thing."""
        return (
            self.about == other.about
            and abs(self.factor - other.factor) <= 1e-12 * abs(other.factor)
            and abs(self.offset - other.offset) <= 1e-12 * max(abs(other.offset), abs(other.factor))
        )


_LONGEST_NAME: Final = 20
_SUFFIX: Final = late_pattern(r"(_[a-z][a-z0-9]*)+")
_NAME: Final = late_pattern(r"(1?/|[^\W\d]|[%°Δμ])\S*")
_ARTICLE: Final = late_pattern(r"an? \S.*")
_UCUM: Final = late_pattern(r"[!-~]+")
_LOOK_ALIKES: Final = str.maketrans(
    {
        "º": "°",
        "˚": "°",
        "℃": "°C",
        "℉": "°F",
        "K": "K",
        "µ": "μ",
        "²": "2",
        "³": "3",
        "⁻": "-",
        "¹": "1",
        "⋅": "·",
        "•": "·",
        "∙": "·",
        "*": "·",
        "×": "·",
        "∕": "/",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "″": '"',
        "”": '"',
    }
)


def tidy(text: str) -> str:
    """A unit as typed, with look-alike signs unified and spaces as a product: ``PA s`` is ``PA·s``.

    >>> tidy(" Pa s ")
    'Pa·s'
    >>> tidy("mm² / s")
    'mm2/s'
    """
    plain = " ".join(text.translate(_LOOK_ALIKES).split()).rstrip(".").strip()
    for sign in "·/":
        plain = plain.replace(f" {sign}", sign).replace(f"{sign} ", sign)
    return plain.replace(" ", "·").replace("°·", "°").replace("·°", "°")


def fault_of_unit(unit: object) -> str | None:
    """Why an object is not a unit that a plugin may give, in words behind its name; None where it is.

    >>> fault_of_unit(Unit("km/h", "a speed", 0.0, "_km_h", ucum="km/h"))
    'its factor is 0.0, where a number more than 0 is wanted'
    """
    return next(_faults_of_unit(unit), None)


def _faults_of_unit(unit: object) -> Iterator[str]:
    if not isinstance(unit, Unit):
        yield "it is not a Unit"
        return
    for of in ("name", "about", "exact", "any_case"):
        value = getattr(unit, of)
        if not isinstance(value, str):
            yield f"its {of} is {shown(repr(value))}, where words are wanted"
            return
        if not value.isprintable():
            yield f"its {of} has signs that cannot be printed"
    if not _NAME.fullmatch(unit.name) or len(unit.name) > _LONGEST_NAME:
        yield f"its name is {shown(unit.name)}, where a short word without blanks, such as km/h, is wanted"
    if not _ARTICLE.fullmatch(unit.about):
        yield f"it is about {shown(unit.about)}: say what it measures with its article, as in 'a speed'"
    if not _is_finite(unit.factor) or unit.factor <= 0:
        yield f"its factor is {unit.factor!r}, where a number more than 0 is wanted"
    if not _is_finite(unit.offset):
        yield f"its offset is {unit.offset!r}, where a number is wanted"
    if unit.suffix is not None and not (isinstance(unit.suffix, str) and _SUFFIX.fullmatch(unit.suffix)):
        yield f"its suffix is {unit.suffix!r}, where small letters after a _ are wanted, as in '_km_h'"
    if unit.suffix is not None and unit.ucum is None:
        yield "it has no ucum, its code for other programs"
    if unit.ucum is not None and not (isinstance(unit.ucum, str) and _UCUM.fullmatch(unit.ucum)):
        yield f"its ucum is {unit.ucum!r}, where a code of plain letters, digits and signs without blanks is wanted"
    if unit.decimals is not None and not (type(unit.decimals) is int and 0 <= unit.decimals <= 12):
        yield f"its decimals are {unit.decimals!r}, where a whole number from 0 to 12 is wanted"
    if not isinstance(unit.source, Source | None):
        yield f"its source is {unit.source!r}, where a Source is wanted"


def _is_finite(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and isfinite(value)


def clash_of(unit: Unit, held: Iterable[Unit]) -> str | None:
    """What a unit contradicts among units that are there, in words behind its name; None where it contradicts none.

    Two that mean the same may share spellings, a suffix and a name.

    >>> here = Unit("km/h", "a speed", 1 / 3.6, "_km_h", ucum="km/h")
    >>> clash_of(Unit("kmh", "a speed", 1.0, "_km_h", ucum="km/h"), (here,))
    'its suffix _km_h is that of km/h'
    """
    for one in held:
        if unit.suffix is not None and one.suffix is not None:
            if unit.name == one.name and not (unit.is_same(one) and unit.suffix == one.suffix):
                return f"there is a unit {one.name} already, {one.about} with the suffix {one.suffix}"
            if unit.suffix and unit.suffix == one.suffix and unit.name != one.name:
                return f"its suffix {unit.suffix} is that of {one.name}"
        if unit.about == one.about and not unit.is_same(one):
            words, in_any_case = _words_of(unit)
            theirs, theirs_in_any_case = _words_of(one)
            both = (words & theirs) | (in_any_case & theirs_in_any_case)
            both |= {word for word in words if word.lower() in theirs_in_any_case}
            both |= {word for word in theirs if word.lower() in in_any_case}
            if both:
                return f"the spelling {min(both)} is one of {one.name} already, which is another size of {one.quantity}"
    return None


@cache
def _words_of(unit: Unit) -> tuple[set[str], set[str]]:
    """Its spellings that count as they are written, and those that count in small letters."""
    in_any_case = {tidy(word).lower() for word in unit.any_case.split()}
    words = {tidy(word) for word in unit.exact.split()}
    return words if tidy(unit.name).lower() in in_any_case else words | {tidy(unit.name)}, in_any_case
