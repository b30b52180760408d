"""A result in words and figures for people."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bevelbook.calculating.calculate import Result
from bevelbook.declare.fields import Field, fields_of
from bevelbook.display.format import SHOWN_UNIT, WORD_SIGN, format_value, table_lines, wrapped
from bevelbook.reference import RULES_FIRST


def result_lines(result: Result, *, beside: Sequence[str] = (), explain: bool = False) -> Iterator[str]:
    """A result for the terminal: verdict and reasons, outputs, rows, findings, cautions; the working on request.

    ``beside`` stands under the reasons: what is known of the record that it is for.
    """
    calculator = result.calculator
    yield calculator.title
    yield from _told(f"{WORD_SIGN[result.verdict]}: ", (*result.judgement.reasons, *beside))
    yield ""
    said = (None, *result.judgement.reasons)
    outputs = [field for field in calculator.outputs if getattr(result.found, field.name) not in said]
    width = max((len(field.words) for field in outputs), default=0)
    for field in outputs:
        told = format_value(getattr(result.found, field.name), field, result.uncertainties.get(field.name))
        if result.uncertainties.get(field.name, 0.0) is None:
            told += " (uncertainty not available here)"
        yield f"  {field.words:<{width}}  {told}"
    if result.rows:
        yield ""
        yield from table_lines(result.rows, _row_fields(result))
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
        for line in calculator.cautions:
            yield from wrapped(f"Caution: {line}")
        yield RULES_FIRST
    if explain:
        yield ""
        for title, lines in (
            ("How this was worked out", result.working_or_fault()[0]),
            ("Valid range", calculator.valid),
            ("Sources", [source.cite() for source in calculator.sources]),
        ):
            yield title
            for line in lines:
                yield from wrapped(line, indent="  ")


def input_text(result: Result, field: Field) -> str:
    """An input as it went in, with its unit and its own uncertainty; of a listing the number of its rows."""
    value = getattr(result.bound.given, field.name)
    if field.kind == "listing":
        return f"({len(value)})"
    if isinstance(value, float):
        unit = SHOWN_UNIT.get(field.unit or "", field.unit or "")
        uncertainty = result.bound.uncertainties.get((field.name, None, None))
        return f"{value:,.10g}{f' ± {uncertainty:g}' if uncertainty else ''} {unit}".strip()
    return format_value(value, field)


def _row_fields(result: Result) -> tuple[Field, ...]:
    listing = result.calculator.listing_out
    return fields_of(listing.item) if listing else ()


def _told(start: str, reasons: tuple[str, ...]) -> Iterator[str]:
    yield from wrapped(f"{start}{reasons[0]}" if reasons else start.rstrip(": "))
    for reason in reasons[1:]:
        yield from wrapped(reason, indent="  ")
