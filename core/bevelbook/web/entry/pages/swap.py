"""What goes where in a car: its places as lines, with what sits there now."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.declare.fields import Field
from bevelbook.declare.vocabulary import INSTEAD_OF_A_DIFF, POSITIONS
from bevelbook.entering.car_set import changes, find_diff
from bevelbook.facts.car_diffs import InCar, in_cars
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id, label_of, labels_of
from bevelbook.web.entry.entry_fields import MOST_DIFFS, EntryField, entry_field
from bevelbook.web.entry.given_texts import OF_EVERY_FORM
from bevelbook.web.entry.offered_values import offered_texts
from bevelbook.web.entry.record_answer import RecordPage, ShownForm, answer
from bevelbook.web.entry.record_form import RecordForm, folded, labelled, version_of
from bevelbook.web.entry.record_sent import RecordSent
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.sent import Saver
from bevelbook.web.entry.stops import stopped_by
from bevelbook.web.host.arguments import any_text
from bevelbook.web.host.page import EntryPage

_CAR_DIFF: Final = BY_NAME["car_diff"]
_PLACES: Final = tuple(
    Field(place, "reference", "", default=None, target="diff", heading=f"At the {place}" if place != "centre" else None)
    for place in POSITIONS
)
_WHEN: Final = tuple(_CAR_DIFF.field(name) for name in ("from_on", "from_at", "note"))
_FIELDS: Final = (*_PLACES, *_WHEN)


class CarToChange(NamedTuple):
    """The car of the page, None where there are several and none was named; and the names of all cars."""

    car: str | None
    name: str
    names: tuple[str, ...]


async def swap(request: Any, datasette: Any) -> Any:
    """The places of a car, with what is to sit there from now on."""
    asked = await entry_request(datasette, request)
    found = await asked.page.ask(car_to_change, asked.form.text("car") or asked.page.given("car"))
    if found.car is None:
        ways = [(asked.page.links.page("enter/swap", car=name), name, "") for name in found.names]
        return await asked.render(PAGE, "Put a diff into a car", cars=ways, choosing=True)
    return await _answer(asked, found.car, found.name)


def car_to_change(connection: sqlite3.Connection, named: str) -> CarToChange:
    """The car that is named, else the only one. Raises UnknownNameError."""
    names = tuple(labels_of(connection, BY_NAME["car"]))
    name = named or (names[0] if len(names) == 1 else "")
    if not name:
        return CarToChange(None, "", names)
    car = find_id(connection, BY_NAME["car"], name)
    return CarToChange(car, label_of(connection, BY_NAME["car"], car), names)


async def _answer(asked: EntryRequest, car: str, name: str) -> Any:
    def store(saver: Saver, sent: RecordSent) -> tuple[str, ...]:
        before = in_cars(saver.connection)
        wanted = _wanted(saver.connection, car, before, sent.given)
        if not wanted:
            raise InputError(
                "nothing is to be put anywhere else", code="missing_input", remedy="Choose what goes where."
            )
        shared = {"car": car, **{field.name: sent.given[field.name] for field in _WHEN if field.name in sent.given}}
        for place, text in wanted.items():
            column = "instead" if text in INSTEAD_OF_A_DIFF else "diff"
            try:
                saver.save(_CAR_DIFF.name, {**shared, "position": place, column: text})
            except BevelbookError as fault:
                if fault.place.field in ("diff", "instead"):
                    fault.place = Place(field=place)
                raise
        return tuple(f"{line}." for line in changes(before, in_cars(saver.connection)))

    def drawn(connection: sqlite3.Connection, sent: RecordSent, fault: BevelbookError | None) -> ShownForm:
        form = _form(connection, asked.person, car, sent.typed)
        return ShownForm(form) if fault is None else ShownForm(*stopped_by(connection, form, fault, sent.typed))

    shown = RecordPage(PAGE, _CAR_DIFF, f"Put a diff into {name}")
    return await answer(asked, shown, store, drawn, words="what sits in a car", fields=_FIELDS, beside=[("car", name)])


def _wanted(
    connection: sqlite3.Connection, car: str, now: Mapping[tuple[str, str], InCar], texts: Mapping[str, str]
) -> dict[str, str]:
    """What is to sit at each place where that is not there already."""
    found = {}
    for place in POSITIONS:
        text, here = texts.get(place, ""), now.get((car, place))
        is_there = here is not None and (
            text == here.instead or (here.diff is not None and find_diff(connection, text) == here.diff)
        )
        if text and not is_there:
            found[place] = text
    return found


def _form(connection: sqlite3.Connection, by: str | None, car: str, typed: Mapping[str, str]) -> RecordForm:
    now = in_cars(connection)
    diffs = connection.execute(
        f"SELECT label, usual_position FROM diffs WHERE {stands_alone_sql('diff')} ORDER BY label, id"
    ).fetchall()
    offered = offered_texts(connection, _CAR_DIFF, by, typed)
    places = [_place(field, now.get((car, field.name)), diffs, typed.get(field.name, "")) for field in _PLACES]
    when = [
        labelled(
            _CAR_DIFF,
            entry_field(
                field,
                typed=typed.get(field.name, ""),
                offered=offered.get(field.name, ("", ""))[0],
                origin=offered.get(field.name, ("", ""))[1],
            ),
        )
        for field in _WHEN
    ]
    return RecordForm(_CAR_DIFF, tuple(places), folded(when[1:]), version_of(_FIELDS), day_field=when[0])


def _place(field: Field, here: InCar | None, diffs: Sequence[Any], typed: str) -> EntryField:
    """A place of the car: what sits there stays where nothing is chosen; diffs that usually sit there come first."""
    usual = sorted(diffs, key=lambda row: row["usual_position"] != field.name)
    others = [str(row["label"]) for row in usual if here is None or row["label"] != here.label]
    shown = others[:MOST_DIFFS]
    instead = [word for word in INSTEAD_OF_A_DIFF if here is None or word != here.instead]
    stays = f"{here.what}, as it is" if here else "not known"
    return entry_field(field, typed=typed, names=others, most=MOST_DIFFS)._replace(
        choices=(("", stays), *((name, name) for name in (*shown, *instead)))
    )


PAGE: Final = EntryPage("swap", swap, takes=(any_text("car"), *OF_EVERY_FORM))
