"""What is put into a car, and what a run takes from it: ``car-diff car=blue rear=rear-a front=spool``."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place, near_misses
from bevelbook.declare.in_command import command_of
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import INSTEAD_OF_A_DIFF, POSITIONS
from bevelbook.display.days import day_in_words
from bevelbook.entering.question import Answers, Question, Way
from bevelbook.facts.car_diffs import InCar, Left, in_cars, set_at_run
from bevelbook.facts.car_times import (
    AFTER,
    BEFORE,
    RunMoment,
    has_later_run,
    moment_of,
    moment_of_new_run,
    unclear_changes,
)
from bevelbook.facts.car_values import differences, values_at
from bevelbook.facts.day_order import last_run_of_day
from bevelbook.facts.standing import standing_sql, stands_alone_sql
from bevelbook.records import Kind

BEFORE_SWAP: Final = "before-swap"
AFTER_SWAP: Final = "after-swap"
_SAID: Final = {BEFORE_SWAP: BEFORE, AFTER_SWAP: AFTER}
ONLY_CAR: Final = "your only car"
"""Why a car was taken that nobody named."""
KINDS: Final = ("car_diff", "car_value")


class TakenFromCar(NamedTuple):
    """What a run takes from its car: the diff (by id) at each place and since when, and lines on what else is there."""

    diffs: dict[str, str]
    since: dict[str, str]
    beside: tuple[str, ...]
    swap: str | None = None
    """What a person said about a swap of that day: ``before`` or ``after``."""


NOTHING_TAKEN: Final = TakenFromCar({}, {}, ())


def short_words(kind: Kind, words: list[str]) -> tuple[list[dict[str, str]], list[str]]:
    """The short form, several records of a car in one line: fields of each, and the words that they share.

    ``rear=rear-a front=spool`` of a diff in a car, ``motor="13.5"`` of its values; empty if there are none.
    """
    own = {key for field in kind.fields for key in (field.stem, field.name)}
    short: list[dict[str, str]] = []
    shared = []
    for word in words:
        key, equals, text = word.partition("=")
        key = key.strip()
        if kind.name == "car_diff" and equals and key in POSITIONS:
            column = "instead" if text.strip().lower() in (*INSTEAD_OF_A_DIFF, "") else "diff"
            short.append({"position": key, column: text.strip() or "none"})
        elif kind.name == "car_value" and equals and key.replace("-", "_") not in own and not near_misses(key, own):
            short.append({"what": key, "value": text})
        else:
            shared.append(word)
    return short, shared


def fill(connection: sqlite3.Connection, kind: Kind, values: dict[str, Any], *, today: str | None = None) -> None:
    """Fill in from when on it holds: from ``today``, the clock's if not given, after the last run of the car on that
    day.

    Raises InputError if neither a diff nor anything in its place is named, or both are.
    """
    if kind.name not in KINDS:
        return
    is_placed = kind.name == "car_diff" and values.get("car") and values.get("position")
    if is_placed and (values.get("diff") is None) == (values.get("instead") is None):
        raise InputError(
            "either a diff sits at a place of a car, or something else does",
            code="diff_or_instead",
            place=Place(field="diff"),
            remedy=Sentence("Give ", Named("diff"), " or ", Named("instead", INSTEAD_OF_A_DIFF[0]), "."),
        )
    values["from_on"] = values.get("from_on") or today or date.today().isoformat()
    if values.get("car") and not values.get("from_at") and not values.get("after_run"):
        values["after_run"] = last_run_of_day(connection, values["car"], values["from_on"])


def already_there(connection: sqlite3.Connection, kind: Kind, values: Mapping[str, Any]) -> str | None:
    """Says so if what is to be written for a car holds already; None if it is new."""
    moment = RunMoment(values["from_on"], values.get("from_at"), today=values["from_on"])
    if kind.name == "car_diff":
        here = set_at_run(connection, values["car"], moment).after.get(values["position"])
        if here is not None and (here.diff, here.instead) == (values.get("diff"), values.get("instead")):
            return f"{here.car_name}, {here.position}: {here.what} already, since {here.from_when.day}"
        return None
    held = {what.casefold(): value for what, value in values_at(connection, values["car"], moment).items()}
    if held.get(str(values["what"]).casefold()) == (values.get("value") or None):
        return f"{values['what']}: {values.get('value') or 'out'} already"
    return None


def from_when_words(values: Mapping[str, Any]) -> str:
    """From when on a change holds, from its values by name: ``Holds from the run after 2026-05-03/2``."""
    if values.get("from_at"):
        return f"Holds from {values['from_on']} {values['from_at']}"
    if values.get("after_run"):
        return f"Holds from the run after {values['after_run']}"
    return f"Holds from the first run of {values['from_on']}"


def only_car(connection: sqlite3.Connection) -> str | None:
    """The id of the team's car, if it has exactly one."""
    rows = connection.execute(f"SELECT id FROM cars WHERE {stands_alone_sql('car')} LIMIT 2").fetchall()
    return rows[0][0] if len(rows) == 1 else None


def taken_by_run(
    connection: sqlite3.Connection,
    values: Mapping[str, Any],
    texts: Mapping[str, str],
    answered: Answers,
    *,
    noted_at: str | None = None,
) -> TakenFromCar:
    """What a new run takes from its car at the places that were not typed; of a run that was noted before now, what was
    written of the car until then.

    Raises Question if a swap of that day may have been before or after the run.
    """
    car, day = values.get("car"), values.get("run_on")
    if not car or not day:
        return NOTHING_TAKEN
    run = moment_of_new_run(day, values.get("started_at"), values.get("day_order"), noted_at=noted_at)
    swap = _SAID.get(answered.of("car", BEFORE_SWAP, AFTER_SWAP) or "")
    run = run._replace(swap_said=swap)
    if swap is None:
        _refuse_unclear(connection, car, run, texts)
    at_run = set_at_run(connection, car, run)
    there = at_run.after
    typed = {find_diff(connection, texts[place]) for place in POSITIONS if texts.get(place, "").strip()}
    diffs: dict[str, str] = {}
    since: dict[str, str] = {}
    beside = []
    for place in POSITIONS:
        here = there.get(place)
        if here is None:
            if place not in texts and place in at_run.left:
                beside.append(_empty(place, at_run.left[place], car, day))
        elif place in texts:
            if here.diff is not None and find_diff(connection, texts[place]) not in (here.diff, None):
                beside.append(_left_in(connection, here, texts[place], run))
        elif here.diff is None:
            beside.append(f"{place}: {here.what}, {here.since}")
        elif here.diff not in typed:
            diffs[place], since[place] = here.diff, here.since
    return TakenFromCar(diffs, since, tuple(beside), swap)


def find_diff(connection: sqlite3.Connection, name: str) -> str | None:
    """The diff (by id) that a typed name of a diff or of one of its builds means; None if it means none."""
    row = connection.execute(
        f"SELECT {standing_sql('diff')} FROM diffs WHERE id = :name OR label = :name COLLATE NOCASE UNION ALL "
        "SELECT diff FROM builds WHERE id = :name OR label = :name COLLATE NOCASE LIMIT 1",
        {"name": name.strip()},
    ).fetchone()
    return row[0] if row else None


def changes(before: Mapping[tuple[str, str], InCar], after: Mapping[tuple[str, str], InCar]) -> list[str]:
    """What a change in one car moved, in any: ``blue, rear: rear-b, was rear-a``."""
    lines = []
    for place in sorted({*before, *after}, key=lambda place: (place not in after, place)):
        old, new = before.get(place), after.get(place)
        if new is None and old is not None:
            lines.append(f"{old.car_name}, {old.position}: {old.what} is out")
        elif new is not None and (old is None or old.what != new.what):
            was = f", was {old.what}" if old else ""
            lines.append(f"{new.car_name}, {new.position}: {new.what}{was}")
    return lines


def beside_in_run(connection: sqlite3.Connection, run: str) -> tuple[str, ...]:
    """What sat in the car of a run (by id) at places where the run has no diff: ``centre: spool, as in blue ...``."""
    (car,) = connection.execute("SELECT car FROM runs WHERE id = ?", (run,)).fetchone()
    if car is None:
        return ()
    moment = moment_of(connection, run)
    at_run = set_at_run(connection, car, moment)
    taken = {row[0] for row in connection.execute("SELECT position FROM run_diffs WHERE run = ?", (run,))}
    lines = []
    for place in POSITIONS:
        here = at_run.after.get(place)
        if place in taken:
            continue
        if here is not None and here.diff is None:
            lines.append(f"{place}: {here.what}, {here.since}")
        elif here is None and place in at_run.left:
            lines.append(_empty(place, at_run.left[place], car, moment.day))
    return tuple(lines)


def _empty(place: str, left: Left, car: str, day: str) -> str:
    """``rear: nothing, rear-b is in blue since 25 Nov``."""
    now = left.now
    where = f"at the {now.position}" if now.car == car else f"in {now.car_name}"
    since = day_in_words(now.from_when.day, beside=day)
    if left.is_there:
        return f"{place}: nothing, {now.what} is {where} since {since}"
    return f"{place}: nothing, {now.what} was put {where.replace('in ', 'into ', 1)} on {since}"


def _left_in(connection: sqlite3.Connection, here: InCar, typed: str, run: RunMoment) -> str:
    """What a diff typed for a run means for those after it."""
    now = in_cars(connection).get((here.car, here.position))
    if now is None or now.diff != here.diff or has_later_run(connection, here.car, run):
        return f"{here.position}: {typed.strip()} in this run alone; by the records {here.what} was there"
    words = ["record", "car-diff", f"car={here.car_name}", f"{here.position}={typed.partition('/')[0]}"]
    words += [f"from_on={run.day}"] if run.day != run.today else []
    out = command_of(*words)
    return f"{here.position} of {here.car_name}: {here.what} again from the next run; if it is out: '{out}'"


def _refuse_unclear(connection: sqlite3.Connection, car: str, run: RunMoment, texts: Mapping[str, str]) -> None:
    """Raise Question where only a person knows whether a change of the day was before the run, and it matters."""
    both = set_at_run(connection, car, run)
    before, after = [], []
    for place in both.unclear():
        if place not in texts:
            before.append(f"{place} {both.before[place].what if place in both.before else 'not known'}")
            after.append(f"{place} {both.after[place].what if place in both.after else 'not known'}")
    values = (values_at(connection, car, run, unclear=unclear) for unclear in (False, True))
    for change in differences(*values):
        before.append(f"{change.what} {change.before or 'not known'}")
        after.append(f"{change.what} {change.now or 'out'}")
    if not before:
        return
    last = " last" if unclear_changes(connection, car, run) > 1 else ""
    (name,) = connection.execute("SELECT name FROM cars WHERE id = ?", (car,)).fetchone()
    raise Question(
        f"on {run.day} what is in {name} was changed, and this run may have been before or after that",
        code="before_or_after_the_swap",
        field="car",
        found=name,
        answers=[
            Way(BEFORE_SWAP, f"It was before the{last} swap ({', '.join(before)})"),
            Way(AFTER_SWAP, f"It was after the{last} swap ({', '.join(after)})"),
        ],
    )
