"""The card of a build as text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook.card.contents import CalculatorResult, Card, CardSection, CardValue, PouringStrip
from bevelbook.card.steps import Blank, CardStep
from bevelbook.display.format import WORD_SIGN
from bevelbook.display.line_width import line_width
from bevelbook.display.table import table_lines
from bevelbook.display.wrapping import wrapped_under
from bevelbook.store.invented_mark import INVENTED_WORDS

WIDTH: Final = 96
RULED: Final = "________"
TICK: Final = "[ ]"
TICKED: Final = "[x]"


def card_lines(card: Card) -> Iterator[str]:
    """The card, line by line."""
    yield f"{card.build}  (diff {card.diff})"
    yield ", ".join(f"{line.name.lower()} {line.value or RULED}" for line in card.head)
    if card.clash:
        yield from wrapped_lines(f"CLASH: {card.clash}", "")
    if card.leak:
        yield from wrapped_lines(f"OIL LOST: {card.leak}", "")
    if card.note:
        yield from wrapped_lines(f"Note: {card.note}", "")
    yield ""
    if card.stop.mass_g:
        yield f"STOP POURING AT {card.stop.mass_g} g   {card.stop.window_words}"
    else:
        yield f"STOP POURING AT {RULED} g   {card.how_to_stop}"
    yield from _result_lines(card.stop.result, "  ")
    if card.oil:
        yield f"Oil: {card.oil}"
    if card.different:
        yield f"Different from {card.before}:"
        for words in card.different:
            yield from wrapped_lines(words, "  ", "    ")
    yield ""
    yield from _pouring_lines(card.pouring)
    for part in card.parts:
        yield ""
        yield from _part_lines(part)
    yield ""
    yield card.procedure.upper()
    for step in card.steps:
        yield from _step_lines(step)
    yield ""
    for text in card.cautions:
        yield from wrapped_lines(f"Caution: {text}", "")
    yield card.rule
    if card.invented:
        yield INVENTED_WORDS


def _pouring_lines(strip: PouringStrip) -> Iterator[str]:
    yield "POURING"
    yield from table_lines(
        [
            (line.on_scale or RULED, line.zeroed or RULED, line.to_go, "fine" if line.is_fine else "")
            for line in strip.lines
        ],
        headings=("on the scale [g]", "zeroed on the diff [g]", "still to go [g]", ""),
        right={0, 1, 2},
        indent="  ",
    )


def _part_lines(part: CardSection) -> Iterator[str]:
    yield part.title.upper()
    yield from table_lines([(line.name, _line_text(line)) for line in part.lines], indent="  ")
    if part.picture_words and part.key == "screws":
        yield f"  order {part.picture_words}, the screws numbered clockwise"
    elif part.picture_words:
        yield from wrapped_lines(part.picture_words, "  ")
    for number, text in enumerate(part.listed, start=1):
        yield from wrapped_lines(f"{TICK} {number}. {text}", "  ", "      ")
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
        yield from wrapped_lines(f"{result.title}: {WORD_SIGN[result.verdict]}: {first}", indent, indent + "  ")
        for reason in others:
            yield from wrapped_lines(reason, indent + "  ")
        if result.given:
            yield from wrapped_lines(f"With {result.given}", indent + "  ")
        for finding in result.findings:
            yield from wrapped_lines(f"Worth a look: {finding}", indent + "  ")
    elif result.lacking:
        boxes = ", ".join(f"{one} {RULED}" for one in result.lacking)
        yield from wrapped_lines(f"{result.title}: still to be measured: {boxes}", indent, indent + "  ")
    elif result.refused:
        yield from wrapped_lines(f"{result.title}: unclear: {result.refused}", indent, indent + "  ")


def _step_lines(step: CardStep) -> Iterator[str]:
    noted = f" ({step.noted})" if step.noted else ""
    yield f"{TICKED if step.is_done else TICK} {step.number:>2}. {step.title}{noted}"
    yield from wrapped_lines(step.do, "        ")
    if step.check:
        yield from wrapped_lines(f"Check: {step.check}", "        ")
    for text in step.see:
        yield from wrapped_lines(f"-> {text}", "        ")
    if step.blanks:
        yield from wrapped_lines("; ".join(map(_blank_text, step.blanks)), "        ")
    for caution in step.cautions:
        words = caution.text if caution.said_at is None else f"{caution.text}: see step {caution.said_at}"
        yield from wrapped_lines(f"Caution: {words}", "        ")


def _blank_text(blank: Blank) -> str:
    if blank.value is not None:
        return f"{blank.name}: {blank.value}"
    return f"{blank.name} {to_choose(blank.choices) or RULED} {blank.unit}".rstrip()


def to_choose(choices: tuple[str, ...]) -> str:
    """Words with a box to tick before each."""
    return " ".join(f"{TICK} {one}" for one in choices)


def wrapped_lines(text: str, indent: str, hanging: str | None = None) -> list[str]:
    """A text on lines of at most ``WIDTH`` characters, fewer where the terminal has fewer; no line ends inside a box to
    tick, or between it and its word."""
    return wrapped_under(text, min(WIDTH, line_width()), indent, hanging)
