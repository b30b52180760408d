"""The topics of the manual, and the page of each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.declare.error_codes import GROUPS, INPUT_CODES, PATTERN_CODES, VALUE_CODES, ErrorCode, code_in_words
from bevelbook.declare.errors import UnknownNameError
from bevelbook.manual.backups import backup_page
from bevelbook.manual.before_an_event import before_an_event_page
from bevelbook.manual.calculators import calculator_page, calculators_page
from bevelbook.manual.changes import changes_page
from bevelbook.manual.commands import commands_page
from bevelbook.manual.contents import Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.manual.data_package import data_package_page
from bevelbook.manual.editions import edition_page
from bevelbook.manual.erasing import erasing_page
from bevelbook.manual.errors import error_entry, errors_page
from bevelbook.manual.glossary import glossary_page
from bevelbook.manual.hooks import TOPIC as HOOKS_TOPIC
from bevelbook.manual.hooks import hooks_page, name_page, names_to_import
from bevelbook.manual.imports import import_page, reason_entry, skipped_entry, warning_entry
from bevelbook.manual.labels_to_print import labels_page
from bevelbook.manual.meeting import meeting_page
from bevelbook.manual.one_laptop import one_laptop_page
from bevelbook.manual.other_programs import other_programs_page
from bevelbook.manual.own_calculator import own_calculator_page
from bevelbook.manual.photographs import photographs_page
from bevelbook.manual.serving_many import serving_page
from bevelbook.manual.speaking_scale import scale_page
from bevelbook.manual.stock import stock_page
from bevelbook.manual.tables import listed, table_page, tables_page
from bevelbook.manual.topic_list import TOPICS, WITH_NAMES
from bevelbook.manual.units import units_page
from bevelbook.manual.what_it_protects import what_it_protects_page
from bevelbook.manual.without_the_laptop import without_the_laptop_page
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.report import REASONS, SKIPPED, WARNINGS
from bevelbook.plugin.registry import Registry

_UNKNOWN_CHOICES: Final = {f"{field.name}_unknown" for field in COLUMNS if field.choices}
"""The reasons of an import that a command gives too, for a word that is not in a field's list."""


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
        case "plan":
            return before_an_event_page()
        case "network":
            return one_laptop_page()
        case "waiting":
            return without_the_laptop_page()
        case "erasing":
            return erasing_page()
        case "commands" | "completion":
            return commands_page()
        case "calculators":
            return calculators_page(registry)
        case "plugins":
            return own_calculator_page()
        case "units":
            return units_page()
        case "tables":
            return tables_page()
        case "scale":
            return scale_page()
        case "import":
            return import_page(registry)
        case "meeting":
            return meeting_page()
        case "protects":
            return what_it_protects_page()
        case "backup":
            return backup_page()
        case "serving":
            return serving_page()
        case "edition":
            return edition_page()
        case "photographs":
            return photographs_page()
        case "stock":
            return stock_page()
        case "labels":
            return labels_page()
        case "package":
            return data_package_page()
        case "programs":
            return other_programs_page()
        case "hooks":
            return hooks_page()
        case "errors":
            return errors_page()
        case "glossary":
            return glossary_page()
        case "changes":
            return changes_page()
    if registry.in_force(topic) is not None:
        return _named("calculators", topic, registry)
    tables = listed()
    if topic in tables:
        return table_page(tables[topic])
    page = _of_code(topic)
    if page is not None:
        return page
    if topic in names_to_import():
        return name_page(topic)
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
    if topic == HOOKS_TOPIC:
        if name not in (names := names_to_import()):
            raise UnknownNameError("name", name, names, by_command="'bevelbook help hooks' lists them.")
        return name_page(name)
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
    """A page with every meaning of one code, each under where it comes from; None if it is not a code."""
    sections = []
    typed = _in_a_command(code)
    if typed is not None:
        sections.append(_meaning("In a command or on a page", error_entry(code, typed), "errors"))
    if code in REASONS:
        entry = skipped_entry(code) if code in SKIPPED else reason_entry(code)
        sections.append(_meaning("In an import", entry, "import"))
    if code in WARNINGS:
        sections.append(_meaning("In an import, as a warning", warning_entry(code), "import"))
    if not sections:
        return None
    return ManualPage(code, code, "What this code means, and what to do.", tuple(sections))


def _in_a_command(code: str) -> ErrorCode | None:
    """What a code means outside an import. A code of an import may only look as if it were made from a name."""
    if code in {*REASONS, *WARNINGS} - {*VALUE_CODES, *INPUT_CODES}:
        return PATTERN_CODES["FIELD_unknown"] if code in _UNKNOWN_CHOICES else None
    return code_in_words(code)


def _meaning(where: str, entry: ManualEntry, topic: str) -> Section:
    """One meaning of a code, with what to do and the page that lists the others."""
    words = (entry.words, entry.beside, f"'bevelbook help {topic}' lists all of them.")
    return Section(where, tuple(Paragraph(text) for text in words if text))
