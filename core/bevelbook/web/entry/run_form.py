"""The form of a run as the page shows it: eight things in the order in which they cool or are forgotten."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final, NamedTuple

from bevelbook.declare.vocabulary import NOTHING, POSITIONS
from bevelbook.display.days import day_in_words
from bevelbook.entering.ticked_words import ticked_in
from bevelbook.facts.runs import count_of
from bevelbook.reports.carried_to_run import LAP_FIGURES, TYRE_RUNS, TYRES, CarriedToRun, CarriedValue
from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.entry.record_form import RecordForm
from bevelbook.web.entry.run_head import WEATHER_WORDS, RunHead, since_words, weather_in_words
from bevelbook.web.entry.run_sent import AFTER, AFTER_TYPED, MINUTES, TICKED, WORDS, minutes_of
from bevelbook.web.entry.stops import Stop

BALANCE: Final = ("balance_entry", "balance_middle", "balance_exit")
CARRIED: Final = ("venue", "event", "driver", "air_temp_c", "track_temp_c", TYRES, TYRE_RUNS)
HEAD: Final = ("run_on", *CARRIED)
_TEMPERATURES: Final = frozenset(f"{place}_temp_c" for place in POSITIONS)
_STEPS: Final = (("-2", "−2"), ("-1", "−1"), ("0", "0"), ("1", "+1"), ("2", "+2"))
_WORDS: Final[Mapping[str, str]] = {
    "rear_temp_c": "Rear diff",
    "front_temp_c": "Front diff",
    "centre_temp_c": "Centre diff",
    "best_five_s": "Mean of the best five laps",
    "best_lap_s": "Best lap",
    "balance_entry": "Corner entry",
    "balance_middle": "Mid-corner",
    "balance_exit": "Corner exit",
    "grip": "Grip now",
    "grip_trend": "Where it is going",
    "changed": "Changed since the run before",
    "happened": "What happened",
    "call": "Call",
    "note": "Remark",
    "run_on": "Day",
    "air_temp_c": "Air",
    "track_temp_c": "Track",
    TYRE_RUNS: "Runs on the tyres before this one",
}
_EXPLAINED: Final = frozenset({"rear", "front", "centre", "runs", "lap_times", "label"})
"""Fields whose label does not say enough."""
_ABOUT: Final = {"changed": "With tyres ticked, the tyres carried over are left out: name the new ones at the top."}
_OTHER: Final = {"changed": "What else, or which", "happened": "In words"}


class TickedField(NamedTuple):
    """A field of words to tick: boxes as value and whether it is ticked, and what is typed beside them."""

    field: EntryField
    boxes: tuple[tuple[str, bool], ...]
    typed: EntryField


class StillAsked(NamedTuple):
    """Older values of one age, each of which one tap confirms: field, text and words; or events of which the run
    ``is_of_one``."""

    question: str
    values: tuple[tuple[str, str, str], ...]
    is_of_one: bool = False


class CarriedWords(NamedTuple):
    """A value that is carried over, or of a stored run what it has: its field, its words, and its age where that is
    said."""

    field: str
    words: str
    age: str = ""

    @property
    def said(self) -> str:
        """``track 31 °C, 2 h ago``."""
        return f"{self.words}, {self.age}" if self.age else self.words


class RunForm(NamedTuple):
    """The groups of the form in their order; ``head`` are the fields that are carried over, ``rest`` all others.

    ``carried`` are the words for what is carried over, each with its age, or of a stored run for what it has; ``known``
    is None for a stored run. ``others`` is the same form for other cars, which the page has at hand.
    """

    form: RecordForm
    stop: Stop
    temperatures: tuple[EntryField, ...]
    after: EntryField
    after_typed: EntryField
    after_drawn: bool
    lap: EntryField
    other_lap: EntryField
    balance: tuple[EntryField, ...]
    grip: tuple[EntryField, ...]
    ticked: tuple[TickedField, ...]
    call: EntryField
    note: EntryField
    head: tuple[EntryField, ...]
    rest: tuple[EntryField, ...]
    carried: tuple[CarriedWords, ...] = ()
    still: tuple[StillAsked, ...] = ()
    known: RunHead | None = None
    others: tuple[RunForm, ...] = ()

    @property
    def faulty(self) -> list[EntryField]:
        """The inputs that need a look, as they are shown."""
        shown = (self.after, *self.temperatures, self.lap, self.other_lap, *self.balance, *self.grip)
        ticked = (one.field for one in self.ticked)
        return [one for one in (*shown, *ticked, self.call, self.note, *self.head, *self.rest) if one.fault]

    @property
    def other_temperatures(self) -> list[EntryField]:
        """The temperatures of the places without a diff, which are among the rest."""
        return [one for one in self.rest if one.name in _TEMPERATURES]

    @property
    def other_rest(self) -> list[EntryField]:
        """The rest without them."""
        return [one for one in self.rest if one.name not in _TEMPERATURES]

    @property
    def offering(self) -> list[EntryField]:
        """The inputs that offer something else for another car."""
        return [one for one in (*self.head, *self.rest) if one.name in (*CARRIED, *POSITIONS)]

    @property
    def head_is_open(self) -> bool:
        """Whether something that is carried over was changed, or needs a look; the day is said at the top."""
        is_new = [one.name for one in self.head if one.typed and one.was is None and one.name != "run_on"]
        return bool(is_new) or any(one.is_stopped for one in self.head)

    @property
    def rest_is_open(self) -> bool:
        """Whether something of the rest was typed, or needs a look."""
        is_asked = any(link.anchor for link in self.stop.links)
        return is_asked or any(one.is_stopped or (one.typed and one.was is None) for one in self.rest)


def run_form(
    form: RecordForm,
    stop: Stop,
    texts: Mapping[str, str],
    places: tuple[str, ...],
    lap: str,
    known: RunHead | None = None,
) -> RunForm:
    """The form of a run in its groups; ``texts`` are the texts of its fields, ``places`` those that have a diff.

    ``lap`` is the figure that comes first, ``known`` what is known of a new run.
    """
    carried = known.carried if known else None
    by_name = {one.name: _named(one) for one in form.fields}
    minutes = minutes_of(texts)
    after = _after(by_name, minutes)
    other = next(name for name in LAP_FIGURES if name != lap)
    first = {*(f"{place}_temp_c" for place in places), *LAP_FIGURES, *BALANCE, "grip", "grip_trend", *TICKED, "call"}
    rest = [one for name, one in by_name.items() if name not in {*first, "note", "car", *HEAD}]
    return RunForm(
        form,
        stop,
        tuple(by_name[f"{place}_temp_c"]._replace(signed=False) for place in places),
        after,
        _other_time(after),
        bool(minutes),
        by_name[lap],
        by_name[other],
        tuple(by_name[name]._replace(choices=_STEPS, about="") for name in BALANCE),
        tuple(_choices(by_name[name]) for name in ("grip", "grip_trend")),
        tuple(_ticked(by_name[name], texts.get(name, "")) for name in TICKED),
        _choices(by_name["call"]),
        by_name["note"],
        tuple(by_name[name] for name in HEAD),
        tuple(_rest(one, minutes) for one in rest),
        tuple(_carried_words(carried, texts) if carried else _stored_words(by_name)),
        tuple(_still(carried, by_name)) if carried else (),
        known,
    )


def _named(one: EntryField) -> EntryField:
    about = one.about if one.name in _EXPLAINED else ""
    unit = "" if one.name == TYRE_RUNS else one.unit
    return one._replace(words=_WORDS.get(one.name, one.words), about=about, unit=unit)


def _choices(one: EntryField) -> EntryField:
    """A choice without the button for nothing: one that is chosen is let go by a second touch."""
    return one._replace(choices=tuple(choice for choice in one.choices if choice[0]))


def _after(by_name: Mapping[str, EntryField], minutes: str | None) -> EntryField:
    faults = [by_name[f"{place}_after_s"].fault for place in POSITIONS]
    return EntryField(
        AFTER,
        "Minutes after the run",
        "",
        "",
        "quantity",
        "choices",
        typed=minutes or "",
        choices=tuple((one, "at once" if one == "0" else one) for one in MINUTES),
        keypad="decimal",
        fault=next((fault for fault in faults if fault), "") if minutes is not None else "",
    )


def _other_time(after: EntryField) -> EntryField:
    """The input for minutes that are none of the buttons."""
    typed = "" if after.typed in MINUTES else after.typed
    return after._replace(name=AFTER_TYPED, words="or, in min", unit="", choices=(), typed=typed, fault="")


def _rest(one: EntryField, minutes: str | None) -> EntryField:
    """A time after the run is shown by itself only where the diffs were read at different times."""
    is_common = one.name.endswith("_after_s") and "second" not in one.name and minutes is not None
    return one._replace(typed="", was=None, fault="") if is_common else one


def _ticked(one: EntryField, text: str) -> TickedField:
    words = (NOTHING, *TICKED[one.name])
    found = ticked_in(text, words)
    return TickedField(
        one._replace(about=_ABOUT.get(one.name, "") if one.was is None else ""),
        tuple((word, word in found.ticked) for word in words),
        one._replace(name=f"{one.name}{WORDS}", words=_OTHER[one.name], typed=found.typed, fault="", drawn="text"),
    )


def _carried_words(carried: CarriedToRun, texts: Mapping[str, str]) -> Iterator[CarriedWords]:
    """``Tannery Hall``, ``track 31 °C, 2 h ago``; of tyres the runs on them, and not what is typed instead."""
    tyre_runs = carried.value(TYRE_RUNS)
    for value in carried.values:
        if not value.holds or value.field == TYRE_RUNS or texts.get(value.field, "").strip():
            continue
        if value.field in WEATHER_WORDS:
            yield CarriedWords(value.field, weather_in_words(value.field, value.text), since_words(value))
        elif value.field == TYRES:
            runs = f", {count_of(float(tyre_runs.text))} on them" if tyre_runs and tyre_runs.holds else ""
            yield CarriedWords(value.field, f"tyres {value.text}{runs}")
        else:
            by_day = ", by the day" if value.why and value.field == "event" else ""
            yield CarriedWords(value.field, f"{value.text}{by_day}")


def _stored_words(by_name: Mapping[str, EntryField]) -> Iterator[CarriedWords]:
    """The day, the place and what else is at the head of a stored run."""
    for name in HEAD:
        typed = by_name[name].typed
        if typed and name in WEATHER_WORDS:
            yield CarriedWords(name, weather_in_words(name, typed))
        elif typed and name != TYRE_RUNS:
            words = f"tyres {typed}" if name == TYRES else day_in_words(typed) if name == "run_on" else typed
            yield CarriedWords(name, words)


def _age(value: CarriedValue) -> str:
    """``5 h ago``, ``on 6 Sep 2026``."""
    known = value.run.minutes is not None or value.run.days <= 1
    return since_words(value) if known else f"on {day_in_words(value.run.day)}"


def _still(carried: CarriedToRun, by_name: Mapping[str, EntryField]) -> Iterator[StillAsked]:
    """The older values, those of one age together."""
    by_age: dict[str, list[tuple[str, str, str]]] = {}
    of_day = [one.text for one in carried.values if one.why and not one.holds]
    if of_day and not by_name["event"].typed:
        yield StillAsked("Which event is it?", tuple(("event", text, text) for text in of_day), is_of_one=True)
    for value in carried.values:
        if not value.holds and not value.why and value.field != TYRE_RUNS and not by_name[value.field].typed:
            unit = weather_in_words(value.field, value.text) if value.field in WEATHER_WORDS else value.text
            by_age.setdefault(_age(value), []).append((value.field, value.text, unit))
    for age, values in by_age.items():
        yield StillAsked(f"Still as {age}?", tuple(values))
