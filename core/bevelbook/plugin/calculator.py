"""The calculator contract: a pure computation that a plugin offers.

A calculator takes one record (``given``) and returns another (``found``); both are declared with
:mod:`bevelbook.declare.fields`. ``compute`` and ``judge`` are pure: plain floats, no clock, no file, no database. At
most one listing goes in and one comes out. Outside the valid range it raises ``InputError`` where the physics breaks,
and adds a finding where it only extrapolates.

Each function is wrapped by :func:`bevelbook.plugin.guard.call` as it is declared, and its result is checked against the
declaration (:mod:`bevelbook.plugin.returned_values`): a caller gets what was declared, an InputError or a PluginFault.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from functools import partial, update_wrapper
from types import MappingProxyType
from typing import Any, Final, Generic, NamedTuple, TypeVar

from bevelbook.declare.errors import DeclarationError, InputError, Place, PluginFault, with_article
from bevelbook.declare.fields import Field, field_of, fields_of, make_quickly, record_from
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.sources import Source
from bevelbook.plugin import guard
from bevelbook.plugin.declared import fault_of_version, faults_of_example, faults_of_fields, is_name_of_calculator
from bevelbook.plugin.elsewhere import Elsewhere
from bevelbook.plugin.guard import CodeOwner, fault_of_text, plain_text, safe_repr, text_taken, texts_taken
from bevelbook.plugin.odd_inputs import looking_at_inputs
from bevelbook.plugin.on_bench import OnBench, passes_taken, waits_taken
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.returned_values import (
    Judgement,
    Verdict,
    judgement_taken,
    lines_taken,
    picture_taken,
    record_taken,
    take_quickly,
    working_taken,
)
from bevelbook.plugin.where_shown import CARD_PARTS, MORE, PAGE_KINDS, ForConditions, ForForecast, OnCard, PageKind

G = TypeVar("G")
F = TypeVar("F")
T = TypeVar("T")
NOTHING_IN_PLACE: Final[Mapping[str, str]] = MappingProxyType({})


class OneOf(NamedTuple):
    """Alternatives: at least one group of inputs has to be given complete (exactly one if ``exclusive``)."""

    groups: tuple[tuple[str, ...], ...]
    exclusive: bool = False

    def after(self, beginning: str) -> Sentence:
        """A sentence that ends in the alternatives."""
        return Sentence(beginning, *self._parts())

    def _parts(self) -> Iterator[str | Named]:
        longest = max(map(len, self.groups))
        mark = ";" if longest > 2 else "," if longest > 1 or len(self.groups) > 2 else ""
        for number, group in enumerate(self.groups, start=1):
            if number > 1:
                yield f"{mark} or " if number == len(self.groups) else f"{mark} "
            for place, name in enumerate(group, start=1):
                if place > 1:
                    yield " and " if place == len(group) else ", "
                yield Named(name)


class Worked(NamedTuple):
    """A worked example: inputs as a person types them, outputs with a tolerance, and where they are printed.

    ``given`` maps an input's name to its text (a listing: to a list of texts). ``expected`` maps an output's name
    to a number or a word; ``verdict`` is checked when named.
    """

    given: dict[str, str | list[str]]
    expected: dict[str, float | str | None]
    tolerance: float
    source: Source
    verdict: Verdict | None = None


class Formula(Generic[G, F]):
    """A computation with typed inputs and outputs. Core uses some of them; every calculator is one.

    title       for people: ``Fill target``
    given/found  the records that go in and come out
    compute     ``given -> found``; raises InputError (through :func:`refuse`) where the physics breaks
    judge       ``(given, found) -> Judgement``
    working     ``(given, found) -> lines``: the formula and the values put in, for "How this was worked out"
    one_of      alternatives among the inputs
    settled     ``(given, found) -> found``: what follows from an uncertainty or interval among the outputs, after what
                was typed with ± has been combined with it (``uncertainty_of``, ``low_of`` and ``high_of`` of a field)
    read_now    inputs that are read off at this moment (what the scale shows): first on the form, and never taken from
                a result that was kept
    seen_first  inputs that the form shows at once though they may be left empty; others like them are folded

    ``elsewhere`` calls its functions in another process; None where they run in this one.
    """

    elsewhere: Elsewhere | None = None

    def __init__(
        self,
        *,
        title: str,
        given: type[G],
        found: type[F],
        compute: Callable[[G], F],
        judge: Callable[[G, F], Judgement],
        working: Callable[[G, F], tuple[str, ...]],
        one_of: tuple[OneOf, ...] = (),
        read_now: tuple[str, ...] = (),
        seen_first: tuple[str, ...] = (),
        settled: Callable[[G, F], F] | None = None,
    ) -> None:
        self.name = title.lower()
        self.title = title
        self.given = given
        self.found = found
        self.compute: Callable[[G], F] = self._guarded("compute", compute, lambda one: record_taken(found, one), True)
        self.judge: Callable[[G, F], Judgement] = self._guarded("judge", judge, judgement_taken, True)
        self.working: Callable[[G, F], tuple[str, ...]] = self._guarded("working", working, working_taken)
        self.settled: Callable[[G, F], F] | None = settled and self._guarded(
            "settled", settled, lambda one: record_taken(found, one), True
        )
        self.one_of = one_of
        self.read_now = read_now
        self.seen_first = seen_first
        self.inputs = fields_of(given)
        self.outputs = tuple(field for field in fields_of(found) if field.kind != "listing")
        self.listing_in = _first_listing(given)
        self.listing_out = _first_listing(found)

    @property
    def owner(self) -> CodeOwner:
        """How a fault names it."""
        return CodeOwner(f"the formula {self.name}", is_core=True)

    def _guarded(
        self, part: str, function: Callable[..., object], taken: Callable[[Any], T], may_refuse: bool = False
    ) -> Callable[..., T]:
        """One of the formula's functions, called through the guard."""

        def through(*given: Any) -> T:
            if self.elsewhere is not None:
                called = partial(self.elsewhere.called, self, part)
                return guard.call(self.owner, part, called, *given, taken=taken, may_refuse=may_refuse)
            try:
                return guard.call(self.owner, part, function, *given, taken=taken, may_refuse=may_refuse)
            except PluginFault as fault:
                if fault.may_be_inputs:
                    fault.remedy = looking_at_inputs(fault.remedy or "", *given[:1])
                raise

        return update_wrapper(through, function, assigned=(), updated=())

    def ready_for_many(self) -> None:
        """Compile what makes and checks its records, before it is run for thousands."""
        for side in (self.given, self.found):
            make_quickly(side)
        take_quickly(self.found)

    def check_alternatives(self, present: set[str]) -> None:
        """Raise InputError unless the inputs that are present satisfy every ``one_of``."""
        for choice in self.one_of:
            whole = [group for group in choice.groups if present.issuperset(group)]
            if not whole:
                lacking = _nearest(choice.groups, present)
                raise InputError(
                    OneOf(lacking).after(f"{self.name} needs "),
                    code="missing_input",
                    remedy="Give one of these."
                    if len(lacking) > 1
                    else "Give it."
                    if len(lacking[0]) == 1
                    else "Give them.",
                )
            if choice.exclusive and len(whole) > 1:
                raise InputError(
                    choice.after(f"{self.name} takes only one of "),
                    code="too_many_inputs",
                    remedy="Leave the others out.",
                )

    def given_from(self, kept: str) -> G | None:
        """The inputs of a kept calculation from its JSON; None if they no longer fit, as :meth:`found_from` says."""
        return record_from(self.given, kept)

    def found_from(self, kept: str, rows: str | None = None) -> F | None:
        """The outputs of a kept calculation from its JSON and that of its rows; None if they no longer fit.

        A calculation of an earlier version fits if its outputs have the current names and kinds.
        """
        return record_from(self.found, kept, rows)


class Calculator(Formula[G, F]):
    """One calculator, declared: a formula with a name, words and sources, and where it is shown and kept.

    name        its name on the command line: lower-case words joined by hyphens
    question    the question it answers, one sentence, for its page
    purpose     one line for lists
    version     from 1 to 2**63 - 1, raised whenever a number would change
    valid       the valid range, in words, a line each
    sources     where the formulas and limits come from
    cautions    the usual cautions of the work, each a key of ``cautions.csv``, or a text of a plugin's own
    worked      at least one worked example with where its expected value is printed
    answer      the main output (shown large)
    in_place_of  for an output, the one that is shown in its place wherever that one has a value
    picture     ``(given, found) -> SVG``: a drawing of the answer for pages and cards, optional
    of          the kind of record that it is for, on the card and after a record was written; default a build
    card        how it is shown on the card of a build; see :class:`bevelbook.plugin.where_shown.OnCard`
    bench       what it gives to a screen of the bench; see :class:`bevelbook.plugin.on_bench.OnBench`
    kept_after  kinds of record: after one is written, core runs it for every record of the kind ``of`` that is that
                record or leads to it by references, and keeps the result as a row
    page        kinds of record whose page offers it for the record
    for_conditions  the inputs that take grip, track temperature and position on the page that finds what worked
    for_forecast    the inputs that take the weather to come, on the page of the oil for the afternoon
    of_a_pair   whether its result describes a pair of builds, and neither of them alone
    replaces    the name of a calculator of another plugin whose place it takes, on purpose. Whoever asks for that one
                by its name gets this one. Best under a name of its own, as kept results go by name: under the same name
                its version has to be higher than the other's. What it does not declare of ``card``, ``kept_after``,
                ``page``, ``for_conditions`` and ``for_forecast`` it takes over, as far as it has those inputs

    ``origin`` is the plugin that offers it; the registry sets it when it registers the calculator, and ``replacing``,
    which says what it replaces and whose it is, where it does.
    """

    origin: Origin | None = None
    replacing: str = ""
    _owner: CodeOwner | None = None

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
        in_place_of: Mapping[str, str] = NOTHING_IN_PLACE,
        cautions: tuple[str, ...] = (),
        one_of: tuple[OneOf, ...] = (),
        read_now: tuple[str, ...] = (),
        seen_first: tuple[str, ...] = (),
        picture: Callable[[G, F], str] | None = None,
        of: str = "build",
        card: OnCard[G, F] | None = None,
        bench: OnBench[G, F] | None = None,
        kept_after: tuple[str, ...] = (),
        page: tuple[PageKind, ...] = (),
        for_conditions: ForConditions | None = None,
        for_forecast: ForForecast | None = None,
        of_a_pair: bool = False,
        settled: Callable[[G, F], F] | None = None,
        replaces: str | None = None,
    ) -> None:
        super().__init__(
            title=title,
            given=given,
            found=found,
            compute=compute,
            judge=judge,
            working=working,
            one_of=one_of,
            read_now=read_now,
            seen_first=seen_first,
            settled=settled,
        )
        self.name = plain_text(name) if isinstance(name, str) else name
        self.question = question
        self.purpose = purpose
        self.version = version
        self.valid = valid
        self.sources = sources
        self.worked = worked
        self.answer = answer
        self.in_place_of = in_place_of
        self.declared_cautions = cautions
        self.picture: Callable[[G, F], str] | None = picture and self._guarded("picture", picture, picture_taken)
        self.of = of
        self.card = self._guarded_card(card) if isinstance(card, OnCard) else card
        self.bench = self._guarded_bench(bench) if isinstance(bench, OnBench) else bench
        self.kept_after = kept_after
        self.page = page
        self.for_conditions = for_conditions
        self.for_forecast = for_forecast
        self.of_a_pair = of_a_pair
        self.replaces = plain_text(replaces) if isinstance(replaces, str) else replaces
        self._check()

    def __repr__(self) -> str:
        return f"Calculator({self.name!r}, version={self.version})"

    @property
    def owner(self) -> CodeOwner:
        owner = self._owner
        if owner is None or owner.origin is not self.origin:
            owner = self._owner = CodeOwner(f"calculator {self.name}", self.origin)
        return owner

    def take_place_of(self, other: Calculator[Any, Any]) -> None:
        """Take over where the other one is shown and kept, as far as this one has what that needs and does not say
        something else itself."""
        inputs = {field.name for field in self.inputs}
        if self.of == other.of:
            self.kept_after = self.kept_after or other.kept_after
            if self.card is None and other.card is not None:
                shown_there = tuple(one for one in other.card.inputs if one.input in inputs)
                supplied = tuple(one for one in other.card.supplied if one.input in inputs)
                self.card = OnCard(other.card.part, shown_there, supplied=supplied, asks=other.card.asks)
        self.page = self.page or other.page
        if (
            self.for_conditions is None
            and other.for_conditions
            and inputs.issuperset(filter(None, other.for_conditions))
        ):
            self.for_conditions = other.for_conditions
        if self.for_forecast is None and other.for_forecast and inputs.issuperset(filter(None, other.for_forecast)):
            self.for_forecast = other.for_forecast

    def answer_of(self, found: F) -> Field:
        """The main output of a result: ``answer``, or what is shown in its place."""
        other = self.in_place_of.get(self.answer)
        name = self.answer if other is None or getattr(found, other) is None else other
        return next(field for field in self.outputs if field.name == name)

    def shown_outputs(self, found: F) -> tuple[Field, ...]:
        """The outputs of a result that are shown to people, each once: those with another in their place left out."""
        left_out = {name for name, other in self.in_place_of.items() if getattr(found, other) is not None}
        return tuple(field for field in self.outputs if field.name not in left_out)

    @property
    def cautions(self) -> tuple[str, ...]:
        """The cautions in words; for one that is not in the table, that its words are missing.

        The table is read only when they are needed.
        """
        from bevelbook.reference import caution_in_words

        return tuple(self._caution(one, caution_in_words) for one in self.declared_cautions)

    @property
    def short_cautions(self) -> tuple[str, ...]:
        """The same, each in one short sentence; :attr:`cautions` says all of it."""
        from bevelbook.reference import short_caution

        return tuple(self._caution(one, short_caution) for one in self.declared_cautions)

    def _caution(self, key_or_text: str, in_words: Callable[[str], str]) -> str:
        try:
            return in_words(key_or_text)
        except DeclarationError:
            return f"{key_or_text} (its words are missing; ask the author of {self.owner.name} before you start)"

    def _guarded_card(self, card: OnCard[G, F]) -> OnCard[G, F]:
        return card._replace(
            lines=card.lines and self._guarded("the lines of its card", card.lines, lines_taken),
            passes=card.passes and self._guarded("the passes of its card", card.passes, texts_taken),
            picture_words=card.picture_words
            and self._guarded("the words of its picture", card.picture_words, text_taken),
        )

    def _guarded_bench(self, bench: OnBench[G, F]) -> OnBench[G, F]:
        return bench._replace(
            waits=bench.waits and self._guarded("the waits of its bench", bench.waits, waits_taken),
            passes=bench.passes and self._guarded("the passes of its bench", bench.passes, passes_taken),
        )

    def _check(self) -> None:
        for faults in (self._faults_of_kind, self._faults, self._faults_of_surfaces):
            for fault in faults():
                raise self._declared_wrongly(fault)

    def _declared_wrongly(self, fault: str) -> DeclarationError:
        return DeclarationError(f"calculator {self.name!r}: {fault}", code="calculator_declared_wrongly")

    def _faults_of_kind(self) -> Iterator[str]:
        """Attributes of the wrong type: they would fail later, where the cause is not visible."""
        for name in ("name", "title", "question", "purpose", "answer", "of"):
            reason = fault_of_text(getattr(self, name))
            if reason is not None:
                yield f"{name} is {reason}"
        held: tuple[tuple[str, type[Any]], ...] = (
            ("valid", str),
            ("sources", Source),
            ("worked", Worked),
            ("declared_cautions", str),
            ("one_of", OneOf),
            ("read_now", str),
            ("seen_first", str),
            ("kept_after", str),
            ("page", str),
        )
        for name, kind in held:
            values = getattr(self, name)
            if not isinstance(values, tuple) or not all(isinstance(one, kind) for one in values):
                yield f"{name.removeprefix('declared_')} has to be a tuple of {kind.__name__}"
        if self.replaces is not None and (reason := fault_of_text(self.replaces)):
            yield f"replaces is {reason}"
        if reason := fault_of_version(self.version):
            yield reason
        if not isinstance(self.card, OnCard | None):
            yield "card has to be an OnCard"
        if not isinstance(self.bench, OnBench | None):
            yield "bench has to be an OnBench"
        if not isinstance(self.for_conditions, ForConditions | None):
            yield "for_conditions has to be a ForConditions"
        if not isinstance(self.for_forecast, ForForecast | None):
            yield "for_forecast has to be a ForForecast"
        for side in (self.given, self.found):
            yield from faults_of_fields(side)
        for name, texts in (("valid", self.valid), ("cautions", self.declared_cautions)):
            yield from (f"{name} has {reason}" for one in texts if (reason := fault_of_text(one)))
        for number, worked in enumerate(self.worked, start=1):
            yield from (f"worked example {number}: {fault}" for fault in faults_of_example(*worked))

    def _faults(self) -> Iterator[str]:
        if not is_name_of_calculator(self.name):
            yield (
                "the name has to be lower-case words joined by hyphens, the last one not 'rows' or 'latest', as the "
                "views of its results end"
            )
        if not self.worked:
            yield "it has no worked example"
        if not self.sources:
            yield "it names no source"
        for side in (self.given, self.found):
            if not fields_of(side):
                yield f"{safe_repr(side)} has no fields"
        if sum(field.kind == "listing" for field in fields_of(self.found)) > 1:
            yield "more than one listing comes out"
        if any(field.required for field in _listings(self.given)[1:]):
            yield "of several listings that go in only the first may be needed"
        for choice in self.one_of:
            yield from self._unknown_inputs("one_of", (name for group in choice.groups for name in group))
        yield from self._unknown_inputs("read_now", self.read_now)
        yield from self._unknown_inputs("seen_first", self.seen_first)
        yield from self._unknown_inputs("until_typed", (name for field in self.inputs for name in field.until_typed))
        outputs = {field.name for field in self.outputs if field.is_number and not field.exact}
        for field in self.outputs:
            for name in field.spread_of:
                if name not in outputs:
                    yield f"{field.name} is of {name!r}, which is not an output that carries uncertainty"
        if self.answer not in {field.name for field in fields_of(self.found)}:
            yield f"answer {self.answer!r} is not an output"
        for name in (one for pair in self.in_place_of.items() for one in pair):
            if name not in {field.name for field in self.outputs}:
                yield f"in_place_of names {name!r}, which is not an output"

    def _faults_of_surfaces(self) -> Iterator[str]:
        if self.bench is not None:
            yield from self._unknown_inputs("bench", self.bench.asks)
        if self.for_conditions is not None:
            yield from self._unknown_inputs("for_conditions", (name for name in self.for_conditions if name))
        if self.for_forecast is not None:
            yield from self._unknown_inputs("for_forecast", (name for name in self.for_forecast if name))
        for page in self.page:
            if page not in PAGE_KINDS:
                yield f"page names {page!r}; pages that offer calculators: {', '.join(PAGE_KINDS)}"
        if self.card is None:
            return
        if self.card.part not in CARD_PARTS:
            yield f"card names the part {self.card.part!r}; the parts: {', '.join(CARD_PARTS)}"
        if self.card.part != MORE and self.of != "build" and (self.of, self.card.part) != ("seal_fitting", "seals"):
            yield f"the part {self.card.part!r} of the card is not about {with_article(self.of)}"
        yield from self._unknown_inputs("card", self.card.named_inputs)

    def check_records(self) -> None:
        """Raise DeclarationError where ``of``, ``card`` or ``kept_after`` name an unknown record or field.

        Separate from the other checks, so that a command that needs no record does not load their declarations.
        """
        for fault in self._faults_of_records():
            raise self._declared_wrongly(fault)

    def _faults_of_records(self) -> Iterator[str]:
        from bevelbook.records import BY_NAME, linked

        if self.of not in BY_NAME or not BY_NAME[self.of].own:
            yield f"of names {self.of!r}, which is not a record of the team"
            return
        if self.card is not None and self.card.part == MORE and self.of != "build":
            named = {field.target for field in BY_NAME["build"].fields if field.target} - {"build"}
            if self.of not in named:
                yield f"the card is of a build, which names no {self.of}; it names {', '.join(sorted(named))}"
        fields = {field.name for field in BY_NAME[self.of].fields}
        if self.card is not None and (unknown := sorted(set(self.card.named_fields) - fields)):
            yield f"card names {', '.join(unknown)}, which is not a field of {self.of}"
        for kind in self.kept_after:
            if kind not in BY_NAME or not BY_NAME[kind].own:
                yield f"kept_after names {kind!r}, which is not a record of the team"
                return
        for kind in self.kept_after:
            if not any(linked(through, kind) and linked(through, self.of) for through in (self.of, *self.kept_after)):
                yield f"kept_after names {kind!r}, from which no reference leads to {with_article(self.of)} or back"

    def _unknown_inputs(self, where: str, names: Iterable[str]) -> Iterator[str]:
        unknown = sorted(set(names) - {field.name for field in self.inputs})
        if unknown:
            yield f"{where} names {', '.join(unknown)}, which is not an input"


def _nearest(groups: tuple[tuple[str, ...], ...], present: set[str]) -> tuple[tuple[str, ...], ...]:
    """What the alternatives lack: of those that are begun the ones that lack least, of none begun all."""
    lacking = [tuple(name for name in group if name not in present) for group in groups]
    begun = [names for names, group in zip(lacking, groups, strict=True) if len(names) < len(group)]
    fewest = min(map(len, begun), default=0)
    return tuple(names for names in begun if len(names) == fewest) or groups


def _listings(side: type[Any]) -> list[Field]:
    return [field for field in fields_of(side) if field.kind == "listing"]


def _first_listing(side: type[Any]) -> Field | None:
    return next(iter(_listings(side)), None)


@contextmanager
def about_inputs(**inputs: str) -> Iterator[None]:
    """Have an error of the physics name an input: ``with about_inputs(other_c="reference_temperature_c"): ...``.

    The physics names the argument that is wrong; it is the input of that name unless ``inputs`` gives another.
    """
    try:
        yield
    except InputError as fault:
        if fault.place.field in inputs:
            fault.place = fault.place._replace(field=inputs[fault.place.field])
        raise


def refuse(
    record: type[Any] | object, name: str, what: str, *, remedy: str, code: str = "outside_valid_range"
) -> InputError:
    """The error for an input outside the physics; ``raise refuse(Given, "ball_diameter_mm", ...)``.

    ``remedy`` names other inputs by ``Sentence("Give ", Named("arm_mm"), ".")``.
    """
    return InputError(what, code=code, place=Place(field=field_of(record, name).name), remedy=remedy)
