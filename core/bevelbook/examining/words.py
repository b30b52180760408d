"""What a calculator says about itself: the docstring of its module, what each field is about, its question, sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from bevelbook.calculating.binding import check_same_as
from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.guard import one_line

_WORD: Final = late_pattern(r"[^\W\d_]{2,}")
_UNFINISHED: Final = late_pattern(r"\b(TODO|FIXME|XXX|TBD)\b|\.\.\.$|…$")
_WORDS_OF_DOCSTRING: Final = 3


def examine_docstring(declared: DeclaredLines, calls: Calls) -> None:
    """Whether the plugin's module says what it is for."""
    said = declared.docstring
    if said is None:
        return
    if len(_WORD.findall(said)) < _WORDS_OF_DOCSTRING or _UNFINISHED.search(said.strip()):
        calls.add(
            "docstring",
            "its first line does not say what the plugin is for" if said else "the file does not say what it is for",
            'Begin the file with a sentence: """How fast the inner wheel turns in a corner.""".',
            declared.module,
        )


def examine_words(calculator: Calculator[Any, Any], declared: DeclaredLines, calls: Calls) -> None:
    """Whether a calculator can be understood by who did not write it."""
    for owner in (calculator.given, calculator.found):
        for record, field in _all_fields(owner):
            if what := _fault_of_about(field):
                calls.add(
                    "about",
                    f"{field.name}: {what}",
                    "Say in words what it is: they stand beside the field on the form and in its help.",
                    declared.field(record.__name__, field.name),
                )
    if not calculator.question.strip().endswith("?"):
        remedy = 'Write it as people ask it: "How fast does the inner wheel turn?"'
        calls.add("question", "its question is none", remedy, declared.part(calculator.name, "question"))
    for name in ("question", "purpose", "title"):
        said = getattr(calculator, name)
        if _UNFINISHED.search(said.strip()) or not _WORD.search(said):
            calls.add(
                "unfinished", f"{name} is not finished: {said!r}", "Finish it.", declared.part(calculator.name, name)
            )
    if not calculator.valid:
        remedy = "Say where the formula holds, a line each."
        calls.add("no_range", "valid= says nothing", remedy, declared.part(calculator.name, "valid"))
    for source in (*calculator.sources, *(worked.source for worked in calculator.worked)):
        if len(_WORD.findall(source.title)) < 1 or _UNFINISHED.search(source.title.strip()):
            calls.add(
                "source",
                f"a source names nothing: {source.title!r}",
                "Name the book, standard or sheet and its page, or say what was worked out.",
                declared.part(calculator.name, "sources"),
            )


def examine_names(calculator: Calculator[Any, Any], declared: DeclaredLines, calls: Calls) -> None:
    """Whether what it names is there: columns that inputs are taken from, records, and an option for each input."""
    taken: dict[str, str] = {}
    for field in calculator.inputs:
        place = declared.field(calculator.given.__name__, field.name)
        if field.option in taken:
            calls.add(
                "same_option",
                f"{field.name} and {taken[field.option]} are both typed as {field.option.lstrip('-')!r}",
                "Give one of them another name.",
                place,
                is_serious=True,
            )
        taken.setdefault(field.option, field.name)
        if field.same_as:
            try:
                check_same_as(field.same_as)
            except DeclarationError as fault:
                remedy = "Write TABLE.COLUMN, such as builds.dry_mass_g, or leave same_as out."
                calls.add("same_as", f"{field.name}: {one_line(fault)}", remedy, place, is_serious=True)
    try:
        calculator.check_records()
    except DeclarationError as fault:
        place = declared.calculator(calculator.name)
        reason = one_line(fault).partition(": ")[2] or one_line(fault)
        calls.add("records", reason, "Name records and fields as 'bevelbook help' lists them.", place)


def _all_fields(owner: type[Any]) -> Iterator[tuple[type[Any], Field]]:
    for field in fields_of(owner):
        yield owner, field
        if field.item is not None:
            yield from ((field.item, one) for one in fields_of(field.item))


def _fault_of_about(field: Field) -> str | None:
    about = field.about.strip()
    if _UNFINISHED.search(about):
        return f"what it is about is not finished: {about!r}"
    if not _WORD.search(about):
        return f"what it is about says nothing: {about!r}"
    return None
