"""The stock counted with a finger: parts, kits that came, and bottles on the scale, all stored as one entry."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.declare.vocabulary import COUNTED, DELIVERED, STOCK_CHANGES
from bevelbook.entering.question import Question
from bevelbook.facts.bottles_left import BottleLeft
from bevelbook.facts.kits import kits_of_team
from bevelbook.facts.stock import NotCounted, StockLeft
from bevelbook.records import BY_NAME
from bevelbook.reports.stock import stock_of_team
from bevelbook.store.ids import new_id
from bevelbook.web.entry.entry_fields import EntryField, entry_field
from bevelbook.web.entry.request import KEY, EntryRequest, entry_request
from bevelbook.web.entry.sent import ANOTHER, ANSWER, SURE, NotSureError, Saver, Stopped, WrittenBeforeError, send
from bevelbook.web.entry.stops import WayOut
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.typed_form import TypedForm

WHAT: Final = "what"
PART: Final = "part."
KIT: Final = "kit."
MASS: Final = "mass."
LEVEL: Final = "level."
"""Begin the names of the inputs, before the id of the part or bottle, or the name of the kit."""
_CHANGE: Final = BY_NAME["stock_change"]
_CHECK: Final = BY_NAME["bottle_check"]


class ThingToCount(NamedTuple):
    """A part or a kit: its input, what is said beside it, and the number that the records give, if there is one."""

    input: EntryField
    beside: str
    now: int | None = None


class BottleToCheck(NamedTuple):
    """A bottle: the input for the scale, the one for the eye, and what is known of it."""

    mass: EntryField
    level: EntryField
    beside: str


class StockForm(NamedTuple):
    """All that can be counted."""

    what: EntryField
    parts: tuple[ThingToCount, ...]
    kits: tuple[ThingToCount, ...]
    bottles: tuple[BottleToCheck, ...]

    @property
    def faulty(self) -> list[EntryField]:
        """The inputs with a fault."""
        inputs = [self.what, *(one.input for one in (*self.parts, *self.kits))]
        inputs += [field for one in self.bottles for field in (one.mass, one.level)]
        return [one for one in inputs if one.fault]


class CountFault(NamedTuple):
    """What stopped the form: a sentence, the buttons that settle it, and the input that it is about, if it is one."""

    sentence: str
    ways: tuple[WayOut, ...]
    at: str


async def stock(request: Any, datasette: Any) -> Any:
    """What there is to count, and what was typed."""
    asked = await entry_request(datasette, request)
    stop: CountFault | None = None
    if asked.is_sent:
        at = [""]
        done = await send(asked, lambda saver: store(saver, asked.form, at), words="from the browser: stock")
        if not isinstance(done, Stopped):
            return asked.stored(asked.page.links.page(PAGE.address), done)
        stop = _stopped(done.fault, at[0])
    form = await asked.page.ask(stock_form, asked.form, stop)
    key = asked.key if asked.is_sent else new_id()
    answers = [(f"{ANSWER}{name}", text) for name, text in asked.form.after(ANSWER).items() if text]
    return await asked.render(
        PAGE,
        "Stock",
        status=400 if stop else 200,
        form=form,
        sentence="" if stop is None or form.faulty else stop.sentence,
        ways=stop.ways if stop else (),
        unseen=((KEY, key), *answers, *((SURE, text) for text in asked.form.all(SURE))),
        more=_more(asked),
    )


def store(saver: Saver, form: TypedForm, at: list[str]) -> None:
    """Store all that was counted and weighed. ``at`` holds the name of the input at which it stopped.

    Raises InputError where nothing was, and what stops a record.
    """
    what = form.text(WHAT) or COUNTED
    for name, text in _typed(form, PART):
        at[0] = f"{PART}{name}"
        saver.save(_CHANGE.name, {"stock_part": name, "what": what, "pieces": text})
    for name, text in _typed(form, KIT):
        at[0] = f"{KIT}{name}"
        saver.save(_CHANGE.name, {"kit": name, "what": DELIVERED, "pieces": text})
    masses, levels = dict(_typed(form, MASS)), dict(_typed(form, LEVEL))
    for bottle in {**masses, **levels}:
        at[0] = f"{MASS if bottle in masses else LEVEL}{bottle}"
        read = {"mass_g": masses.get(bottle, ""), "level": levels.get(bottle, "")}
        saver.save(_CHECK.name, {"bottle": bottle, **{name: text for name, text in read.items() if text}})
    at[0] = ""
    if not saver.saved:
        raise InputError(
            "nothing was counted", code="missing_input", remedy="Type how many there are, or put a bottle on the scale."
        )


def _typed(form: TypedForm, prefix: str) -> Iterator[tuple[str, str]]:
    yield from ((name, text.strip()) for name, text in form.after(prefix).items() if text.strip())


def _stopped(fault: BevelbookError, at: str) -> CountFault:
    """What is said of a fault, and the buttons that settle it."""
    words = fault_words(fault)
    if isinstance(fault, Question):
        ways = (WayOut(f"{ANSWER}{fault.field}", one.key, one.words) for one in fault.answers)
        return CountFault(words, tuple(ways), at)
    if isinstance(fault, NotSureError):
        ways = (WayOut(SURE, f"{odd.field.name}={odd.text}", "Yes, that is right") for odd in fault.odd)
        return CountFault(words, tuple(ways), at)
    if isinstance(fault, WrittenBeforeError):
        return CountFault(words, (WayOut(ANOTHER, "yes", "Store it once more: it happened twice"),), at)
    return CountFault(words, (), at)


def stock_form(connection: sqlite3.Connection, typed: TypedForm, stop: CountFault | None) -> StockForm:
    """The inputs, with what was typed in them and the fault at the one that it is about."""

    def placed(field: EntryField, name: str, number: str, words: str) -> EntryField:
        fault = stop.sentence if stop is not None and stop.at == name else ""
        return field._replace(name=name, id=number, words=words, about="", fault=fault, greyed="", origin="")

    pieces = _CHANGE.field("pieces")
    found = stock_of_team(connection)
    every: list[StockLeft | NotCounted] = [*found.parts, *found.not_counted]
    parts = tuple(
        ThingToCount(
            placed(
                entry_field(pieces, typed=typed.text(f"{PART}{one.stock_part}")),
                f"{PART}{one.stock_part}",
                f"part-{number}",
                one.label,
            ),
            _beside(one),
            max(one.pieces, 0) if isinstance(one, StockLeft) else None,
        )
        for number, one in enumerate(every)
    )
    kits = tuple(
        ThingToCount(
            placed(
                entry_field(pieces, typed=typed.text(f"{KIT}{one.name}")),
                f"{KIT}{one.name}",
                f"kit-{number}",
                one.name,
            ),
            one.words(),
        )
        for number, one in enumerate(kits_of_team(connection))
    )
    bottles = tuple(
        BottleToCheck(
            placed(
                entry_field(_CHECK.field("mass_g"), typed=typed.text(f"{MASS}{one.bottle}")),
                f"{MASS}{one.bottle}",
                f"mass-{number}",
                one.label,
            ),
            placed(
                entry_field(_CHECK.field("level"), typed=typed.text(f"{LEVEL}{one.bottle}")),
                f"{LEVEL}{one.bottle}",
                f"level-{number}",
                f"{one.label}, by eye",
            ),
            _of_bottle(one),
        )
        for number, one in enumerate(found.bottles)
    )
    what = entry_field(_CHANGE.field(WHAT), typed=typed.text(WHAT) or COUNTED, is_needed=True)
    choices = tuple((one, one) for one in STOCK_CHANGES)
    return StockForm(what._replace(words="The parts were", about="", choices=choices), parts, kits, bottles)


def _beside(one: StockLeft | NotCounted) -> str:
    least = f", at least {one.least} wanted" if one.least is not None else ""
    return f"{one.left_words if isinstance(one, StockLeft) else 'not counted yet'}{least}"


def _of_bottle(one: BottleLeft) -> str:
    return one.words if one.is_known and one.high_g is None else one.short


def _more(asked: EntryRequest) -> list[tuple[str, str, str]]:
    """The forms of what can be counted, and the page of what is left."""
    links = asked.page.links
    return [
        (links.page("stock"), "All that is left", ""),
        (links.page("enter/record/stock_part"), "Another part to count", ""),
        (links.page("enter/record/kit_part"), "What is in a kit", ""),
        (links.page("enter/record/bottle"), "Another bottle", "with its mass when it is empty"),
    ]


PAGE: Final = EntryPage("stock", stock)
