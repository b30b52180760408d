"""A result in words and figures for people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from bevelbook.calculating.calculate import Result, input_in_words
from bevelbook.declare.coverage import COVERAGE_K, TAKEN_AS, WITH_K
from bevelbook.declare.fields import Field, fields_of
from bevelbook.display.format import SHOWN_UNIT, WORD_SIGN, format_number, format_typed, format_value, wrapped
from bevelbook.display.table import table_lines
from bevelbook.reference import RULES_FIRST


def result_lines(result: Result, *, beside: Sequence[str] = (), explain: bool = False) -> Iterator[str]:
    """A result for the terminal: verdict and reasons, outputs, rows, findings, cautions in short; on request the
    working and the cautions in full.

    ``beside`` is printed under the reasons: what is known about the record.
    """
    calculator = result.calculator
    yield f"{calculator.title} ({calculator.replacing})" if calculator.replacing else calculator.title
    word = "" if result.judgement.in_words_only else f"{WORD_SIGN[result.verdict]}: "
    yield from _reason_lines(word, (*result.judgement.reasons, *beside))
    yield ""
    said = (None, *result.judgement.reasons)
    outputs = [
        field
        for field in calculator.shown_outputs(result.found)
        if getattr(result.found, field.name) not in said and (explain or not field.explained)
    ]
    yield from table_lines([(field.words, _output_text(result, field)) for field in outputs], indent="  ")
    if result.rows:
        yield ""
        yield from _row_lines(result, explain)
    if result.findings:
        yield ""
        for finding in result.findings:
            yield from wrapped(f"Worth a look: {finding}")
    yield ""
    yield from wrapped(
        "From: "
        + "; ".join(
            f"{field.words} {input_text(result, field)} ({result.bound.origins[field.name]})"
            for field in calculator.inputs
            if result.bound.origins[field.name] != "not given"
        )
    )
    if calculator.cautions:
        yield ""
        for line in calculator.cautions if explain else calculator.short_cautions:
            yield from wrapped(f"Caution: {line}")
        yield RULES_FIRST
        if not explain and calculator.short_cautions != calculator.cautions:
            yield f"The cautions in full: bevelbook help {calculator.name}"
    if explain:
        yield ""
        for title, lines in (
            ("How this was worked out", result.working_or_fault()[0]),
            *_column_words(result),
            ("Valid range", calculator.valid),
            ("Sources", [source.cite() for source in calculator.sources]),
        ):
            yield title
            for line in lines:
                yield from wrapped(line, indent="  ")


def input_text(result: Result, field: Field) -> str:
    """An input with its unit and uncertainty (k = 2), and what its ± was taken as; for a listing the number of its
    rows."""
    value = getattr(result.bound.given, field.name)
    if field.kind == "listing":
        return f"({len(value)}{_taken_in_listing(result, field)})"
    if isinstance(value, float):
        unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
        path = (field.name, None, None)
        uncertainty = result.bound.uncertainties.get(path)
        if not uncertainty:
            return f"{format_typed(value, field.unit)} {unit}".strip()
        k = TAKEN_AS if path in result.bound.k_taken else WITH_K
        spread = format_typed(COVERAGE_K * uncertainty, field.unit)
        return f"{format_typed(value, field.unit)} ± {spread} {unit} {k}".replace("  ", " ")
    return format_value(value, field)


def _taken_in_listing(result: Result, field: Field) -> str:
    """What the ± of a listing were taken as: of all, or of those typed without a k, each by its name."""
    spreads = [path for path in result.bound.uncertainties if path[0] == field.name]
    taken = [path for path in spreads if path in result.bound.k_taken]
    if not taken:
        return ""
    if len(taken) == len(spreads):
        return f", ± {TAKEN_AS}"
    return f", ± of {', '.join(input_in_words(result.formula, path) for path in sorted(taken, key=str))} {TAKEN_AS}"


def _output_text(result: Result, field: Field) -> str:
    text = format_value(getattr(result.found, field.name), field, result.uncertainties.get(field.name))
    is_not_available = result.uncertainties.get(field.name, 0.0) is None
    return f"{text} (uncertainty not available here)" if is_not_available else text


def _row_lines(result: Result, explain: bool) -> Iterator[str]:
    """The rows of a result under their headings, numbers to the right."""
    listing = result.calculator.listing_out
    fields = [field for field in (fields_of(listing.item) if listing else ()) if explain or not field.explained]
    return table_lines(
        [[_cell(row[field.name], field) for field in fields] for row in result.rows],
        headings=[f"{field.words}{f' [{field.unit}]' if _has_unit(field) else ''}" for field in fields],
        right={place for place, field in enumerate(fields) if field.is_number},
        indent="  ",
    )


def _column_words(result: Result) -> Iterator[tuple[str, Sequence[str]]]:
    """What the columns of the rows mean; nothing without rows."""
    listing = result.calculator.listing_out
    if listing and result.rows:
        yield "Columns of the table", [f"{field.words}: {field.about}" for field in fields_of(listing.item)]


def _has_unit(field: Field) -> bool:
    return field.unit not in (None, "", "1", "runs")


def _cell(value: Any, field: Field) -> str:
    if value is None:
        return ""
    return format_number(value, field) if field.is_number else str(value)


def _reason_lines(start: str, reasons: tuple[str, ...]) -> Iterator[str]:
    yield from wrapped(f"{start}{reasons[0]}" if reasons else start.rstrip(": "))
    for reason in reasons[1:]:
        yield from wrapped(reason, indent="  ")
