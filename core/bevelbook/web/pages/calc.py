"""A page per calculator, made from its declaration: it computes and shows how, and writes nothing."""

from __future__ import annotations

import asyncio
import shlex
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import PurePath
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.calculating.calculate import Binder, Bound, Result, run
from bevelbook.calculating.dry_mass_input import COLUMN, why_no_dry_mass
from bevelbook.calculating.expected_input import EXPECTED
from bevelbook.calculating.keep import Subject, find_subject, known_of, when_opened
from bevelbook.calculating.result_text import input_text
from bevelbook.declare.coverage import IN_WORDS, WITH_K
from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.naming import WithArticle
from bevelbook.declare.sentence import in_terms_of
from bevelbook.display.format import SHOWN_UNIT, format_number, format_spread, format_value
from bevelbook.plugin.calculator import Calculator
from bevelbook.reference import RULES_FIRST
from bevelbook.reports import questions
from bevelbook.web.host.page import NAME, Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.drawing import charts_of, drawn
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.form_naming import OnForm
from bevelbook.web.shared.page_table import PageColumn, PageTable, page_table
from bevelbook.web.shared.request import PageRequest, page_request

FOR: Final = "for"
BUILDS_OFFERED: Final = 60
MOST_LINES: Final = 2_000

Texts = dict[str, "str | list[str]"]
Known = Mapping[str, tuple[Any, str]]


class FormInput(NamedTuple):
    """One input of the form."""

    name: str
    words: str
    unit: str
    about: str
    kind: str
    typed: str
    choices: tuple[str, ...]
    hint: str
    fault: str
    needed: bool
    read_now: bool


class OutputLine(NamedTuple):
    """One output: its words, its value with the unit, and what it means."""

    words: str
    value: str
    about: str


class ShownAnswer(NamedTuple):
    """What the page shows of a result; no ``verdict`` where its first reason is the answer.

    No ``number`` where the reasons answer without the figure that the calculator names its answer.
    """

    verdict: Markup | None
    reasons: tuple[str, ...]
    findings: tuple[str, ...]
    number: str
    unit: str
    number_words: str
    lines: tuple[OutputLine, ...]
    rows: PageTable | None
    columns: tuple[tuple[str, str], ...]
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
    return CalcPage(known, subjects, when_opened(connection, subjects), why.words if why else "")


async def calc(request: Any, datasette: Any) -> Any:
    """One calculator: form, result, working, range, sources, cautions and chart."""
    from datasette.utils.asgi import NotFound

    page = await page_request(datasette, request)
    try:
        offered = page.registry.calculator(request.url_vars["name"])
    except UnknownNameError as unknown:
        raise NotFound(fault_words(unknown)) from unknown
    one = offered.calculator
    texts, named = _texts(page, one), page.given(FOR)
    result: Result | None = None
    fault: BevelbookError | None = None
    found = CalcPage({}, [], {})
    binder = Binder(one, texts)
    try:
        found = await page.ask(calc_page_of, one, named, texts)
        bound = binder.bind(found.known)
        result = await asyncio.to_thread(run, one, bound)
    except BevelbookError as problem:
        problem.naming = OnForm(one.inputs)
        fault = problem if texts or named or isinstance(problem, PluginFault) else None
    given = result.bound.given if result else None
    asked_rows: list[Any] = []
    beside = _beside_inputs(one, binder, fault)
    for field in one.inputs:
        if field.same_as == COLUMN and field.name in beside and found.no_dry_mass:
            beside[field.name] = f"{beside[field.name]} {found.no_dry_mass}"
    names = {field.name for field in one.inputs}
    return await page.render(
        PAGE,
        one.title,
        calculator=one,
        cautions=one.cautions,
        rules_first=RULES_FIRST,
        spread_in_words=IN_WORDS,
        sources=[source.cite() for source in one.sources],
        inputs=[_input(field, one, texts, found.known, beside.get(field.name, "")) for field in one.inputs],
        takes_record=any(field.same_as for field in one.inputs),
        named=named,
        builds=await page.ask(questions.build_labels, BUILDS_OFFERED),
        fault="" if fault is None or fault.place.field in names else fault_words(fault),
        opened=found.opened,
        answer=_answer(page, one, result, texts, found.subjects) if result else None,
        example=page.links.page(f"calc/{one.name}", **_example(one)),
        alternatives=[in_terms_of(WithArticle(one.inputs), choice.after("Needs ")) for choice in one.one_of],
        charts=[drawn(chart, page.registry, asked_rows, given) for chart in charts_of(page.registry, one.name)]
        if given is not None
        else [],
    )


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


def _input(field: Field, one: Calculator[Any, Any], texts: Texts, known: Known, fault: str) -> FormInput:
    typed = texts.get(field.name, "")
    in_groups = {name for choice in one.one_of for group in choice.groups for name in group}
    return FormInput(
        field.name,
        field.words[0].upper() + field.words[1:],
        _unit(field),
        field.about,
        field.kind,
        "\n".join(typed) if isinstance(typed, list) else typed,
        field.choices,
        _hint(field, one, known),
        fault,
        field.required or field.name in in_groups or field.kind == "listing" or field.name in one.read_now,
        field.name in one.read_now,
    )


def _unit(field: Field) -> str:
    if field.kind == "listing":
        return ""
    return SHOWN_UNIT.get(field.unit or "", field.unit or "")


def _hint(field: Field, one: Calculator[Any, Any], known: Known) -> str:
    if field.same_as and field.same_as in known:
        value, origin = known[field.same_as]
        text = f"{len(value)} rows" if field.kind == "listing" else format_value(value, field)
        return f"left empty: {text}, {origin if origin.startswith(EXPECTED) else f'from {origin}'}"
    if field.kind == "listing":
        further = field.item_shape.removeprefix(field.needed_shape)
        more = f"; may go on with {further}" if further else ""
        return f"one a line as {field.needed_shape}, such as {field.item_example}{more}"
    if not field.required and field.default not in (None, ()):
        return f"left empty: {format_value(field.default, field)}"
    return "" if field.required else "may be left empty"


def _answer(
    page: PageRequest, one: Calculator[Any, Any], result: Result, texts: Texts, subjects: list[Subject]
) -> ShownAnswer:
    field = next(field for field in one.outputs if field.name == one.answer)
    value = getattr(result.found, one.answer)
    said = (None, *result.judgement.reasons)
    picture, picture_fault = _picture(one, result)
    others = [other for other in one.outputs if other.name != one.answer]
    return ShownAnswer(
        None if result.judgement.in_words_only else with_sign(result.verdict),
        result.judgement.reasons,
        (*result.findings, *picture_fault),
        _number(field, value, result),
        _unit_behind(field, result) if value is not None and field.is_number else "",
        field.about,
        tuple(_line(other, result) for other in others if getattr(result.found, other.name) not in said),
        _rows(one, result),
        tuple((field.words, field.about) for field in (fields_of(one.listing_out.item) if one.listing_out else ())),
        tuple(_origins(one, result)),
        result.working_or_fault()[0],
        picture,
        _command(page, one, texts, subjects),
    )


def _picture(one: Calculator[Any, Any], result: Result) -> tuple[Markup | None, tuple[str, ...]]:
    """The drawing of the answer; where it fails, a line that says what failed."""
    if one.picture is None:
        return None, ()
    try:
        return Markup(one.picture(result.bound.given, result.found)), ()
    except PluginFault as fault:
        return None, (fault.in_words().removesuffix("."),)


def _number(field: Field, value: Any, result: Result) -> str:
    if value is None:
        return "unclear" if result.verdict == "unclear" else ""
    if not isinstance(value, (int, float)):
        return str(value)
    uncertainty = result.uncertainties.get(field.name)
    return format_spread(value, uncertainty) if uncertainty else format_number(value, field)


def _unit_behind(field: Field, result: Result) -> str:
    """The unit behind the answer, with the k of its ±."""
    return f"{_unit(field)} {WITH_K}".lstrip() if result.uncertainties.get(field.name) else _unit(field)


def _line(field: Field, result: Result) -> OutputLine:
    text = format_value(getattr(result.found, field.name), field, result.uncertainties.get(field.name))
    if result.uncertainties.get(field.name, 0.0) is None:
        text += " (uncertainty not available here)"
    return OutputLine(field.words[0].upper() + field.words[1:], text, field.about)


def _rows(one: Calculator[Any, Any], result: Result) -> PageTable | None:
    if one.listing_out is None or not result.rows:
        return None
    columns = [_column(field) for field in fields_of(one.listing_out.item)]
    return page_table(one.listing_out.about, columns, result.rows)


def _column(field: Field) -> PageColumn[dict[str, Any]]:
    unit = f" [{_unit(field)}]" if field.unit not in (None, "1", "runs") else ""
    heading = f"{field.words[0].upper()}{field.words[1:]}{unit}"
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


def _command(page: PageRequest, one: Calculator[Any, Any], texts: Texts, subjects: list[Subject]) -> str:
    words = ["bevelbook", "--db", PurePath(page.team.path).name, "calc", one.name]
    for field in one.inputs:
        typed = texts.get(field.name, [])
        for text in [typed] if isinstance(typed, str) else typed:
            words += [field.option, text]
    for subject in subjects:
        words += ["--for", f"{subject.kind.name}:{subject.label}"]
    return shlex.join([*words, "--keep"])


def _example(one: Calculator[Any, Any]) -> dict[str, Any]:
    return {name: "\n".join(text) if isinstance(text, list) else text for name, text in one.worked[0].given.items()}


PAGE: Final = Page("calc", calc, NAME)
