"""The oil for the afternoon: a diff or a car, the temperature to come, and what the calculators for it answer."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.calculating.calculate import Result, bind
from bevelbook.calculating.expected_input import expected_of_forecast
from bevelbook.calculating.known import Subject, known_of
from bevelbook.calculating.named_origins import FORECAST_POSITION, OF_FORECAST
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field, fields_of, quantity, record
from bevelbook.declare.printable import printable
from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.display.diff_names import with_mark
from bevelbook.display.format import figure_again, format_number
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.reading import BY_HAND, read
from bevelbook.records import BY_NAME
from bevelbook.reference import RULES_FIRST
from bevelbook.reports.afternoon import (
    OFF_C,
    CarToRun,
    DiffToRun,
    ForecastOf,
    ToCome,
    ToRun,
    to_run,
    weather_to_come,
    with_last_run,
)
from bevelbook.web.host.arguments import any_text, one_of
from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.form_inputs import unit_of
from bevelbook.web.shared.form_naming import OnForm
from bevelbook.web.shared.oil_words import oil_words
from bevelbook.web.shared.reasons_begun import sentences_begun
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.worker.calculators import worked_out

FOR: Final = "for"
DEGREES: Final = "degrees"
OF: Final = "of"
GRIP: Final = "grip"
_GRIPS: Final = BY_NAME["run"].field("grip").choices
SEEN_REASONS: Final = 3


@record
class DegreesToCome:
    track_c: float = quantity("°C", "Track to come", minimum=-60, maximum=100)
    air_c: float = quantity("°C", "Air to come", minimum=-60, maximum=70)
    hotter_by_c: float = quantity("Δ°C", "How much hotter; below 0 if colder", minimum=-100, maximum=100)


READ_AS: Final[dict[str, Field]] = dict(zip(("track", "air", "hotter"), fields_of(DegreesToCome), strict=True))
WAYS: Final = (("track", "on the track"), ("air", "in the air"), ("hotter", "hotter than then"))
"""What the number may be of, each with the words of its button."""


class OilAskedFor(NamedTuple):
    """What the answer is for: a diff, or a car with its diffs; its value in the address, and its name."""

    value: str
    name: str
    diffs: tuple[DiffToRun, ...]


class CalculatorSays(NamedTuple):
    """What one calculator answers: its reasons, how far the answer moves if the temperature is off, findings."""

    title: str
    verdict: Markup | str
    reasons: tuple[str, ...]
    further: tuple[str, ...]
    if_off: str
    address: str
    cautions: tuple[str, ...]


class DiffAnswer(NamedTuple):
    """The answers for one diff: what is in it, the run that is compared with, and what each calculator says."""

    label: str
    inside: str
    last: str
    track: str
    says: tuple[CalculatorSays, ...]
    worked: str


class PutIntoIt(NamedTuple):
    """What a calculator gets: texts as typed, and what the records have."""

    typed: dict[str, str]
    known: dict[str, tuple[Any, str]]


class Tried(NamedTuple):
    """A calculator with what is put in, as typed and from the records; and the same for the temperature being off,
    unless another temperature would be compared then."""

    calculator: Calculator[Any, Any]
    inputs: PutIntoIt
    if_off: tuple[PutIntoIt, ...]


def known_to_calculators(
    connection: sqlite3.Connection, registry: Registry, diff: DiffToRun, to_come: ToCome
) -> list[Tried]:
    """What each calculator for weather to come gets: what was typed, and what the records of the diff's build have."""
    subject = Subject(BY_NAME["build"], diff.build, diff.build_label)
    found = []
    for one in registry.for_forecast():
        assert one.for_forecast is not None
        typed = weather_to_come(diff, to_come).inputs(one.for_forecast)
        inputs = PutIntoIt(typed, known_of(connection, one, [subject], typed))
        off = [_if_it_is(connection, one, diff, to_come, inputs, off_c) for off_c in (-OFF_C, OFF_C)]
        same = all((OF_FORECAST in other.known) == (OF_FORECAST in inputs.known) for other in off)
        found.append(Tried(one, inputs, tuple(off) if same else ()))
    return found


def _if_it_is(
    connection: sqlite3.Connection,
    one: Calculator[Any, Any],
    diff: DiffToRun,
    to_come: ToCome,
    inputs: PutIntoIt,
    off_c: float,
) -> PutIntoIt:
    """The same for a temperature that is off: of what the records have only what is expected of it changes."""
    assert one.for_forecast is not None
    typed = weather_to_come(diff, to_come._replace(degrees_c=to_come.degrees_c + off_c)).inputs(one.for_forecast)
    if OF_FORECAST not in inputs.known:
        return PutIntoIt(typed, inputs.known)
    place, _ = inputs.known.get(FORECAST_POSITION, (None, ""))
    known = {origin: value for origin, value in inputs.known.items() if origin != OF_FORECAST}
    return PutIntoIt(typed, known | expected_of_forecast(connection, one, typed, place))


async def afternoon(request: Any, datasette: Any) -> Any:
    """Which oil for the weather to come: nothing is written."""
    page = await page_request(datasette, request)
    offered = await page.ask(to_run)
    choices = list(_choices(offered))
    asked = next((one for one in choices if one.value == page.given(FOR)), None)
    unknown = page.given(FOR) if asked is None else ""
    if asked is None and len(choices) == 1:
        asked = choices[0]
    if asked is not None:
        asked = asked._replace(diffs=tuple([await page.ask(with_last_run, diff) for diff in asked.diffs]))
    to_come, fault = _to_come(page.given(DEGREES), page.given(OF), page.given(GRIP))
    answers = []
    if asked is not None and to_come is not None:
        answers = [await _answer(page, diff, to_come) for diff in asked.diffs]
    answer = await page.render(
        PAGE,
        "Oil for the afternoon",
        choices=[
            (one.name, page.links.page(PAGE.name, **{FOR: one.value}), asked is not None and one.value == asked.value)
            for one in choices
            if one.value not in _in_a_car_alone(offered) or one is asked
        ],
        unknown="" if not unknown else f"No diff or car that can run now is {FOR}={printable(unknown[:80])}.",
        asked=asked,
        inside=[] if asked is None else [(_name(one), _inside(one), _last(one)) for one in asked.diffs],
        degrees=page.given(DEGREES),
        fault=fault,
        ways=WAYS,
        grips=_GRIPS if asked is not None and _lacks_grip(page, asked) else (),
        grip=page.given(GRIP),
        to_come="" if to_come is None else _to_come_words(to_come),
        answers=answers,
        cautions=list(dict.fromkeys(line for one in answers for said in one.says for line in said.cautions)),
        rules_first=RULES_FIRST,
    )
    if unknown or (fault and page.given(DEGREES)):
        answer.status = 400
    return answer


def _choices(offered: ToRun) -> Iterator[OilAskedFor]:
    for car in offered.cars:
        yield OilAskedFor(f"car:{car.car}", _car_name(car), car.diffs)
    for diff in offered.diffs:
        yield OilAskedFor(diff.diff, _name(diff), (diff,))


def _in_a_car_alone(offered: ToRun) -> set[str]:
    """The diffs that are the only one of a car: the car is offered with its name."""
    return {car.diffs[0].diff for car in offered.cars if len(car.diffs) == 1}


def _lacks_grip(page: PageRequest, asked: OilAskedFor) -> bool:
    """Whether a calculator takes the grip, and a diff has no last run that says it."""
    is_taken = any(one.for_forecast is not None and one.for_forecast.grip for one in page.registry.for_forecast())
    return is_taken and any(one.last is None or not one.last.grip for one in asked.diffs)


def _car_name(car: CarToRun) -> str:
    return f"{car.name}: {', '.join(_name(one) for one in car.diffs)}"


def _name(diff: DiffToRun) -> str:
    return with_mark(diff.label, diff.mark)


def _to_come(degrees: str, of: str, grip: str) -> tuple[ToCome | None, str]:
    """What was typed, or why it cannot be read. A number with a plus is how much hotter it will be."""
    if not degrees:
        return None, "Type the degrees first." if of else ""
    way: ForecastOf = "hotter" if degrees.startswith("+") or of == "hotter" else "air" if of == "air" else "track"
    try:
        degrees_c = float(read(READ_AS[way], degrees.removeprefix("+"), BY_HAND))
    except BevelbookError as fault:
        return None, fault_words(fault)
    return ToCome(way, degrees_c, grip if grip in _GRIPS else None), ""


def _to_come_words(to_come: ToCome) -> str:
    """``36 °C on the track``, ``12 °C hotter``, ``5 °C colder``."""
    if to_come.of != "hotter":
        return f"{to_come.degrees_c:g} °C {dict(WAYS)[to_come.of]}"
    return f"{abs(to_come.degrees_c):g} °C {'hotter' if to_come.degrees_c >= 0 else 'colder'}"


def _inside(diff: DiffToRun) -> str:
    return oil_words(diff.fluid, diff.viscosity_cst)


def _last(diff: DiffToRun) -> str:
    """The last run of the build, as far as the weather of it is known."""
    last = diff.last
    if last is None:
        return f"{diff.build_label} has not run yet"
    named = (("track", last.track_c), ("air", last.air_c), ("diff", last.diff_c))
    known = [f"{name} {figure_again(value, '°C')} °C" for name, value in named if value is not None]
    grip = [f"{last.grip} grip"] if last.grip else []
    return f"last run {day_in_words(last.run_on)}: {', '.join([*known, *grip]) or 'no temperature noted'}"


async def _answer(page: PageRequest, diff: DiffToRun, to_come: ToCome) -> DiffAnswer:
    weather = weather_to_come(diff, to_come)
    tried = await page.ask(known_to_calculators, page.registry, diff, to_come)
    follows = weather.follows
    track = ""
    if follows is not None and follows.track_c is not None and weather.track_c is not None:
        track = (
            f"track taken as {figure_again(weather.track_c, '°C')} °C: {figure_again(follows.track_c, '°C')} °C in run "
            f"{follows.label}, and it rises by as much as the air (our own figure)"
        )
    conditions = {"grip": weather.grip, "track": weather.track_c, "position": weather.position}
    given = {name: f"{value:g}" if isinstance(value, float) else value for name, value in conditions.items() if value}
    says = [await _said(page, one, diff) for one in tried]
    return DiffAnswer(
        _name(diff), _inside(diff), _last(diff), track, tuple(says), page.links.page("worked", **given) if given else ""
    )


async def _said(page: PageRequest, tried: Tried, diff: DiffToRun) -> CalculatorSays:
    """The answer of one calculator, or what it lacks."""
    one = tried.calculator
    address = page.links.page(f"calc/{one.name}", **{FOR: f"build:{diff.build}"}, **tried.inputs.typed)
    try:
        result = await worked_out(page.registry, one, bind(one, *tried.inputs))
    except BevelbookError as fault:
        fault.naming = OnForm(one.inputs)
        return CalculatorSays(one.title, "", (fault_words(fault),), (), "", address, ())
    reasons = sentences_begun(result)
    return CalculatorSays(
        one.title,
        "" if result.judgement.in_words_only else with_sign(result.verdict),
        tuple(f"{reason}." for reason in reasons[:SEEN_REASONS]),
        (*reasons[SEEN_REASONS:], *result.findings),
        await _if_off(page, tried, result),
        address,
        one.short_cautions,
    )


async def _if_off(page: PageRequest, tried: Tried, result: Result) -> str:
    """Between which answers the number lies if the temperature to come is off; nothing where it has no number."""
    field = tried.calculator.answer_of(result.found)
    answers = [await _answer_with(page, tried.calculator, field, inputs) for inputs in tried.if_off]
    found = [value for value in answers if value is not None]
    if not field.is_number or len(found) < len((-OFF_C, OFF_C)) or len(set(found)) == 1:
        return ""
    low, high = (format_number(value, field) for value in sorted(found))
    return f"{begun(field.words)} {low} to {high} {unit_of(field)} if that is {OFF_C:g} °C off (our own figure)."


async def _answer_with(page: PageRequest, calculator: Calculator[Any, Any], field: Field, inputs: PutIntoIt) -> Any:
    """The answer with these inputs; None where there is none."""
    try:
        return getattr((await worked_out(page.registry, calculator, bind(calculator, *inputs))).found, field.name)
    except BevelbookError:
        return None


PAGE: Final = Page(
    "afternoon",
    afternoon,
    takes=(any_text(FOR), any_text(DEGREES), one_of(OF, *(way for way, _ in WAYS)), one_of(GRIP, *_GRIPS)),
)
