"""What is known of a run before anything is typed: its car, its day, its diffs, and what is carried over to it."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from hashlib import sha256
from typing import Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.declare.vocabulary import CHANGED_SINCE, POSITIONS
from bevelbook.display.ago import ago_in_words
from bevelbook.display.begun import begun
from bevelbook.display.days import day_against, day_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.display.format import figure_again
from bevelbook.entering.ticked_words import ticked_in
from bevelbook.facts.car_times import RunMoment, moment_of_new_run
from bevelbook.facts.day_order import last_run_first
from bevelbook.facts.standing import stands_alone_sql
from bevelbook.reading import BY_HAND, read
from bevelbook.reading.numbers import plain_value
from bevelbook.records import BY_NAME
from bevelbook.reports.carried_to_run import (
    HOLDS_DAYS,
    HOLDS_MIN,
    OF_CAR,
    TYRE_RUNS,
    TYRES,
    WEATHER,
    WEATHER_HOLDS,
    CarriedToRun,
    CarriedValue,
    RunsOfTeam,
    carried_to_run,
    runs_of_team,
)
from bevelbook.reports.changed_for_run import ChangedForRun, changed_for_run
from bevelbook.reports.diffs_for_run import DiffForRun, diffs_for_run
from bevelbook.store.lookup import find_id
from bevelbook.store.record_names import names_of
from bevelbook.web.entry.clashes import renamed_record
from bevelbook.web.entry.noted_moment import NotedMoment
from bevelbook.web.entry.noted_run import noted_run
from bevelbook.web.entry.run_sent import CARRIED_FROM
from bevelbook.web.shared.oil_words import oil
from bevelbook.web.shared.typed_form import TypedForm

RUN: Final = BY_NAME["run"]
_CAR: Final = BY_NAME["car"]
_LOOKED_AT: Final = 500
"""The last runs that are looked at for which cars run."""
MOST_CARS: Final = 4
"""Cars that are buttons; any other is named."""
MOST_AT_HAND: Final = 12
"""Cars of which the page has at hand what the form begins with, so that another one is chosen without the laptop."""
WEATHER_WORDS: Final[Mapping[str, str]] = {"air_temp_c": "air", "track_temp_c": "track"}
_HOLDS: Final = "+"
"""Ends the mark of a value that is taken over."""
_OF_CAR: Final = "*"
"""Ends the mark of a diff that is written for the car."""


def weather_in_words(field: str, text: str) -> str:
    """``track 31.1 °C``, of the text of a number in °C as it is stored; of any other text as it was typed."""
    number = plain_value(text)
    shown = text if number is None else figure_again(number, "°C")
    return f"{WEATHER_WORDS[field]} {shown} °C"


class CarriedChangedError(InputError):
    """What is carried over is not what the form showed."""

    def __init__(self, what: str, remedy: str = "Nothing was stored yet.") -> None:
        super().__init__(what, code="carried_changed", remedy=remedy)


class RunMeanwhileError(CarriedChangedError):
    """Somebody stored a run of the same car since the form was drawn: ``run`` is its id, ``words`` say who and what."""

    def __init__(self, run: str, words: str) -> None:
        self.run = run
        super().__init__(words, "Is this another run, or the same one? Nothing was stored yet.")


class ShownDiff(NamedTuple):
    """A diff of the car in words: its place, its build or what is there instead, its oil, and what else to know."""

    place: str
    build: str
    oil: str
    quiet: str


class RunHead(NamedTuple):
    """What a new run begins with; ``cars`` are the names of the team's cars by id, ``car`` the id of the run's."""

    cars: Mapping[str, str]
    car: str | None
    day: str
    today: str
    carried: CarriedToRun
    diffs: tuple[DiffForRun, ...]
    changed: ChangedForRun
    after: frozenset[str] = frozenset()
    """The runs, by id and by label, that the phone noted before this one."""
    team: RunsOfTeam | None = None
    """The runs of the team that were read for it."""

    @property
    def changed_words(self) -> list[str]:
        """What is written already of changes since the run before."""
        builds = (f"{one.place}: {one.now}, was {one.before}" for one in self.changed.builds)
        return [*builds, *(one.words for one in self.changed.values)]

    @property
    def car_name(self) -> str:
        """The name of the run's car; empty without one."""
        return self.cars.get(self.car or "", "")

    @property
    def first_cars(self) -> dict[str, str]:
        """The cars that are buttons: those used last, and the one that is chosen."""
        first = list(self.cars)[:MOST_CARS]
        return {car: name for car, name in self.cars.items() if car in first or car == self.car}

    @property
    def others_at_hand(self) -> list[str]:
        """The names of the other cars of which the page has at hand what the form begins with."""
        near = dict.fromkeys([*self.first_cars, *self.cars])
        return [self.cars[car] for car in near if car != self.car][: MOST_AT_HAND - 1]

    @property
    def day_words(self) -> str:
        """The day of the run: ``today``, or ``20 Nov 2026, not today``."""
        return day_against(self.day, self.today)

    @property
    def is_of_another_day(self) -> bool:
        """Whether the run is of another day than today."""
        return self.day != self.today

    @property
    def shown(self) -> list[ShownDiff]:
        """The diffs of the car, the rear first."""
        return [_shown(one) for one in self.diffs]

    @property
    def places(self) -> tuple[str, ...]:
        """The places that have a diff, the rear first; rear and front where nothing is known of any."""
        return tuple(one.place for one in self.diffs if one.diff is not None) or (POSITIONS[-1], POSITIONS[0])

    @property
    def offered(self) -> dict[str, tuple[str, str]]:
        """What is stored where a field is left empty, and where that comes from; by field."""
        values = {
            value.field: (value.text, value.why or f"{value.origin}, {since_words(value)}")
            for value in self.carried.values
            if value.holds
        }
        return {**values, **{one.place: (one.diff["diff_label"], origin_of(one)) for one in self.diffs if one.diff}}

    @property
    def offered_texts(self) -> dict[str, str]:
        """What is stored where a field is left empty, by field."""
        return {name: text for name, (text, _) in self.offered.items()}

    @property
    def ageing(self) -> dict[str, object]:
        """What a page goes by that stays open without the laptop, so that what it carries over grows old as here: the
        minutes until the day ends, for how many days and minutes the value of each field is taken over, and of each
        that is, its text, how old it is and its run."""
        now = datetime.now().astimezone()
        values = {
            one.field: {"text": one.text, "days": one.run.days, "minutes": one.run.minutes, "run": one.run.label}
            for one in self.carried.values
            if one.holds
        }
        day_ends = 24 * 60 - (now.hour * 60 + now.minute + now.second / 60)
        holds = {"holds_days": HOLDS_DAYS, "holds_min": HOLDS_MIN, "of_car": OF_CAR}
        return {"day_ends_min": day_ends, **holds, "values": values}

    @property
    def drawn(self) -> tuple[tuple[str, str], ...]:
        """The hidden fields that say what the form was drawn for."""
        values = [(value.field, value.text, value.holds) for value in self.carried.values]
        diffs = [(one.place, one.diff and one.diff["diff"], one.instead, one.as_in_run) for one in self.diffs]
        mark = sha256(repr((values, diffs)).encode()).hexdigest()[:12]
        before = self.carried.before.run if self.carried.before else ""
        marks = " ".join(f"{name}:{mark}" for name, mark in self._marks.items())
        found = {"car": self.car or "", "day": self.day, "before": before, "all": mark, "values": marks}
        return tuple((f"{CARRIED_FROM}{name}", text) for name, text in found.items())

    @property
    def _marks(self) -> dict[str, str]:
        """A mark for each value that is carried over and for each diff, by field and place: a hash of it, with whether
        it is taken over, or is written for the car."""
        values = {one.field: f"{_short_hash(one.text)}{_HOLDS if one.holds else ''}" for one in self.carried.values}
        diffs = {
            one.place: f"{_short_hash(one.diff and one.diff['diff'], one.instead)}{_OF_CAR if one.in_car else ''}"
            for one in self.diffs
        }
        return {**values, **diffs}

    def refuse_changed_since_noted(self, connection: sqlite3.Connection, form: TypedForm) -> None:
        """The same for a form that waited on the phone, or was sent from a page that had sent others before it: what
        comes from the runs that the phone noted before it is as the phone knew it, and its day is the one on which it
        was noted."""
        was = form.after(CARRIED_FROM)
        if "values" not in was:
            self.refuse_changed(connection, form)
            return
        if was.get("car") != (self.car or ""):
            raise self._for_another_car()
        before = self.carried.before
        if before is not None and before.run not in {was.get("before"), *self.after}:
            raise RunMeanwhileError(before.run, noted_run(connection, before.run))
        marks = dict(mark.split(":", 1) for mark in was["values"].split(" ") if ":" in mark)
        others = [name for name in {**marks, **self._marks} if self._is_other(name, marks.get(name, ""))]
        if others:
            now = ", ".join(self._now_words(name) for name in others)
            raise CarriedChangedError(
                f"what is carried over has changed since this was noted: {now}: look at it, then store it"
            )

    def _is_other(self, name: str, drawn: str) -> bool:
        """Whether a value or a diff is another than its form was drawn with, and not because of what the phone noted
        before it. Whether a value is fresh enough to be taken over is judged for when it was noted."""
        if self._marks.get(name, "").rstrip(_HOLDS) == drawn.rstrip(_HOLDS):
            return False
        value = self.carried.value(name)
        if value is not None:
            return value.run.run not in self.after
        diff = next((one for one in self.diffs if one.place == name), None)
        if diff is not None:
            return diff.as_in_run not in self.after
        return drawn.endswith(_OF_CAR) or not (self.after or name in WEATHER)

    def _now_words(self, name: str) -> str:
        """What is carried over now for a field or a place: ``venue now Lantern Hall``, ``rear now rear-b``."""
        value = self.carried.value(name)
        diff = next((one for one in self.diffs if one.place == name), None)
        text = value.text if value else ((diff.diff["diff_label"] if diff.diff else diff.instead) if diff else None)
        words = name if name in POSITIONS else RUN.field(name).words
        return f"{words} now {text or 'none'}"

    def refuse_changed(self, connection: sqlite3.Connection, form: TypedForm) -> None:
        """Raise CarriedChangedError if a form was drawn for another car, day or run before, or other values; where
        somebody stored a run meanwhile, RunMeanwhileError."""
        was, now = form.after(CARRIED_FROM), dict(self.drawn)
        changed = [name for name in was if was[name] != now.get(f"{CARRIED_FROM}{name}")]
        if not was or not changed:
            return
        if "car" in changed:
            raise self._for_another_car()
        if "day" in changed:
            raise CarriedChangedError(f"this is for {day_in_words(self.day)} now: look at it, then store it")
        if "before" in changed and self.carried.before:
            raise RunMeanwhileError(self.carried.before.run, noted_run(connection, self.carried.before.run))
        raise self._carried_changed()

    def _for_another_car(self) -> CarriedChangedError:
        return CarriedChangedError(f"this is for {self.car_name or 'no car'} now: look at its diffs, then store it")

    def _carried_changed(self) -> CarriedChangedError:
        return CarriedChangedError("what is carried over has changed since this was opened: look at it, then store it")

    def taken_over(self, typed: Mapping[str, str]) -> tuple[dict[str, str], dict[str, str]]:
        """The texts that a run takes over beside those typed, and where each comes from.

        A diff that is written for the car is not among them: every run of the car takes it. Tyres that were changed,
        as ``typed`` says, are not taken over.
        """
        texts, why = {}, {}
        for value in self.carried.values:
            if value.field not in typed and (self._are_on(typed) if value.field in (TYRES, TYRE_RUNS) else value.holds):
                texts[value.field], why[value.field] = value.text, value.origin
        for one in self.diffs:
            if one.diff is not None and one.as_in_run and one.place not in typed:
                texts[one.place], why[one.place] = one.diff["diff_label"], f"as in run {one.as_in_run}"
        return texts, why

    def grown_old(self, form: TypedForm, typed: Mapping[str, str]) -> tuple[str, ...]:
        """What is said of temperatures that the form showed as carried over, or that the phone noted before it, and
        that were too old for that by when it was noted."""
        marks = dict(mark.split(":", 1) for mark in form.after(CARRIED_FROM).get("values", "").split(" ") if mark)
        old = [
            value
            for value in self.carried.values
            if value.field in WEATHER and value.field not in typed and not value.holds
        ]
        hours = f"{WEATHER_HOLDS / timedelta(hours=1):g}"
        return tuple(
            f"{begun(weather_in_words(value.field, value.text))} is not carried over: "
            f"it was read more than {hours} h before this was noted."
            for value in old
            if value.run.run in self.after or marks.get(value.field, "").endswith(_HOLDS)
        )

    def left_out(self, typed: Mapping[str, str]) -> tuple[str, ...]:
        """What is said where tyres are not carried over, since they were changed and no others are named."""
        tyres = self.carried.value(TYRES)
        if tyres is None or not tyres.holds or TYRES in typed or self._are_on(typed):
            return ()
        return (f"Tyres were changed, so {tyres.text} is not carried over: name the new ones if you like.",)

    def _are_on(self, typed: Mapping[str, str]) -> bool:
        """Whether the tyres carried over are on in a run of which this is typed: not changed, and no others named."""
        tyres = self.carried.value(TYRES)
        if tyres is None or TYRES in ticked_in(typed.get("changed"), CHANGED_SINCE).ticked:
            return False
        return typed[TYRES].strip() == tyres.text if TYRES in typed else tyres.holds


def _short_hash(*parts: object) -> str:
    return sha256(repr(parts).encode()).hexdigest()[:8]


def since_words(value: CarriedValue) -> str:
    """``2 h ago``."""
    return ago_in_words(value.run.minutes, value.run.days)


def _shown(one: DiffForRun) -> ShownDiff:
    diff, since = one.diff, "" if one.in_car else "as before"
    if diff is None:
        return ShownDiff(one.place, one.instead or "", "", since)
    opened = f"opened on {day_in_words(diff['opened_on'])}" if diff["opened_on"] else ""
    bench = "on the bench" if diff["is_on_bench"] else ""
    quiet = ", ".join(part for part in (since, opened, bench, "" if diff["build"] else "never built") if part)
    name = with_mark(diff["build_label"] or diff["diff_label"], diff["mark"])
    return ShownDiff(one.place, name, oil(diff) if diff["build"] else "", quiet)


def origin_of(one: DiffForRun) -> str:
    """Where it is known from that a diff is at its place."""
    return one.in_car.since if one.in_car else f"as in run {one.as_in_run}"


def run_head(
    connection: sqlite3.Connection,
    typed: Mapping[str, str],
    noted: NotedMoment | None = None,
    *,
    beside: RunHead | None = None,
) -> RunHead:
    """The head of a new run with what was typed so far; it is of today unless a day was typed.

    Of a run that waited on the phone it is as of when it was noted. ``beside`` is the head of another car that was read
    with it: of the same day, the runs of the team are not read once more.
    """
    noted_at = noted.at if noted and noted.has_waited else None
    now = noted.local if noted and noted_at else datetime.now().astimezone()
    today = now.date().isoformat()
    day = _day(typed.get("run_on", "")) or today
    cars = _cars(connection)
    car = _car(connection, typed.get("car", ""), cars)
    team = beside.team if beside and beside.day == day else None
    team = team or runs_of_team(connection, day, noted_at)
    carried = carried_to_run(connection, car, day, now, until=noted_at, team=team)
    before = carried.before.run if carried.before else None
    run = moment_of_new_run(day, noted_at=noted_at) if noted_at else RunMoment(day, today=today)
    diffs = tuple(diffs_for_run(connection, car, before, run))
    changed = changed_for_run(connection, car, before, diffs, run)
    after = runs_of_entries(connection, noted.after) if noted else frozenset()
    return RunHead(cars, car, day, today, carried, diffs, changed, after, team)


def runs_of_entries(connection: sqlite3.Connection, entries: Sequence[str]) -> frozenset[str]:
    """The runs that entries added, each by its id and by its label; entries that are not stored are left alone."""
    if not entries:
        return frozenset()
    marks = ", ".join("?" * len(entries))
    found = connection.execute(
        f"SELECT id, label FROM runs WHERE version IN ({marks}) OR id IN "
        f"(SELECT row_id FROM history WHERE table_name = 'runs' AND parents IS NULL AND version IN ({marks}))",
        (*entries, *entries),
    ).fetchall()
    return frozenset(text for row in found for text in (row["id"], row["label"]))


def _day(text: str) -> str | None:
    try:
        return str(read(RUN.field("run_on"), text, BY_HAND)) if text.strip() else None
    except BevelbookError:
        return None


def _cars(connection: sqlite3.Connection) -> dict[str, str]:
    """The names of the cars by id, the one that ran last first."""
    last = f"SELECT car, run_on FROM runs ORDER BY run_on DESC, id LIMIT {_LOOKED_AT}"
    rows = connection.execute(
        f"SELECT c.id FROM cars c LEFT JOIN ({last}) r ON r.car = c.id "
        f"WHERE {stands_alone_sql('car', 'c.id')} GROUP BY c.id ORDER BY max(r.run_on) DESC, c.created_at DESC, c.id"
    ).fetchall()
    names = names_of(connection, _CAR, [row[0] for row in rows])
    return {row[0]: names[row[0]] for row in rows}


def refuse_unknown_car(connection: sqlite3.Connection, typed: Mapping[str, str]) -> None:
    """Raise UnknownNameError, with the field as place, where no car goes by the name that was typed."""
    try:
        if typed.get("car", "").strip():
            find_id(connection, _CAR, typed["car"])
    except BevelbookError as fault:
        fault.place = Place(field="car")
        raise


def _car(connection: sqlite3.Connection, typed: str, cars: Mapping[str, str]) -> str | None:
    """The id of the car that was typed, also by the name that it had, else of the last run's, else of the only one."""
    if typed.strip():
        try:
            return find_id(connection, _CAR, typed)
        except BevelbookError:
            return renamed_record(connection, _CAR, typed.strip())
    last = connection.execute(
        f"SELECT car FROM runs r WHERE run_on = (SELECT max(run_on) FROM runs) ORDER BY {last_run_first()} LIMIT 1"
    ).fetchone()
    return (last[0] if last else None) or (next(iter(cars)) if len(cars) == 1 else None)
