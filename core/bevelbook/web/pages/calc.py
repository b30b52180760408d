"""A page per calculator, made from its declaration: it computes and shows how, and writes nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from http import HTTPStatus
from pathlib import PurePath
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.calculating.calculate import Binder, Bound, Result
from bevelbook.calculating.dry_mass_input import COLUMN, why_no_dry_mass
from bevelbook.calculating.keep import said_beside
from bevelbook.calculating.known import Subject, find_subject, known_of, when_opened
from bevelbook.calculating.own_uncertainty import IN_PLACE
from bevelbook.calculating.result_text import input_text
from bevelbook.declare.coverage import IN_WORDS, WITH_K
from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.in_command import command_of
from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.display.format import format_number, format_value
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Offered
from bevelbook.reference import RULES_FIRST
from bevelbook.reports import questions
from bevelbook.web.host.answers_to_programs import JSON_ENDING, refused_program
from bevelbook.web.host.arguments import ANYTHING, Argument, any_text
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import NAME, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.drawing import charts_of, drawn_meanwhile, look_at_charts
from bevelbook.web.shared.fault_words import MISSING, fault_words, needed_words
from bevelbook.web.shared.form_inputs import form_of, unit_of
from bevelbook.web.shared.form_naming import OnForm
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.reasons_begun import sentences_begun
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.worker.calculators import COME_AGAIN_AFTER_S, CalculatorsBusy, worked_out
from bevelbook.web.worker.stopped import CalculatorStopped

FOR: Final = "for"
BUILDS_OFFERED: Final = 60
MOST_REASONS: Final = 2
"""Reasons that are seen under the first one and the number; more are behind a line."""
MOST_LINES: Final = 2_000

Texts = dict[str, "str | list[str]"]
Known = Mapping[str, tuple[Any, str]]


class OutputLine(NamedTuple):
    """One output: its words, its value with the unit, and what it means."""

    words: str
    value: str
    about: str


class ShownAnswer(NamedTuple):
    """What the page shows of a result; no ``verdict`` where its first reason is the answer.

    No ``number`` where the reasons answer without the figure that the calculator names its answer. ``further`` are the
    reasons behind a line that opens, ``more_findings`` the findings there. ``origins_line`` counts where the inputs
    came from.
    ``all_rows`` are the rows with the columns that explain them, where there are any.
    """

    verdict: Markup | None
    reason: str
    reasons: tuple[str, ...]
    further: tuple[str, ...]
    findings: tuple[str, ...]
    more_findings: tuple[str, ...]
    number: str
    unit: str
    number_words: str
    lines: tuple[OutputLine, ...]
    rows: PageTable | None
    all_rows: PageTable | None
    columns: tuple[tuple[str, str], ...]
    origins_line: str
    origins: tuple[str, ...]
    working: tuple[str, ...]
    picture: Markup | None
    command: str


class CalcPage(NamedTuple):
    """What the records named under "Fill from" give: known inputs, the records, and when builds were opened."""

    known: Known
    subjects: list[Subject]
    opened: dict[str, str]
    no_dry_mass: str = ""
    """Why a build named there has no dry mass, if that is so."""
    built: Mapping[str, str] = {}
    """The day of a build named there, ``built 3 May 2026``, by ``build rear-a/3``."""


def calc_page_of(
    connection: sqlite3.Connection, calculator: Calculator[Any, Any], named: str, texts: Texts | None = None
) -> CalcPage:
    """What records named with commas between them say of a calculator's inputs. Raises UnknownNameError.

    ``texts`` is what was typed into the form.
    """
    subjects = [find_subject(connection, one.strip()) for one in named.split(",") if one.strip()]
    known = known_of(connection, calculator, subjects, texts)
    takes_it = COLUMN not in known and any(field.same_as == COLUMN for field in calculator.inputs)
    builds = [one.row_id for one in subjects if one.kind.name == "build"]
    why = why_no_dry_mass(connection, builds) if takes_it else None
    built = {
        f"build {one.label}": f"built {day_in_words(day)}"
        for one in subjects
        if one.kind.name == "build"
        and (build := questions.build(connection, one.row_id))
        and (day := build["built_on"])
    }
    return CalcPage(known, subjects, when_opened(connection, subjects), why.words if why else "", built)


async def calc(request: Any, datasette: Any) -> Any:
    """One calculator: form, result, working, range, sources, cautions and chart."""
    from datasette.utils.asgi import NotFound

    if request.url_vars["name"].endswith(JSON_ENDING):
        return await _as_data(datasette, request)
    page = await page_request(datasette, request)
    await look_at_charts(page.registry)
    try:
        offered = page.registry.calculator(request.url_vars["name"])
    except UnknownNameError as unknown:
        raise NotFound(fault_words(unknown)) from unknown
    one = offered.calculator
    texts, named = _texts(page, one), page.given(FOR)
    result: Result | None = None
    of_kept: tuple[str, ...] = ()
    fault: BevelbookError | None = None
    found = CalcPage({}, [], {})
    binder = Binder(one, texts)
    try:
        found = await page.ask(calc_page_of, one, named, texts)
        bound = binder.bind(found.known)
        result = await worked_out(page.registry, one, bound)
        of_kept = await _said_of_kept(page, offered, result, found)
    except CalculatorsBusy:
        raise
    except BevelbookError as problem:
        problem.naming = OnForm(one.inputs)
        fault = problem if texts or named or isinstance(problem, PluginFault) else None
    missing = fault if fault is not None and fault.code == MISSING else None
    if missing is not None:
        fault = None
    given = result.bound.given if result else None
    asked_rows: list[Any] = []
    names = {field.name for field in one.inputs}
    answer = await page.render(
        PAGE,
        one.title,
        calculator=one,
        cautions=one.cautions,
        short_cautions=one.short_cautions,
        rules_first=RULES_FIRST,
        spread_in_words=IN_WORDS,
        sources=[source.cite() for source in one.sources],
        form=form_of(
            one,
            texts,
            found.known,
            faults=_beside_inputs(one, binder, fault),
            asked=_asked(one, missing, found.no_dry_mass),
            beside=found.built,
        ),
        takes_record=any(field.same_as for field in one.inputs),
        named=named,
        builds=await page.ask(questions.build_labels, BUILDS_OFFERED),
        fault="" if fault is None or fault.place.field in names else fault_words(fault),
        needed="" if missing is None else needed_words(missing),
        opened=found.opened,
        answer=_answer(page, one, result, texts, found.subjects, of_kept) if result else None,
        example=page.links.page(f"calc/{one.name}", **_example(one)),
        as_data=page.links.page(f"calc/{one.name}{JSON_ENDING}", **{FOR: named, **texts}),
        charts=[
            await drawn_meanwhile(chart, page.registry, asked_rows, given)
            for chart in charts_of(page.registry, one.name)
        ]
        if given is not None
        else [],
    )
    if fault is not None and not isinstance(fault, PluginFault):
        answer.status = HTTPStatus.BAD_REQUEST
    if isinstance(fault, CalculatorStopped):
        answer.status = HTTPStatus.SERVICE_UNAVAILABLE
        answer.headers["Retry-After"] = str(COME_AGAIN_AFTER_S)
    return answer


async def _as_data(datasette: Any, request: Any) -> Any:
    """The same for a program: the result as the command line prints it with its option for programs."""
    from datasette.utils.asgi import Response

    page = await page_request(datasette, request)
    try:
        offered = page.registry.calculator(_named(request.url_vars))
        one = offered.calculator
        texts = _texts(page, one)
        found = await page.ask(calc_page_of, one, page.given(FOR), texts)
        result = await worked_out(page.registry, one, Binder(one, texts).bind(found.known))
        of_kept = await _said_of_kept(page, offered, result, found)
    except BevelbookError as fault:
        return refused_program(fault)
    opened = {"opened": found.opened} if found.opened else {}
    said = {"invented": state_of(datasette).is_invented(page.team.name)} | result.as_dict() | opened
    return Response.json(said | {"kept_results_say": list(of_kept)}, headers={"Cache-Control": "no-cache"})


async def _said_of_kept(page: PageRequest, offered: Offered, result: Result, found: CalcPage) -> tuple[str, ...]:
    """What is to be said of results that are kept, beside this one."""
    subject = found.subjects[0] if found.subjects else None
    return (await page.ask(said_beside, offered, result, subject)).sentences()


def _named(places: Mapping[str, str | None]) -> str:
    """The name of the calculator in the address."""
    return str(places["name"]).removesuffix(JSON_ENDING)


def _texts(page: PageRequest, one: Calculator[Any, Any]) -> Texts:
    texts: Texts = {}
    for field in one.inputs:
        typed = [str(value) for value in page.request.args.getlist(field.name)]
        if field.kind == "listing":
            lines = [line.strip() for value in typed for line in value.splitlines() if line.strip()]
            if lines:
                texts[field.name] = lines[:MOST_LINES]
        elif typed and typed[-1].strip():
            texts[field.name] = typed[-1].strip()
    return texts


def _beside_inputs(one: Calculator[Any, Any], binder: Binder[Any], fault: BevelbookError | None) -> dict[str, str]:
    """What to say beside each input: that it cannot be read, or the fault that the calculation ended with."""
    said = {}
    for problem in (*binder.unreadable(), *([fault] if fault is not None else [])):
        if problem.place.field is not None:
            problem.naming = OnForm(one.inputs)
            said[problem.place.field] = fault_words(problem)
    return said


def _asked(one: Calculator[Any, Any], missing: BevelbookError | None, no_dry_mass: str) -> dict[str, str]:
    """What to say beside the inputs that are still needed; an empty one is asked for, not found fault with.

    Of alternatives none is marked: the sentence above the form names them.
    """
    if missing is None:
        return {}
    fields = missing.fields()
    is_choice = missing.place.field is None and not any(
        set(fields) <= set(group) for choice in one.one_of for group in choice.groups
    )
    asked = {} if is_choice else dict.fromkeys(fields, "Needed.")
    for field in one.inputs:
        if field.same_as == COLUMN and field.name in asked and no_dry_mass:
            asked[field.name] = f"Needed: {no_dry_mass}"
    return asked


def _answer(
    page: PageRequest,
    one: Calculator[Any, Any],
    result: Result,
    texts: Texts,
    subjects: list[Subject],
    of_kept: Sequence[str],
) -> ShownAnswer:
    field = one.answer_of(result.found)
    value = getattr(result.found, field.name)
    said = (None, *result.judgement.reasons)
    reason, *reasons = sentences_begun(result) or ("",)
    picture, picture_fault = result.picture_or_fault()
    findings = (
        *([" ".join(of_kept).removesuffix(".")] if of_kept else []),
        *result.findings,
        *([picture_fault.in_words().removesuffix(".")] if picture_fault else []),
    )
    others = [other for other in one.shown_outputs(result.found) if other.name != field.name]
    others.sort(key=lambda other: other.explained)
    return ShownAnswer(
        None if result.judgement.in_words_only else with_sign(result.verdict),
        reason,
        tuple(reasons[:MOST_REASONS]),
        tuple(reasons[MOST_REASONS:]),
        findings[:1],
        findings[1:],
        _number(field, value, result),
        _unit_behind(field, result) if value is not None and field.is_number else "",
        field.about,
        tuple(_line(other, result) for other in others if getattr(result.found, other.name) not in said),
        _rows(one, result),
        _rows(one, result, explain=True) if _has_explained(one) else None,
        tuple((field.words, field.about) for field in (fields_of(one.listing_out.item) if one.listing_out else ())),
        _origins_line(one, result),
        tuple(_origins(one, result)),
        result.working_or_fault()[0],
        None if picture is None else Markup(picture),
        _command(page, one, texts, subjects),
    )


def _number(field: Field, value: Any, result: Result) -> str:
    if value is None:
        return ""
    if not isinstance(value, (int, float)):
        return str(value)
    return format_number(value, field, result.uncertainties.get(field.name))


def _unit_behind(field: Field, result: Result) -> str:
    """The unit behind the answer, with the k of its ±."""
    return f"{unit_of(field)} {WITH_K}".lstrip() if result.uncertainties.get(field.name) else unit_of(field)


def _line(field: Field, result: Result) -> OutputLine:
    text = format_value(getattr(result.found, field.name), field, result.uncertainties.get(field.name))
    if result.uncertainties.get(field.name, 0.0) is None:
        text += " (uncertainty not available here)"
    return OutputLine(begun(field.words), text, field.about)


def _rows(one: Calculator[Any, Any], result: Result, *, explain: bool = False) -> PageTable | None:
    if one.listing_out is None or not result.rows:
        return None
    columns = [_column(field) for field in fields_of(one.listing_out.item) if explain or not field.explained]
    return page_table(one.listing_out.about, columns, result.rows)


def _has_explained(one: Calculator[Any, Any]) -> bool:
    """Whether the rows have columns that are shown only where the working is."""
    return one.listing_out is not None and any(field.explained for field in fields_of(one.listing_out.item))


def _column(field: Field) -> PageColumn[dict[str, Any]]:
    unit = f" [{unit_of(field)}]" if field.unit not in (None, "1", "runs") else ""
    heading = f"{begun(field.words)}{unit}"
    return PageColumn(heading, lambda row: _cell(row[field.name], field), field.is_number)


def _cell(value: Any, field: Field) -> Any:
    if field.is_number and value is not None:
        return format_number(value, field)
    return with_sign(value) if field.name == "verdict" and value else value


def _origins(one: Calculator[Any, Any], result: Result) -> Iterator[str]:
    bound: Bound[Any] = result.bound
    for field in one.inputs:
        origin = bound.origins[field.name]
        if origin != "not given":
            yield f"{field.words} {input_text(result, field)} ({origin})"


def _origins_line(one: Calculator[Any, Any], result: Result) -> str:
    """Where the inputs came from, in numbers: ``2 typed, 1 from records, 5 usual``."""
    origins = [result.bound.origins[field.name] for field in one.inputs]
    usual = sum(origin in ("default", IN_PLACE) for origin in origins)
    typed = origins.count("given")
    others = len(origins) - origins.count("not given") - usual - typed
    counts = ((typed, "typed"), (others, "from records"), (usual, "usual"))
    return ", ".join(f"{count} {words}" for count, words in counts if count)


def _command(page: PageRequest, one: Calculator[Any, Any], texts: Texts, subjects: list[Subject]) -> str:
    words = ["--db", page.team.is_at.name, "calc", one.name]
    for field in one.inputs:
        typed = texts.get(field.name, [])
        for text in [typed] if isinstance(typed, str) else typed:
            words += [field.option, text]
    for subject in subjects:
        words += ["--for", f"{subject.kind.name}:{subject.label}"]
    if one.origin is not None and one.origin.distribution is None:
        words += ["--plugins", PurePath(one.origin.file).parent.name or "."]
    return command_of(*words, "--keep")


def _example(one: Calculator[Any, Any]) -> dict[str, Any]:
    return {name: "\n".join(text) if isinstance(text, list) else text for name, text in one.worked[0].given.items()}


def _takes(datasette: Any, places: Mapping[str, str | None]) -> Sequence[Argument]:
    """The inputs of the calculator, and the record that the rest is taken from; the page refuses an unknown one."""
    offered = state_of(datasette).registry.in_force(_named(places))
    if offered is None:
        return (ANYTHING,)
    inputs = offered.calculator.inputs
    return (any_text(FOR), *(any_text(one.name)._replace(may_repeat=one.kind == "listing") for one in inputs))


PAGE: Final = Page("calc", calc, NAME, takes=_takes)
