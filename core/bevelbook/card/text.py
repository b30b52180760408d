"""The card of a build and the run sheet as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from textwrap import wrap
from typing import Final

from bevelbook.card.all_fields_sheet import AllFieldsSheet, Group
from bevelbook.card.contents import CalculatorResult, Card, CardSection, CardValue
from bevelbook.card.steps import Blank, CardStep
from bevelbook.display.format import WORD_SIGN
from bevelbook.display.table import table_lines
from bevelbook.store.invented_mark import INVENTED_WORDS

WIDTH: Final = 96
RULED: Final = "________"
TICK: Final = "[ ]"
_WHOLE_TICK: Final = "[\u00a0]"


def card_lines(card: Card) -> Iterator[str]:
    """The card, line by line."""
    yield f"{card.build}  (diff {card.diff})"
    yield ", ".join(f"{line.name.lower()} {line.value or RULED}" for line in card.head)
    if card.note:
        yield from _wrapped(f"Note: {card.note}", "")
    yield ""
    if card.stop.mass_g:
        yield f"STOP POURING AT {card.stop.mass_g} g   {card.stop.window_words}"
    else:
        yield f"STOP POURING AT {RULED} g   dry mass + oil to put in"
    yield from _result_lines(card.stop.result, "  ")
    for part in card.parts:
        yield ""
        yield from _part_lines(part)
    yield ""
    yield card.procedure.upper()
    for step in card.steps:
        yield from _step_lines(step)
    yield ""
    for text in card.cautions:
        yield from _wrapped(f"Caution: {text}", "")
    yield card.rule
    if card.invented:
        yield INVENTED_WORDS


def all_fields_lines(sheet: AllFieldsSheet) -> Iterator[str]:
    """The run sheet, line by line: the day once, then what is written for every run."""
    yield sheet.title
    for group in sheet.groups:
        yield ""
        yield group.title.upper()
        yield from _group_lines(group)
    yield ""
    yield sheet.rule
    if sheet.invented:
        yield INVENTED_WORDS


def _group_lines(group: Group) -> Iterator[str]:
    yield from table_lines(
        [
            (f"{entry.about} [{entry.unit}]" if entry.unit else entry.about, _to_choose(entry.choices) or RULED)
            for entry in group.entries
        ],
        indent="  ",
    )
    for text in group.cautions:
        yield from _wrapped(f"Caution: {text}", "  ")


def _part_lines(part: CardSection) -> Iterator[str]:
    yield part.title.upper()
    yield from table_lines([(line.name, _line_text(line)) for line in part.lines], indent="  ")
    if part.picture_words:
        yield f"  order {part.picture_words}"
    for number, text in enumerate(part.listed, start=1):
        yield from _wrapped(f"{TICK} {number}. {text}", "  ", "      ")
    for result in part.results:
        yield from _result_lines(result, "  ")


def _line_text(line: CardValue) -> str:
    if line.value is None:
        note = f"  ({line.note})" if line.note else ""
        return f"{RULED} {line.unit}".rstrip() + note
    return f"{line.value}  ({line.note})" if line.note else line.value


def _result_lines(result: CalculatorResult, indent: str) -> Iterator[str]:
    if result.verdict:
        first, *others = result.reasons or ("",)
        yield from _wrapped(f"{result.title}: {WORD_SIGN[result.verdict]}: {first}", indent, indent + "  ")
        for reason in others:
            yield from _wrapped(reason, indent + "  ")
        if result.given:
            yield from _wrapped(f"With {result.given}", indent + "  ")
        for finding in result.findings:
            yield from _wrapped(f"Worth a look: {finding}", indent + "  ")
    elif result.lacking:
        boxes = ", ".join(f"{one} {RULED}" for one in result.lacking)
        yield from _wrapped(f"{result.title}: still to be measured: {boxes}", indent, indent + "  ")
    elif result.refused:
        yield from _wrapped(f"{result.title}: unclear: {result.refused}", indent, indent + "  ")


def _step_lines(step: CardStep) -> Iterator[str]:
    yield f"{TICK} {step.number:>2}. {step.title}"
    yield from _wrapped(step.do, "        ")
    if step.check:
        yield from _wrapped(f"Check: {step.check}", "        ")
    for text in step.see:
        yield from _wrapped(f"-> {text}", "        ")
    if step.blanks:
        yield from _wrapped("; ".join(map(_blank_text, step.blanks)), "        ")
    for caution in step.cautions:
        words = caution.text if caution.said_at is None else f"{caution.text}: see step {caution.said_at}"
        yield from _wrapped(f"Caution: {words}", "        ")


def _blank_text(blank: Blank) -> str:
    if blank.value is not None:
        return f"{blank.name}: {blank.value}"
    return f"{blank.name} {_to_choose(blank.choices) or RULED} {blank.unit}".rstrip()


def _to_choose(choices: tuple[str, ...]) -> str:
    return " ".join(f"{TICK} {one}" for one in choices)


def _wrapped(text: str, indent: str, hanging: str | None = None) -> list[str]:
    lines = wrap(
        text.replace(TICK, _WHOLE_TICK),
        WIDTH,
        initial_indent=indent,
        subsequent_indent=indent if hanging is None else hanging,
    )
    return [line.replace(_WHOLE_TICK, TICK) for line in lines]
