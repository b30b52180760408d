"""The calculator contract: a pure computation that a plugin offers.

A calculator takes one record (``given``) and returns another (``found``); both are declared with
:mod:`bevelbook.fields`. ``compute`` and ``judge`` are pure: plain floats, no clock, no file, no database. At most one
listing goes in and one comes out. What lies outside the valid range is an ``InputError`` where the physics breaks
and a finding where it merely extrapolates.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final, Generic, Literal, NamedTuple, TypeVar, get_args

from bevelbook.errors import DeclarationError, InputError, Place
from bevelbook.fields import Field, field_of, fields_of
from bevelbook.sources import Source

Verdict = Literal["ok", "caution", "stop", "unclear"]
VERDICTS: Final[tuple[str, ...]] = get_args(Verdict)

G = TypeVar("G")
F = TypeVar("F")


class Judgement(NamedTuple):
    """The verdict in words.

    ``reasons`` say why, in grams, minutes, labels and words first. ``findings`` are things worth a look that do
    not change the verdict (an extrapolation, a value that differs from the last one). A limit that nobody
    published is called ``this project's proposal`` where it is named.
    """

    verdict: Verdict
    reasons: tuple[str, ...]
    findings: tuple[str, ...] = ()


class OneOf(NamedTuple):
    """Alternatives: at least one group of inputs has to be given whole (exactly one where ``exclusive``)."""

    groups: tuple[tuple[str, ...], ...]
    exclusive: bool = False

    def in_words(self) -> str:
        return "; or ".join(" with ".join(group) for group in self.groups)


class Worked(NamedTuple):
    """A worked example: inputs as a person types them, outputs with the tolerance and where they are printed.

    ``given`` maps an input's name to its text (a listing: to a list of texts). ``expected`` maps an output's name
    to a number or a word; ``verdict`` is checked when named.
    """

    given: dict[str, str | list[str]]
    expected: dict[str, float | str | None]
    tolerance: float
    source: Source
    verdict: Verdict | None = None


class Calculator(Generic[G, F]):
    """One calculator, declared.

    name        what it is called on the command line: ``fill-target``
    title       for people: ``Fill target``
    question    the question it answers, one sentence, for its page
    purpose     one line for lists
    version     raised whenever a number would change
    given/found the records that go in and come out
    compute     ``given -> found``; raises InputError (through :func:`refuse`) where the physics breaks
    judge       ``(given, found) -> Judgement``
    working     ``(given, found) -> lines``: the formula and the values put in, for "How this was worked out"
    valid       the valid range, in words, a line each
    sources     where the formulas and limits come from
    cautions    the usual cautions of the work, each a key of ``cautions.csv``, or a text of a plugin's own
    one_of      alternatives among the inputs
    worked      at least one worked example with where its expected value is printed
    answer      the output that the person came for (shown large)
    picture     ``(given, found) -> SVG``: a drawing of the answer for pages and cards, where there is one
    """

    def __init__(
        self,
        *,
        name: str,
        title: str,
        question: str,
        purpose: str,
        version: int,
        given: type[G],
        found: type[F],
        compute: Callable[[G], F],
        judge: Callable[[G, F], Judgement],
        working: Callable[[G, F], tuple[str, ...]],
        valid: tuple[str, ...],
        sources: tuple[Source, ...],
        worked: tuple[Worked, ...],
        answer: str,
        cautions: tuple[str, ...] = (),
        one_of: tuple[OneOf, ...] = (),
        picture: Callable[[G, F], str] | None = None,
    ) -> None:
        self.name = name
        self.title = title
        self.question = question
        self.purpose = purpose
        self.version = version
        self.given = given
        self.found = found
        self.compute = compute
        self.judge = judge
        self.working = working
        self.valid = valid
        self.sources = sources
        self.worked = worked
        self.answer = answer
        self.declared_cautions = cautions
        self.one_of = one_of
        self.picture = picture
        self.inputs = fields_of(given)
        self.outputs = tuple(field for field in fields_of(found) if field.kind != "listing")
        self.listing_in = _only_listing(given)
        self.listing_out = _only_listing(found)
        self._check()

    def __repr__(self) -> str:
        return f"Calculator({self.name!r}, version={self.version})"

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions in words; the table is read only when somebody looks."""
        from bevelbook.reference import caution_in_words

        return tuple(caution_in_words(one) for one in self.declared_cautions)

    def check_alternatives(self, present: set[str]) -> None:
        """Raise InputError unless the inputs that are present satisfy every ``one_of``."""
        for choice in self.one_of:
            whole = [group for group in choice.groups if present.issuperset(group)]
            if not whole:
                named = {name for group in choice.groups for name in group}
                raise InputError(
                    f"{self.name} needs {choice.in_words()}",
                    code="missing_input",
                    found=", ".join(sorted(present & named)) or None,
                    remedy="Give one of these.",
                )
            if choice.exclusive and len(whole) > 1:
                raise InputError(
                    f"{self.name} takes only one of {choice.in_words()}",
                    code="too_many_inputs",
                    remedy="Leave the others out.",
                )

    def _check(self) -> None:
        def refused(what: str) -> DeclarationError:
            return DeclarationError(f"calculator {self.name!r}: {what}", code="calculator_declared_wrongly")

        if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", self.name):
            raise refused("the name has to be lower-case words joined by hyphens")
        if self.version < 1:
            raise refused("the version is a whole number from 1")
        if not self.worked:
            raise refused("it has no worked example")
        if not self.sources:
            raise refused("it names no source")
        for side in (self.given, self.found):
            if not fields_of(side):
                raise refused(f"{side!r} is not a record")
            if sum(field.kind == "listing" for field in fields_of(side)) > 1:
                raise refused("more than one listing on one side")
        names = {field.name for field in fields_of(self.given)}
        for choice in self.one_of:
            unknown = {name for group in choice.groups for name in group} - names
            if unknown:
                raise refused(f"one_of names {', '.join(sorted(unknown))}, which is no input")
        if self.answer not in {field.name for field in fields_of(self.found)}:
            raise refused(f"answer {self.answer!r} is no output")


def _only_listing(side: type[Any]) -> Field | None:
    return next((field for field in fields_of(side) if field.kind == "listing"), None)


def refuse(
    record: type[Any] | object, name: str, what: str, *, remedy: str, code: str = "outside_valid_range"
) -> InputError:
    """The error for an input that the physics cannot take; ``raise refuse(Given, "ball_diameter_mm", ...)``."""
    return InputError(what, code=code, place=Place(column=field_of(record, name).option), remedy=remedy)
