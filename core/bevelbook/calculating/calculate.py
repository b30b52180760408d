"""Run a calculator: bind its inputs, compute, carry uncertainty, judge."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from math import hypot, isfinite, isinf, sqrt
from sys import float_info
from typing import Any, Final, Generic, NamedTuple, TypeVar, cast

from bevelbook.calculating.own_uncertainty import IN_PLACE, combine
from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.declare.errors import BevelbookError, InputError, Place, PluginFault
from bevelbook.declare.fields import LARGEST, Field, field_of, fields_of, items_of
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.formulas.left_out import LEFT_OUT
from bevelbook.plugin.calculator import Calculator, Formula
from bevelbook.plugin.returned_values import Judgement, Verdict
from bevelbook.reading import (
    BY_HAND,
    Measured,
    Options,
    ReadingError,
    implausible,
    read,
    read_listing_values,
    read_measured,
    says_nothing,
)
from bevelbook.reading.numbers import check_bounds, surely_within

NOT_IN_FIGURES: Final = (
    "the uncertainty that was typed counts for the verdict alone: these figures have their own, from readings and scale"
)

G = TypeVar("G")
F = TypeVar("F")
T = TypeVar("T")

_STEP: Final = sqrt(float_info.epsilon)
Texts = Mapping[str, "str | list[str]"]
GIVEN: Final = "given"
"""Where an input comes from that was typed."""
Path = tuple[str, int | None, str | None]
"""The path of a number in the inputs: field, place in a listing, field of its item."""


class Bound(NamedTuple, Generic[G]):
    """The inputs of one calculation, where each came from, and the standard uncertainties that came with them.

    ``k_taken`` are those that were typed without a k and were taken as k = 2.
    """

    given: G
    origins: dict[str, str]
    uncertainties: dict[Path, float]
    findings: tuple[str, ...] = ()
    k_taken: frozenset[Path] = frozenset()


class Read(NamedTuple):
    """A typed input, read."""

    value: Any
    uncertain: Mapping[Path, Measured]
    findings: tuple[str, ...] = ()


class Answer(Generic[G, F]):
    """The result of a formula: typed inputs and outputs, the verdict, and the uncertainties carried."""

    __slots__ = ("bound", "combining", "computed", "formula", "found", "judgement", "uncertainties")

    def __init__(
        self,
        formula: Formula[G, F],
        bound: Bound[G],
        found: F,
        judgement: Judgement,
        uncertainties: dict[str, float | None],
        computed: F | None = None,
        combining: tuple[str, ...] = (),
    ) -> None:
        """``computed`` is what the formula found by itself, where ``found`` holds what was typed with ± as well;
        ``combining`` are the lines of working for that."""
        self.formula = formula
        self.computed = found if computed is None else computed
        self.combining = combining
        self.bound = bound
        self.found = found
        self.judgement = judgement
        self.uncertainties = uncertainties

    @property
    def given(self) -> G:
        return self.bound.given

    @property
    def verdict(self) -> Verdict:
        return self.judgement.verdict

    @property
    def inputs(self) -> dict[str, Any]:
        return plain(self.bound.given)

    @property
    def outputs(self) -> dict[str, Any]:
        return {field.name: clean(getattr(self.found, field.name)) for field in self.formula.outputs}

    @property
    def rows(self) -> list[dict[str, Any]]:
        listing = self.formula.listing_out
        return [plain(item) for item in getattr(self.found, listing.name)] if listing else []

    @property
    def findings(self) -> tuple[str, ...]:
        return (*self.bound.findings, *self.judgement.findings)

    def working(self) -> tuple[str, ...]:
        """The formula with the values put in. Raises PluginFault."""
        return (*self.formula.working(self.bound.given, self.computed), *self.combining)

    def working_or_fault(self) -> tuple[tuple[str, ...], PluginFault | None]:
        """The same, for output that must always be shown: if the working fails, what went wrong instead."""
        try:
            return self.working(), None
        except PluginFault as fault:
            return (fault.in_words(),), fault

    def as_dict(self) -> dict[str, Any]:
        """The result, for programs."""
        return {
            "inputs": self.inputs,
            "outputs": self.outputs,
            "standard_uncertainties_k1": self.uncertainties,
            "input_standard_uncertainties_k1": {
                path_in_words(path): one for path, one in self.bound.uncertainties.items()
            },
            "taken_as_k2": sorted(map(path_in_words, self.bound.k_taken)),
            "rows": self.rows,
            "verdict": self.verdict,
            "reasons": list(self.judgement.reasons),
            "findings": list(self.findings),
            "origins": self.bound.origins,
        }


class Result(Answer[Any, Any]):
    """One calculation of a calculator, done."""

    __slots__ = ("calculator",)

    def __init__(self, calculator: Calculator[Any, Any], answer: Answer[Any, Any]) -> None:
        super().__init__(
            calculator,
            answer.bound,
            answer.found,
            answer.judgement,
            answer.uncertainties,
            answer.computed,
            answer.combining,
        )
        self.calculator = calculator

    def picture_or_fault(self) -> tuple[str | None, PluginFault | None]:
        """The drawing of the answer, where the calculator makes one; if that fails, what went wrong."""
        if self.calculator.picture is None:
            return None, None
        try:
            return self.calculator.picture(self.bound.given, self.found), None
        except PluginFault as fault:
            return None, fault

    def as_dict(self) -> dict[str, Any]:
        """The result for programs."""
        return {
            "calculator": self.calculator.name,
            "version": self.calculator.version,
            **({"replaces": self.calculator.replaces} if self.calculator.replacing else {}),
            **super().as_dict(),
            "sources": [source.cite() for source in self.calculator.sources],
        }


def bind(
    formula: Formula[G, Any],
    texts: Texts,
    known: Mapping[str, tuple[Any, str]] | None = None,
    options: Options | None = None,
) -> Bound[G]:
    """The inputs of one calculation; see :class:`Binder`."""
    return Binder(formula, texts, options).bind(known or {})


class Binder(Generic[G]):
    """Collects the inputs: what the user typed, else the value of the chosen record, else the default.

    ``texts`` maps an input's name to its text (a listing: to a list of texts). They are the same for every record, so
    each is read once.
    """

    def __init__(self, formula: Formula[G, Any], texts: Texts, options: Options | None = None) -> None:
        self._formula = formula
        self._options = options or BY_HAND
        self._of_row: Mapping[str, Options] = {}
        self._typed: dict[str, str | list[str]] = {}
        self._read: dict[str, Read] = {}
        self._unnamed = {
            field.name: "default" if field.default not in (None, ()) else "not given" for field in formula.inputs
        }
        self._settling = [(field.name, field.until_typed) for field in formula.inputs if field.until_typed]
        self._sought: list[tuple[str, str, bool, Field, Callable[[Any], bool] | None]] = []
        self._accepted: set[tuple[str, ...]] = set()
        self._take(texts)

    def _take(self, texts: Texts) -> None:
        given = said_texts(self._formula, texts)
        self._typed = {**self._typed, **given}
        self._read = {name: one for name, one in self._read.items() if name not in given}
        self._sought = [
            (field.name, field.same_as or "", field.required, field, surely_within(field) if field.is_number else None)
            for field in self._formula.inputs
            if field.required or field.same_as or field.name in self._typed
        ]

    def with_row(self, texts: Texts, options: Mapping[str, Options]) -> Binder[G]:
        """One that takes these texts before its own, as a row of a table has them, each read with the options of its
        column; what was read stays read."""
        made = copy(self)
        said = said_texts(self._formula, texts)
        made._of_row = {name: options[name] for name in said}
        made._take(said)
        return made

    def bind(self, known: Mapping[str, tuple[Any, str]]) -> Bound[G]:
        """The inputs of one record. ``known`` maps ``same_as`` names to a value and its origin in words, and
        ``LEFT_OUT`` to what the records left out of the listing, which becomes findings.

        Raises InputError for what is missing, unreadable or out of bounds.
        """
        values: dict[str, Any] = {}
        origins = self._unnamed.copy()
        uncertain: dict[Path, Measured] = {}
        findings: tuple[str, ...] = ()
        typed, listing_in = self._typed, self._formula.listing_in
        for name, same_as, is_needed, field, fits in self._sought:
            if name in typed:
                read_once = self._read_once(field)
                values[name] = read_once.value
                origins[name] = GIVEN
                uncertain |= read_once.uncertain
                findings += read_once.findings
            elif same_as in known:
                value, origin = known[same_as]
                values[name] = value if fits is not None and fits(value) else _taken(field, value, origin)
                origins[name] = origin
                if field is listing_in:
                    findings += _left_out(known)
            elif is_needed:
                raise _missing(field, _left_out(known) if field.kind == "listing" else ())
        self._check_alternatives(origins)
        for name, until_typed in self._settling:
            if origins[name] == "default" and _all_have_their_own(until_typed, values, uncertain):
                values[name], origins[name] = 0.0, IN_PLACE
        return Bound(
            self._formula.given(**values),
            origins,
            {} if not uncertain else {path: one.uncertainty for path, one in uncertain.items() if one.uncertainty},
            findings,
            frozenset(path for path, one in uncertain.items() if one.uncertainty and one.k_taken),
        )

    def _read_once(self, field: Field) -> Read:
        if field.name not in self._read:
            try:
                self._read[field.name] = _read(
                    field, self._typed[field.name], self._of_row.get(field.name, self._options)
                )
            except InputError as fault:
                if fault.place.file is None:
                    fault.place = Place(field=field.name, item=fault.place.item)
                raise
        return self._read[field.name]

    def unreadable(self) -> Iterator[InputError]:
        """The fault of every typed input that cannot be read; :meth:`bind` stops at the first."""
        for field in self._formula.inputs:
            if field.name in self._typed:
                try:
                    self._read_once(field)
                except InputError as fault:
                    yield fault

    def _check_alternatives(self, origins: Mapping[str, str]) -> None:
        """Whether alternatives are satisfied depends only on where the inputs come from: each case is checked once."""
        case = tuple(origins.values())
        if case not in self._accepted:
            self._formula.check_alternatives({name for name, origin in origins.items() if origin != "not given"})
            self._accepted.add(case)


class ItemOfFile(str):
    """The text of an item that stands in a file of a listing, with its place there: a fault of it is named by that."""

    place: Place

    def __new__(cls, text: str, place: Place) -> ItemOfFile:
        made = super().__new__(cls, text)
        made.place = place
        return made


def said_texts(formula: Formula[Any, Any], texts: Texts) -> dict[str, str | list[str]]:
    """The texts that give a value. One that says there is none, such as ``n/a`` or a dash, is the same as no text: the
    record's value follows, else the default, else that the input is missing."""
    fields = {field.name: field for field in formula.inputs}
    return {name: text for name, text in texts.items() if name not in fields or _gives_a_value(fields[name], text)}


def _gives_a_value(field: Field, text: str | list[str] | None) -> bool:
    if isinstance(text, list):
        return not all(says_nothing(field, one) for one in text)
    return text is not None and not says_nothing(field, text)


def run(calculator: Calculator[Any, Any], bound: Bound[Any]) -> Result:
    """Compute, judge and carry the uncertainties of the inputs to every output. Raises InputError or PluginFault."""
    found = work_out(calculator, bound)
    return found if isinstance(found, Result) else Result(calculator, found)


def work_out(formula: Formula[G, F], bound: Bound[G]) -> Answer[G, F]:
    """The same for a formula of core, keeping its types; elsewhere where it may not run in this process."""
    if formula.elsewhere is not None:
        (found,) = formula.elsewhere.worked_out(formula, [bound])
        if isinstance(found, BevelbookError):
            raise found
        return cast("Answer[G, F]", found)
    computed = formula.compute(bound.given)
    if not bound.uncertainties:
        return Answer(formula, bound, computed, formula.judge(bound.given, computed), {})
    carried = _propagated(formula, bound, computed)
    found, uncertainties, findings, combining = combine(formula, computed, carried.uncertainties)
    if formula.settled and found is not computed:
        found = formula.settled(bound.given, found)
    judgement = _verdict_within_uncertainty(formula, bound, formula.judge(bound.given, found), carried)
    if not uncertainties and not findings:
        findings = (NOT_IN_FIGURES,)
    judgement = judgement._replace(findings=(*judgement.findings, *findings))
    return Answer(formula, bound, found, judgement, uncertainties, computed, combining)


def plain(record: object) -> dict[str, Any]:
    """A record as a dict of plain values, listings as lists of dicts."""
    return {
        name: [plain(one) for one in value] if isinstance(value, tuple) else clean(value)
        for name, value in items_of(record)
    }


def clean(value: Any) -> Any:
    """A float without rounding noise in its last digits; -0.0 is 0.0."""
    return float(f"{value:.12g}") + 0.0 if isinstance(value, float) else value


def _read(field: Field, typed: str | list[str], options: Options) -> Read:
    if field.kind != "listing":
        text = typed if isinstance(typed, str) else typed[-1]
        if field.kind != "quantity":
            return Read(read(field, text, options), {})
        measured = read_measured(field, text, options)
        odd = implausible(field, measured.value)
        return Read(
            measured.value,
            {(field.name, None, None): measured},
            (f"{odd}: is that right?",) if odd else (),
        )
    items = []
    uncertain: dict[Path, Measured] = {}
    for place, text in enumerate([typed] if isinstance(typed, str) else typed):
        try:
            values, of_item = read_listing_values(field, text, options)
        except InputError as fault:
            fault.place = text.place if isinstance(text, ItemOfFile) else Place(item=place + 1)
            raise
        uncertain |= {(field.name, place, name): one for name, one in of_item.items()}
        items.append(field.item(**values) if field.item else values)
    return Read(tuple(items), uncertain)


_WRITTEN_ELSEWHERE: Final = (
    "Another program wrote that: 'bevelbook check --rebuild' works out again what follows from the records, and "
    "'bevelbook check' names a record that says it."
)


def _taken(field: Field, value: Any, origin: str) -> Any:
    """A stored value as the input needs it. Raises ReadingError if it is out of the input's bounds."""
    if field.kind == "listing":
        return _from_rows(field, value)
    if field.is_number:
        try:
            check_bounds(field, value, "")
        except ReadingError as fault:
            fault.found = f"{value:g} ({origin})"
            if isinf(value):
                fault.remedy = _WRITTEN_ELSEWHERE
            raise
    return value


def _from_rows(field: Field, rows: Sequence[Mapping[str, Any]]) -> tuple[Any, ...]:
    """The rows of a listing from the records. Raises InputError for a number that no diff has: only another program
    writes one into a file."""
    assert field.item is not None
    for place, row in enumerate(rows, start=1):
        for name, value in row.items():
            if isinstance(value, float) and not -LARGEST <= value <= LARGEST:
                number = "infinite" if isinf(value) else f"{value:g}"
                raise InputError(
                    f"{field_of(field.item, name).words} is {number} in row {place} of {len(rows)} from the records",
                    code="out_of_range",
                    place=Place(field=field.name),
                    remedy=_WRITTEN_ELSEWHERE,
                )
    return tuple(field.item(**row) for row in rows)


def _all_have_their_own(names: Sequence[str], values: Mapping[str, Any], uncertain: Mapping[Path, Measured]) -> bool:
    """Whether each number of these inputs, of which there is at least one, was typed with its own ±."""
    own = {path for path, one in uncertain.items() if one.uncertainty}
    for name in names:
        value = values.get(name)
        of_it = {path for path in own if path[0] == name}
        if len(of_it) < (len(value) if isinstance(value, tuple) else 1):
            return False
    return True


def _left_out(known: Mapping[str, tuple[Any, str]]) -> tuple[str, ...]:
    """What the records leave out of the listing that they fill, in words."""
    return tuple(known[LEFT_OUT][0]) if LEFT_OUT in known else ()


def _missing(field: Field, left_out: tuple[str, ...] = ()) -> InputError:
    """The error about a required input that neither a person nor a record gives; with what the records left out."""
    named = Named(field.name, is_place=True)
    if field.kind == "listing":
        what = Sentence("no ", named, " given", *(f"; {one}" for one in left_out))
        remedy = Sentence("Give ", Named(field.name), f", such as {field.item_example}.")
    else:
        what, remedy = Sentence(named, " is missing"), Sentence(f"Give {_what_to_give(field)}.")
    return InputError(what, code="missing_input", place=Place(field=field.name), remedy=remedy)


def _what_to_give(field: Field) -> str:
    if field.choices:
        return f"one of {', '.join(field.choices)}"
    if field.unit and field.unit != "1":
        return f"it in {field.unit}"
    return {"quantity": "a number", "whole": "a whole number"}.get(field.kind, "it")


def _moved(given: Any, steps: Mapping[Path, float]) -> Any:
    """The inputs with the numbers at some paths replaced."""
    values = dict(items_of(given))
    listings: dict[str, list[Any]] = {}
    for (name, place, part), value in steps.items():
        if place is None or part is None:
            values[name] = value
        else:
            if name not in listings:
                listings[name] = list(values[name])
            items = listings[name]
            items[place] = type(items[place])(**{**dict(items_of(items[place])), part: value})
    return type(given)(**values | {name: tuple(items) for name, items in listings.items()})


def path_in_words(path: Path) -> str:
    """A number of the inputs by its name, that of a listing with its place from 1: ``weighings.2.mass_g``."""
    name, place, part = path
    return name if place is None else f"{name}.{place + 1}.{part}"


def _at(given: Any, path: Path) -> float:
    name, place, part = path
    value = getattr(given, name)
    return float(value if place is None or part is None else getattr(value[place], part))


def _or_refused(function: Callable[..., T], *moved: Any) -> T:
    """The result for varied inputs that nobody gave; outside the range of the arithmetic they are refused."""
    try:
        return function(*moved)
    except PluginFault as fault:
        if not fault.may_be_inputs:
            raise
        raise InputError(fault.what, code="outside_valid_range") from fault


class Carried(NamedTuple):
    """The standard uncertainty of every output, and where in the inputs it comes from.

    ``steepest`` has for an output that depends on several inputs their changes that together move it by twice its
    standard uncertainty: each as far as its share of it.
    """

    uncertainties: dict[str, float | None]
    steepest: tuple[dict[Path, float], ...]


def _propagated(formula: Formula[Any, Any], bound: Bound[Any], found: Any) -> Carried:
    """First-order propagation (JCGM 100:2008, 5.1.2), the slope of each output over each input by a small step."""
    paths = list(bound.uncertainties)
    numbers = [float(_at(bound.given, path)) for path in paths]
    errors = [bound.uncertainties[path] for path in paths]
    carried: dict[str, float | None] = {}
    steepest: list[dict[Path, float]] = []
    known: dict[tuple[int, float], Any] = {}
    middle = _moved(bound.given, dict(zip(paths, numbers, strict=True)))

    def found_at(place: int, number: float) -> Any:
        """What is found with another number for one input; the outputs share it."""
        if (place, number) not in known:
            known[place, number] = _or_refused(formula.compute, _moved(middle, {paths[place]: number}))
        return known[place, number]

    for field in formula.outputs:
        if field.exact or not field.is_number or getattr(found, field.name) is None:
            continue

        def output(place: int, number: float, name: str = field.name) -> float:
            """The output with another number for one input."""
            return float(getattr(found_at(place, number), name))

        try:
            shares = [
                _slope(output, place, number) * error or _share_by_steps(output, place, number, error)
                for place, (number, error) in enumerate(zip(numbers, errors, strict=True))
            ]
        except (InputError, ArithmeticError, ValueError, TypeError):
            carried[field.name] = None
            continue
        value = clean(hypot(*shares))
        carried[field.name] = value if isfinite(value) else None
        if value and isfinite(value) and len(paths) > 1:
            steepest.append(
                {
                    path: COVERAGE_K * share * error / value
                    for path, share, error in zip(paths, shares, errors, strict=True)
                }
            )
    return Carried(carried, tuple(steepest))


def _slope(output: Callable[[int, float], float], place: int, number: float) -> float:
    """The slope of an output over one input: by a step of half a number's digits either way."""
    step = _STEP * abs(number) or _STEP
    above = number + step
    return (output(place, above) - output(place, above - 2.0 * step)) / 2.0 / step


def _share_by_steps(output: Callable[[int, float], float], place: int, number: float, error: float) -> float:
    """What one input adds, by moving it by its own uncertainty (JCGM 100:2008, 5.1.3, note 2).

    For an output that is rounded on the way, whose slope over the tiny step of a derivative is 0.
    """
    below = output(place, number - error)
    return (output(place, number + error) - below) / 2.0


def _verdict_within_uncertainty(
    formula: Formula[Any, Any], bound: Bound[Any], judgement: Judgement, carried: Carried
) -> Judgement:
    """ "unclear" if twice the uncertainty of an input, or of an output by all inputs together, changes the verdict."""
    if judgement.verdict == "unclear":
        return judgement
    for whose, moved in _at_the_edges(formula, bound, carried):
        try:
            verdict = _or_refused(formula.judge, moved, _or_refused(formula.compute, moved)).verdict
        except InputError:
            verdict = "unclear"
        if verdict != judgement.verdict:
            span = f"within the uncertainty given for {whose} {WITH_K}"
            reason = f"{span} it could be {judgement.verdict} as well as {verdict}"
            return Judgement("unclear", (reason, *judgement.reasons), judgement.findings)
    return judgement


def input_in_words(formula: Formula[Any, Any], path: Path) -> str:
    """A number of the inputs for people, that of a listing with its place from 1: ``mass of weighing 2``."""
    name, place, part = path
    field = next(field for field in formula.inputs if field.name == name)
    if place is None:
        return field.words
    words = next((one.words for one in fields_of(field.item) if one.name == part), "")
    item = f"{(field.singular or field.words).replace('_', ' ')} {place + 1}"
    return item if item.startswith(f"{words} ") else f"{words} of {item}"


def _at_the_edges(formula: Formula[Any, Any], bound: Bound[Any], carried: Carried) -> Iterator[tuple[str, Any]]:
    for path, uncertainty in bound.uncertainties.items():
        middle = _at(bound.given, path)
        for edge in (middle - COVERAGE_K * uncertainty, middle + COVERAGE_K * uncertainty):
            yield input_in_words(formula, path), _moved(bound.given, {path: edge})
    for changes in carried.steepest:
        for side in (-1.0, 1.0):
            moved = {path: _at(bound.given, path) + side * change for path, change in changes.items()}
            yield "these inputs together", _moved(bound.given, moved)
