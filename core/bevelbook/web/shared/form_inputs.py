"""The inputs of a calculator as a form: those needed first, the rest folded, what is known greyed with its origin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.calculating.expected_input import EXPECTED
from bevelbook.calculating.hottest_input import ASSUMED
from bevelbook.declare.counting import counted
from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.display.format import SHOWN_UNIT, format_typed, format_value
from bevelbook.plugin.calculator import Calculator
from bevelbook.reading.laps import takes_minutes

Texts = Mapping[str, "str | list[str]"]
Known = Mapping[str, tuple[Any, str]]

MOST_GREYED: Final = 12
"""Rows of a listing that are shown greyed; of more only their number."""
MOST_NAMED: Final = 3
"""Inputs that the line of a fold names."""


class FormInput(NamedTuple):
    """One input of the form.

    ``greyed`` is what is used while it is left empty, in quiet ink inside the input, and ``origin`` says it again with
    where it comes from; a default has none. ``keypad`` is the keyboard that a phone shows, empty for that of words;
    ``signed`` if a value may be below 0, ``in_minutes`` if it may be minutes and seconds. ``asked`` says that it is
    still needed, ``fault`` what is wrong with it.
    """

    name: str
    words: str
    unit: str
    about: str
    kind: str
    typed: str
    choices: tuple[str, ...]
    greyed: str
    origin: str
    shape: str
    fault: str
    asked: str
    keypad: str
    signed: bool
    in_minutes: bool = False


class FoldedInputs(NamedTuple):
    """Inputs behind one line; open where one of them holds something typed, is faulty or is asked for."""

    line: str
    inputs: tuple[FormInput, ...]
    is_open: bool


class CalculatorForm(NamedTuple):
    """The inputs that are seen at once, and the folds below them."""

    first: tuple[FormInput, ...]
    folds: tuple[FoldedInputs, ...]

    @property
    def faulty(self) -> list[FormInput]:
        """The inputs with a fault, which may be far down the form."""
        return [one for one in (*self.first, *(one for fold in self.folds for one in fold.inputs)) if one.fault]


def form_of(
    one: Calculator[Any, Any],
    texts: Texts,
    known: Known,
    *,
    faults: Mapping[str, str],
    asked: Mapping[str, str],
    beside: Mapping[str, str],
) -> CalculatorForm:
    """The form of a calculator.

    faults  what is wrong with an input, by its name
    asked   what is still needed, by its name
    beside  words about a record that was named, such as the day of a build, by the end of the origin they belong to
    """
    inputs = {field.name: _input(field, texts, known, faults, asked, beside) for field in one.inputs}
    present = {field.name for field in one.inputs if field.name in texts or field.same_as in known}
    first, instead = _first_and_instead(one, present)
    folds = [
        _fold(f"Instead of {_words(one, shown)}: {_named(one, others)}", [inputs[name] for name in others])
        for shown, others in instead
    ]
    placed = {*first, *(name for _, others in instead for name in others)}
    rest = [field.name for field in one.inputs if field.name not in placed]
    if rest:
        filled = sum(bool(inputs[name].origin) for name in rest)
        from_records = f" ({filled} filled in from records)" if filled else ""
        line = f"{counted(len(rest), 'more input')}: {_named(one, rest)}{from_records}"
        folds.append(_fold(line, [inputs[name] for name in rest]))
    return CalculatorForm(tuple(inputs[name] for name in first), tuple(folds))


def unit_of(field: Field) -> str:
    """The unit that a form and an answer show beside a number."""
    if field.kind == "listing":
        return ""
    return SHOWN_UNIT.get(field.unit or "", field.unit or "")


def _first_and_instead(
    one: Calculator[Any, Any], present: set[str]
) -> tuple[list[str], list[tuple[tuple[str, ...], list[str]]]]:
    """The names of the inputs that are seen at once, and for each choice what is seen of it and what may be given
    in place of that.

    Of a choice the first alternative is seen, or the first that is given or known whole, or begun.
    """
    wanted = {*one.read_now, *one.seen_first, *(field.name for field in one.inputs if field.required)}
    chosen = []
    for choice in one.one_of:
        shown = next((group for group in choice.groups if present.issuperset(group)), None)
        shown = shown or max(choice.groups, key=lambda group: len(present.intersection(group)))
        wanted.update(shown)
        chosen.append((shown, choice))
    instead = []
    placed = set(wanted)
    for shown, choice in chosen:
        others = list(dict.fromkeys(name for group in choice.groups for name in group if name not in placed))
        if others:
            instead.append((shown, others))
            placed.update(others)
    in_order = [field.name for field in one.inputs if field.name in wanted and field.name not in one.read_now]
    return [*one.read_now, *in_order], instead


def _fold(line: str, inputs: Sequence[FormInput]) -> FoldedInputs:
    return FoldedInputs(line, tuple(inputs), any(field.typed or field.fault or field.asked for field in inputs))


def _words(one: Calculator[Any, Any], names: Sequence[str]) -> str:
    if len(names) > MOST_NAMED - 1:
        return "these"
    by_name = {field.name: field.words for field in one.inputs}
    return f"the {' and '.join(by_name[name] for name in names)}"


def _named(one: Calculator[Any, Any], names: Sequence[str]) -> str:
    """The first of these inputs by their words."""
    by_name = {field.name: field.words for field in one.inputs}
    more = ", …" if len(names) > MOST_NAMED else ""
    return ", ".join(by_name[name] for name in names[:MOST_NAMED]) + more


def _input(
    field: Field,
    texts: Texts,
    known: Known,
    faults: Mapping[str, str],
    asked: Mapping[str, str],
    beside: Mapping[str, str],
) -> FormInput:
    typed = texts.get(field.name, "")
    greyed, origin = _left_empty(field, known, beside)
    return FormInput(
        field.name,
        begun(field.words),
        unit_of(field),
        field.about,
        field.kind,
        "\n".join(typed) if isinstance(typed, list) else typed,
        field.choices,
        greyed,
        origin,
        _shape(field) if field.kind == "listing" else "",
        faults.get(field.name, ""),
        asked.get(field.name, ""),
        keypad_of(field),
        field.kind == "quantity" and may_be_negative(field),
        takes_minutes(field),
    )


def keypad_of(field: Field) -> str:
    """The keyboard that a phone shows for a field; empty for that of words."""
    return {"quantity": "decimal", "whole": "numeric"}.get(field.kind, "")


def may_be_negative(field: Field) -> bool:
    """Whether a number of this field may be below 0, for which the keypad of a phone has no key."""
    return all(low is None or low < 0 for low in (field.minimum, field.above))


def _left_empty(field: Field, known: Known, beside: Mapping[str, str]) -> tuple[str, str]:
    """What is used where the input is left empty, as it is typed, and where it comes from; a default has no origin."""
    if field.same_as and field.same_as in known:
        value, origin = known[field.same_as]
        more = next((f", {words}" for end, words in beside.items() if origin == end), "")
        where = origin if origin.startswith((ASSUMED, EXPECTED)) else f"from {origin}"
        if field.kind == "listing":
            return _items(field, value), f"{counted(len(value), 'row')} {where}{more}"
        return as_typed(field, value), f"{_in_words(field, value)} {where}{more}"
    if not field.required and field.default not in (None, ()):
        return as_typed(field, field.default), ""
    return "", ""


def as_typed(field: Field, value: Any) -> str:
    """A value as a person would type it, without its unit."""
    if isinstance(value, float | int) and not isinstance(value, bool):
        return format_typed(value, field.unit).replace(",", "")
    return format_value(value, field)


def _in_words(field: Field, value: Any) -> str:
    """A value as people read it, with all the digits that it has."""
    if not isinstance(value, float | int) or isinstance(value, bool):
        return format_value(value, field)
    return f"{format_typed(value, field.unit)} {unit_of(field)}".rstrip()


def _items(field: Field, rows: Sequence[Mapping[str, Any]]) -> str:
    """The rows of a listing as they are typed, what they need of each, or their number where they are many."""
    if len(rows) > MOST_GREYED:
        return counted(len(rows), "row")
    return "\n".join(":".join(_cell(part, row) for part in field.needed_parts) for row in rows)


def _cell(part: Field, row: Mapping[str, Any]) -> str:
    value = row.get(part.name)
    return "" if value is None else as_typed(part, value)


def _shape(field: Field) -> str:
    """How a box of a listing takes its items."""
    further = field.item_shape.removeprefix(field.needed_shape)
    parts = further.replace("_", " ").removeprefix(":").split(":") if further else []
    more = f"; may go on with :{':'.join(parts)}" if 0 < len(parts) <= MOST_NAMED else ""
    return f"one a line as {field.needed_shape}, such as {field.item_example}{more}"
