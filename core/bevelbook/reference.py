"""The only reader of the reference tables. A row without a source is refused."""

from __future__ import annotations

from bisect import bisect_left
from functools import cache
from math import log
from operator import attrgetter
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from bevelbook.declare.errors import DeclarationError, InputError, Place
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.sources import Source

if TYPE_CHECKING:
    from bevelbook.reading.yaml_text import YamlValue

BUNDLED = "bevelbook_datasets"
RULES_FIRST = "Local rules, the makers' safety sheets and licensed practice go first."
"""The line under every block of cautions."""


class DataSet(NamedTuple):
    """A reference table that a plugin brings: a CSV file, every row with a ``source`` key.

    name     lower-case words joined by ``_``, for its address
    title    for people
    package  the package that holds the file and its ``citations.csv``; of a plugin that is a single file, its folder:
             ``str(Path(__file__).parent)``
    file     the file's name
    """

    name: str
    title: str
    package: str
    file: str


def read_text(package: str, file: str) -> str:
    """A file of an installed package, or of a folder by its whole path, as text."""
    folder = Path(package)
    if folder.is_absolute():
        return (folder / file).read_text(encoding="utf-8")
    from importlib import import_module

    for place in import_module(package).__path__:
        if (on_disk := Path(place, file)).is_file():
            return on_disk.read_text(encoding="utf-8")
    from importlib.resources import files  # takes longer to load than a calculation takes

    return (files(package) / file).read_text(encoding="utf-8")


@cache
def rows(file: str, package: str = BUNDLED) -> tuple[dict[str, str], ...]:
    """The rows of a reference table. Raises DeclarationError for a row that names no known source."""
    import csv

    known = citations(package)
    found = tuple(csv.DictReader(read_text(package, file).splitlines()))
    for number, row in enumerate(found, start=2):
        if row.get("source", "") not in known:
            raise DeclarationError(
                "a reference row without a known source",
                code="row_without_source",
                place=Place(f"{package}/{file}", number, "source"),
                found=row.get("source") or "",
                remedy="Name a key of citations.csv.",
            )
    return found


@cache
def citations(package: str = BUNDLED) -> dict[str, Source]:
    """The sources of a package's tables by key, from its ``citations.csv``.

    Raises DeclarationError with file and line for an incomplete source (see :class:`Source`).
    """
    import csv

    found = {}
    for number, row in enumerate(csv.DictReader(read_text(package, "citations.csv").splitlines()), start=2):
        try:
            found[row["key"]] = Source(
                row["kind"],  # type: ignore[arg-type]
                row["title"],
                row["publisher"],
                row["year"],
                row["where"],
                row["seen"],
            )
        except DeclarationError as fault:
            fault.place = Place(f"{package}/citations.csv", number)
            raise
    return found


class Grade(NamedTuple):
    """One grade of silicone fluid: its nominal viscosity at 25 °C, density at 25 °C and mean expansion 25 to 150 °C."""

    viscosity_cst: float
    density_g_cm3: float
    expansion_per_k: float
    source: str


@cache
def grades() -> tuple[Grade, ...]:
    """The grades of silicone fluid, thin to thick."""
    return tuple(
        Grade(
            float(row["viscosity_cst"]),
            float(row["density_g_cm3"]),
            float(row["expansion_25_150_per_k"]),
            row["source"],
        )
        for row in rows("silicone_grades.csv")
    )


def density_25_g_cm3(viscosity_cst: float) -> float:
    """Density at 25 °C of a silicone fluid by its nominal viscosity, in g/cm3, interpolated over log viscosity.

    Valid from 0.65 to 1,000,000 cSt, the range of the grade table. Raises InputError outside it.

    >>> density_25_g_cm3(7000.0)
    0.975
    """
    table = grades()
    if not table[0].viscosity_cst <= viscosity_cst <= table[-1].viscosity_cst:
        raise InputError(
            "no density is known for that viscosity",
            code="outside_valid_range",
            found=f"{viscosity_cst:g} cSt",
            wanted=f"{table[0].viscosity_cst:g} to {table[-1].viscosity_cst:,.0f} cSt",
            remedy=Sentence("Give ", Named("density_g_cm3"), " at 25 °C in g/cm3 instead."),
        )
    above = bisect_left(table, viscosity_cst, key=attrgetter("viscosity_cst"))
    upper = table[above]
    if upper.viscosity_cst == viscosity_cst:
        return upper.density_g_cm3
    lower = table[above - 1]
    share = log(viscosity_cst / lower.viscosity_cst) / log(upper.viscosity_cst / lower.viscosity_cst)
    return lower.density_g_cm3 + share * (upper.density_g_cm3 - lower.density_g_cm3)


@cache
def _cautions(column: str = "caution") -> dict[str, str]:
    return {row["key"]: row[column] for row in rows("cautions.csv")}


def short_caution(key_or_text: str) -> str:
    """The danger and what to do about it in one short sentence, where the caution of this key says more in full.

    Raises DeclarationError for a key that is not in the table.

    >>> short_caution("oil-on-floor"), short_caution("Mind the gap.")
    ('Oil on the floor is very slippery: soak it up at once and wash with detergent.', 'Mind the gap.')
    """
    return _cautions("short").get(key_or_text) or caution_in_words(key_or_text)


def caution_in_words(key_or_text: str) -> str:
    """The text of a caution by its key in ``cautions.csv``; anything with a space in it is already a text.

    Raises DeclarationError for a key that is not in the table.

    >>> caution_in_words("hot-parts")
    'Let motor, diff and pack cool before you touch them.'
    """
    if " " in key_or_text:
        return key_or_text
    known = _cautions()
    if key_or_text not in known:
        raise DeclarationError(
            "no such caution",
            code="caution_unknown",
            place=Place(f"{BUNDLED}/cautions.csv", column="key"),
            found=key_or_text,
            wanted=", ".join(known),
        )
    return known[key_or_text]


def caution_typed_in(value: YamlValue) -> str:
    """A caution as it stands in a team's file: a key of ``cautions.csv``, or the team's own sentence.

    Raises InputError for what is neither, with near misses.
    """
    text = value.words()
    return text if " " in text else value.one_of(_cautions(), "caution", "or a sentence")
