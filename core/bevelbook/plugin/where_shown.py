"""Where a calculator is shown: on the card of a build, on pages, for given conditions.

A calculator declares this itself, so that card and pages need not know any by name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final, Generic, Literal, NamedTuple, TypeVar, get_args

G = TypeVar("G")
F = TypeVar("F")

CardPart = Literal["heat", "bubbles", "shim stack", "seals", "screws", "more"]
CARD_PARTS: Final[tuple[CardPart, ...]] = get_args(CardPart)
MORE: Final[CardPart] = "more"
"""The part for what fits under none of the others; the last one of the card."""
PageKind = Literal["build", "diff", "fluid", "venue"]
PAGE_KINDS: Final[tuple[PageKind, ...]] = get_args(PageKind)
"""The kinds of record with a page of their own that offers calculators."""


class CardLine(NamedTuple):
    """A line of the card: a value with its name and where it came from; without a value it is a box to fill in."""

    name: str
    value: str | None = None
    note: str = ""
    unit: str = ""


class ShownInput(NamedTuple):
    """An input that the card shows, with its unit and where it came from.

    input  the name of the input;  ``words``: its name on the card
    """

    input: str
    words: str


class Supplied(NamedTuple):
    """An input that the card takes from a field of the record that the calculator is for.

    input   the name of the input
    field   the field of that record (a ``build``, a ``seal_fitting``)
    when    the words of that field for which the input is ``text``; without any, the value itself is used
    origin  where it came from, in words; without any, the name of the record
    """

    input: str
    field: str
    when: tuple[str, ...] = ()
    text: str = ""
    origin: str = ""


class Where(NamedTuple):
    """Records whose ``field`` has one of these ``words``."""

    field: str
    words: tuple[str, ...]


class OnCard(NamedTuple, Generic[G, F]):
    """How a calculator is shown on the card of a build: its verdict and reasons under one part, and what it adds.

    A calculator with a place on the card has a line on the bench page of the build too, unless a step of the bench
    names it: then it is on the screen of that step.

    part           the part of the card; ``"more"``, the last one, if it fits under none of the others. It then may be
                   for a build, or for anything that a build names: its diff, its fluid, its bottle, its scale
    inputs         inputs shown as lines
    lines          further lines, a function of what went in and what came out
    passes         what is done one after the other, with a box to tick for each
    picture_words  the picture in words
    supplied       inputs that the record has under another name
    never_default  inputs that are asked for if no record has them, even with a default
    asks           whether the card asks for what is missing: always, never, or of some records
    instead        boxes shown if something is missing and the card does not ask for it
    """

    part: CardPart = MORE
    inputs: tuple[ShownInput, ...] = ()
    lines: Callable[[G, F], Iterable[CardLine]] | None = None
    passes: Callable[[G, F], Iterable[str]] | None = None
    picture_words: Callable[[G, F], str] | None = None
    supplied: tuple[Supplied, ...] = ()
    never_default: tuple[str, ...] = ()
    asks: Literal["always", "never"] | Where = "always"
    instead: tuple[CardLine, ...] = ()

    @property
    def named_inputs(self) -> tuple[str, ...]:
        """The names of all inputs that this mentions."""
        return (
            *(shown.input for shown in self.inputs),
            *(supplied.input for supplied in self.supplied),
            *self.never_default,
        )

    @property
    def named_fields(self) -> tuple[str, ...]:
        """The names of all fields of the record that this mentions."""
        asked = () if isinstance(self.asks, str) else (self.asks.field,)
        return (*(supplied.field for supplied in self.supplied), *asked)


class ForConditions(NamedTuple):
    """The inputs filled with the conditions typed on the page that finds what worked."""

    grip: str
    track_temp_c: str
    position: str | None = None


class ForForecast(NamedTuple):
    """The inputs filled on the page that finds the oil for weather to come: the temperature that a person expects, of
    the track or the air, or how much hotter; and the grip and place of the diff's last run."""

    track_temp_c: str | None = None
    air_temp_c: str | None = None
    hotter_by_c: str | None = None
    grip: str | None = None
    position: str | None = None
