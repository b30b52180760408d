"""What a calculator says on the card of a build, as it declares it: verdict, lines, passes, picture."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice
from typing import Any, Final, NamedTuple, TypeVar

from bevelbook.calculating.calculate import Answer
from bevelbook.calculating.for_record import Attempt, Known, PutIn, attempt, refusal
from bevelbook.calculating.known import Subject
from bevelbook.card.contents import LONGEST_REASON, CalculatorResult, CardValue, result_of
from bevelbook.card.steps import shortened
from bevelbook.declare.errors import PluginFault
from bevelbook.declare.fields import Field
from bevelbook.display.begun import begun
from bevelbook.display.format import SHOWN_UNIT, format_value
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.where_shown import MORE, CardLine, OnCard, Where

T = TypeVar("T")

MOST_LINES: Final = 16
"""Lines, and passes, that one calculator may put on the card: its page has all of them."""


class CardEntry(NamedTuple):
    """What one calculator puts on the card for one record; without ``result`` it has nothing to say."""

    result: CalculatorResult | None
    lines: tuple[CardValue, ...] = ()
    listed: tuple[str, ...] = ()
    picture: str | None = None
    picture_words: str = ""
    faults: tuple[PluginFault, ...] = ()

    def headed(self, name: str) -> CardEntry:
        """The same with the name of a place before the title."""
        if self.result is None:
            return self
        title = self.result.title
        return self._replace(result=self.result._replace(title=f"{name}, {title[0].lower()}{title[1:]}"))


def said_of(
    connection: sqlite3.Connection, calculator: Calculator[Any, Any], subject: Subject, more: Known
) -> CardEntry:
    """Run a calculator that has a place on the card for a record; what it lacks is asked for as it declares."""
    card: OnCard[Any, Any] | None = calculator.card
    if card is None:
        return CardEntry(None)
    row = _row_of(connection, subject)
    done = attempt_for_card(connection, calculator, subject, more)
    if done.answer is not None:
        return _answered(calculator, card, done, done.answer)
    if done.lacking and not _asked(card, row):
        return CardEntry(None, tuple(CardValue(*line) for line in card.instead))
    return CardEntry(result_of(done), faults=(done.fault,) if done.fault else ())


def attempt_for_card(
    connection: sqlite3.Connection,
    calculator: Calculator[Any, Any],
    subject: Subject,
    more: Known,
    typed: Mapping[str, PutIn] | None = None,
) -> Attempt[Any, Any]:
    """Run a calculator for a record with what its place on the card supplies; ``typed`` goes before that."""
    card: OnCard[Any, Any] | None = calculator.card
    supplied = dict(_supplied(card, subject, _row_of(connection, subject))) if card else {}
    return attempt(
        connection,
        calculator,
        (calculator.name,),
        subject,
        more=more,
        put_in={**supplied, **(typed or {})},
        never_default=card.never_default if card else (),
    )


def _row_of(connection: sqlite3.Connection, subject: Subject) -> sqlite3.Row:
    row: sqlite3.Row = connection.execute(
        f"SELECT * FROM {subject.kind.table} WHERE id = ?", (subject.row_id,)
    ).fetchone()
    return row


def _answered(
    calculator: Calculator[Any, Any], card: OnCard[Any, Any], done: Attempt[Any, Any], answer: Answer[Any, Any]
) -> CardEntry:
    """The answer with what the calculator's own functions add; where one of them fails, the others and what failed."""
    faults: list[PluginFault] = []

    def added(function: Callable[[Any, Any], T] | None, without: T) -> T:
        try:
            return without if function is None else function(answer.given, answer.found)
        except PluginFault as fault:
            faults.append(fault)
            return without

    lines: Iterable[CardLine] = added(card.lines, ())
    passes: Iterable[str] = added(card.passes, ())
    picture = added(calculator.picture, "")
    picture_words = added(card.picture_words, "")
    result = result_of(done)
    if card.part == MORE:
        result = result._replace(title=" ".join(filter(None, answer_words(calculator, answer))) or result.title)
    failed = tuple(shortened(refusal(fault), LONGEST_REASON) for fault in faults)
    return CardEntry(
        result._replace(findings=(*result.findings, *failed)),
        (*_shown_inputs(card, answer), *(CardValue(*line) for line in islice(lines, MOST_LINES))),
        tuple(shortened(one, LONGEST_REASON) for one in islice(passes, MOST_LINES)),
        picture or None,
        picture_words,
        tuple(faults),
    )


def _shown_inputs(card: OnCard[Any, Any], answer: Answer[Any, Any]) -> Iterator[CardValue]:
    fields = {field.name: field for field in answer.formula.inputs}
    for shown in card.inputs:
        origin = answer.bound.origins[shown.input]
        if origin != "not given":
            note = "assumed, not measured" if origin == "default" else origin
            yield CardValue(shown.words, _input_text(getattr(answer.given, shown.input), fields[shown.input]), note)


def _input_text(value: Any, field: Field) -> str:
    """An input as it went in: 60 °C, not 60.0."""
    if field.kind != "quantity" or value is None:
        return format_value(value, field)
    return f"{value:g} {SHOWN_UNIT.get(field.unit or '', field.unit or '')}".strip()


def _supplied(card: OnCard[Any, Any], subject: Subject, row: sqlite3.Row) -> Iterator[tuple[str, PutIn]]:
    """The inputs that the record holds under another name than the calculator's."""
    for supplied in card.supplied:
        value = row[supplied.field]
        origin = supplied.origin or f"the {subject.kind.name.replace('_', ' ')}"
        if supplied.when:
            if value in supplied.when:
                yield supplied.input, PutIn(supplied.text, origin)
        elif value is not None:
            yield supplied.input, PutIn(f"{value:.12g}" if isinstance(value, float) else str(value), origin)


def _asked(card: OnCard[Any, Any], row: sqlite3.Row) -> bool:
    """Whether the card asks for what is lacking."""
    return row[card.asks.field] in card.asks.words if isinstance(card.asks, Where) else card.asks == "always"


def answer_words(calculator: Calculator[Any, Any], answer: Answer[Any, Any]) -> tuple[str, str]:
    """The name and the value of a calculator's main output: ``Speed difference``, ``308 1/min``.

    The value is empty where the first reason says it; both are for a listing, and for an output that is not known.
    """
    if all(one.name != calculator.answer for one in calculator.outputs):
        return "", ""
    field = calculator.answer_of(answer.found)
    value = getattr(answer.found, field.name)
    if value is None:
        return "", ""
    text = format_value(value, field, answer.uncertainties.get(field.name))
    is_said = re.search(rf"(?<![\w.,]){re.escape(text)}(?![\w,]|\.\d)", answer.judgement.reasons[0])
    return begun(field.words), "" if is_said else text
