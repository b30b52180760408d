"""The topics of the manual, and the page of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.declare.error_codes import GROUPS
from bevelbook.declare.errors import UnknownNameError
from bevelbook.manual.calculators import calculator_page, calculators_page
from bevelbook.manual.commands import commands_page
from bevelbook.manual.contents import Block, Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.errors import errors_page
from bevelbook.manual.glossary import glossary_page
from bevelbook.manual.imports import import_page
from bevelbook.manual.tables import listed, table_page, tables_page
from bevelbook.manual.units import units_page
from bevelbook.notes.report import REASONS, WARNINGS
from bevelbook.plugin.registry import Registry

TOPICS: Final = {
    "commands": "The commands, the options before them, the exit codes.",
    "calculators": "What each calculator answers; with its name, all about one.",
    "units": "The units that are taken, and those that are refused.",
    "tables": "The tables and views of the database; with its name, the columns of one.",
    "import": "The columns of a note file, and why a row is rejected.",
    "errors": "Every error code with what to do.",
    "glossary": "The words that commands and pages use.",
}
"""The topics in the order of the manual, each with a line of what it holds."""
WITH_NAMES: Final = ("calculators", "tables")
"""Topics that have a page for each thing they list, asked for as TOPIC/NAME or by the bare name."""


def page_of(topic: str, registry: Registry) -> ManualPage:
    """The page of a topic, of a calculator, of a table, or of one code; without a topic the list of topics.

    Raises UnknownNameError with near misses.
    """
    if not topic:
        return _contents()
    head, _, name = topic.partition("/")
    if name and head in WITH_NAMES:
        return _named(head, name, registry)
    match topic:
        case "commands":
            return commands_page()
        case "calculators":
            return calculators_page(registry)
        case "units":
            return units_page()
        case "tables":
            return tables_page()
        case "import":
            return import_page()
        case "errors":
            return errors_page()
        case "glossary":
            return glossary_page()
    if topic in registry.calculators:
        return _named("calculators", topic, registry)
    tables = listed()
    if topic in tables:
        return table_page(tables[topic])
    page = _of_code(topic)
    if page is not None:
        return page
    known = [*TOPICS, *registry.calculators, *tables, *_codes()]
    raise UnknownNameError("topic", topic, known, by_command="'bevelbook help' lists the topics.")


def _contents() -> ManualPage:
    return ManualPage(
        "",
        "Manual",
        "Each topic is a page, made from the same declarations as the tool itself.",
        (
            Section(
                "Topics", (Entries(tuple(ManualEntry(name, line, topic=name) for name, line in TOPICS.items()), True),)
            ),
            Section(
                "",
                (
                    Paragraph(
                        "'bevelbook help TOPIC' prints one. TOPIC may also be the name of a calculator or a table, or "
                        "a code that an error or an import has shown."
                    ),
                ),
            ),
        ),
    )


def _named(topic: str, name: str, registry: Registry) -> ManualPage:
    if topic == "calculators":
        return calculator_page(registry.calculator(name).calculator)
    tables = listed()
    if name not in tables:
        raise UnknownNameError("table", name, tables, by_command="'bevelbook help tables' lists them.")
    return table_page(tables[name])


def _codes() -> Iterator[str]:
    for codes in GROUPS.values():
        yield from codes
    yield from REASONS
    yield from WARNINGS


def _of_code(code: str) -> ManualPage | None:
    """A page with every entry of one code, from the pages that list them."""
    found = [
        (page, entry)
        for page in (errors_page(), import_page())
        for section in page.sections
        for block in section.blocks
        for entry in _typed_entries(block)
        if entry.term == code
    ]
    if not found:
        return None
    page, entry = found[-1]
    return ManualPage(
        code,
        code,
        entry.words,
        (
            Section(
                "",
                (
                    Paragraph(entry.beside or "A warning: the rows are taken; read what it says."),
                    Paragraph(f"'bevelbook help {page.topic}' lists all of them."),
                ),
            ),
        ),
    )


def _typed_entries(block: Block) -> tuple[ManualEntry, ...]:
    return block.entries if isinstance(block, Entries) and block.are_typed else ()
