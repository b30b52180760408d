"""The calculators: a list with their questions, and a page for each, all from its declaration."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bevelbook.calculating.binding import LISTINGS, origin_in_words
from bevelbook.calculating.example import example_words
from bevelbook.declare.coverage import IN_WORDS
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.in_command import command_of
from bevelbook.declare.naming import WithArticle
from bevelbook.declare.sentence import in_terms_of
from bevelbook.display.format import WORD_SIGN, format_value
from bevelbook.manual.contents import (
    Block,
    Bullets,
    Cautions,
    CommandLine,
    Entries,
    ManualEntry,
    ManualPage,
    Paragraph,
    Section,
)
from bevelbook.manual.field_words import facts_of_field
from bevelbook.plugin.calculator import Calculator, Worked
from bevelbook.plugin.registry import Registry
from bevelbook.reference import RULES_FIRST

TOPIC = "calculators"


def calculators_page(registry: Registry) -> ManualPage:
    """Every calculator with the question it answers."""
    offered = sorted(registry.calculators.items())
    return ManualPage(
        TOPIC,
        "Calculators",
        "Each answers one question. A calculation needs no database; with --for it takes what you do not give from a "
        "record, with --keep it writes the result down.",
        (
            Section(
                "",
                (
                    Entries(
                        tuple(
                            ManualEntry(name, one.calculator.question, topic=topic_of(one.calculator))
                            for name, one in offered
                        ),
                        True,
                    ),
                ),
            ),
            Section(
                "What a number may look like",
                (
                    Paragraph(
                        "It takes its unit (12400 mg, 68 °F), a decimal point or comma, and an uncertainty, which is "
                        f"carried to every output: {IN_WORDS}."
                    ),
                ),
            ),
            Section(
                "One of your own",
                (Paragraph("'bevelbook help plugins' leads from an empty folder to a row in the browser."),),
            ),
        ),
    )


def topic_of(calculator: Calculator[Any, Any]) -> str:
    """The topic that asks for the page of a calculator."""
    return f"{TOPIC}/{calculator.name}"


def calculator_page(calculator: Calculator[Any, Any]) -> ManualPage:
    """One calculator: inputs, outputs, a worked example, valid range, sources and cautions."""
    return ManualPage(
        topic_of(calculator),
        f"{calculator.title} ({calculator.name})",
        calculator.question,
        tuple(_sections(calculator)),
    )


def _sections(calculator: Calculator[Any, Any]) -> Iterator[Section]:
    if calculator.cautions:
        yield Section("Cautions", (Cautions((*calculator.cautions, RULES_FIRST)),))
    yield Section("Inputs", tuple(_inputs(calculator)))
    yield Section("Outputs", tuple(_outputs(calculator)))
    yield Section("Worked example", tuple(_example(calculator, calculator.worked[0])))
    yield Section("Valid range", (Bullets(calculator.valid),))
    yield Section("Sources", (Bullets(tuple(one.cite() for one in calculator.sources)),))


def _inputs(calculator: Calculator[Any, Any]) -> Iterator[Block]:
    for choice in calculator.one_of:
        needs = in_terms_of(WithArticle(calculator.inputs), choice.after("Needs "))
        yield Paragraph(f"{needs}, and only one of these." if choice.exclusive else f"{needs}.")
    yield Entries(
        tuple(ManualEntry(field.option, f"{field.about}.", _beside(field)) for field in calculator.inputs),
        True,
    )


def _beside(field: Field) -> str:
    return f"{field.name}: {'; '.join(facts_of_field(field, _origin(field)))}."


def _origin(field: Field) -> str:
    """Where a value comes from that is not given: a record named with --for, or all records of the team."""
    origin = origin_in_words(field.same_as)
    if not origin:
        return ""
    is_of_team = field.same_as in LISTINGS and LISTINGS[field.same_as].subject is None
    return f"else from the database: {origin}" if is_of_team else f"with --for from {origin}"


def _outputs(calculator: Calculator[Any, Any]) -> Iterator[Block]:
    yield Entries(tuple(_output(field) for field in calculator.outputs), True)
    listing = calculator.listing_out
    if listing is not None:
        yield Paragraph(f"And a table: {listing.about[:1].lower()}{listing.about[1:]}.")
        yield Entries(tuple(_output(field) for field in fields_of(listing.item)), True)


def _output(field: Field) -> ManualEntry:
    return ManualEntry(field.name, f"{field.described()}.")


def _example(calculator: Calculator[Any, Any], worked: Worked) -> Iterator[Block]:
    yield CommandLine(command_of("calc", calculator.name, *example_words(calculator, worked)))
    fields = {field.name: field for field in calculator.outputs}
    entries = [ManualEntry("verdict", WORD_SIGN[worked.verdict])] if worked.verdict else []
    entries += [
        ManualEntry(fields[name].words, format_value(value, fields[name]))
        for name, value in worked.expected.items()
        if name in fields
    ]
    yield Entries(tuple(entries))
    yield Paragraph(f"Source: {worked.source.cite()}.")
