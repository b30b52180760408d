"""What ``bevelbook record KIND`` asks for on a terminal. A script is not asked."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Final

import click

from bevelbook.declare.printable import printable

if TYPE_CHECKING:
    from bevelbook.declare.fields import Field
    from bevelbook.records import Kind

USUAL: Final = {
    "run": ("venue", "car", "front", "rear", "grip", "track_temp_c", "best_lap_s", "call", "note"),
    "weighing": ("mass_basis", "note"),
}
"""What such a record usually has: asked for where the command gave nothing, or not what is needed."""
_IN_PLACE: Final = "Diff at the {} (its name, or the build)"


def ask_for_record(kind: Kind, texts: dict[str, str]) -> None:
    """Put what a person answers into ``texts``. What is needed is asked until it is given; the rest may stay empty."""
    if not sys.stdin.isatty():
        return
    missing = [field for field in kind.needed if not texts.get(field.name)]
    is_bare = not texts or bool(missing)
    for field in missing:
        texts[field.name] = _ask(field, needed=True)
    for name in USUAL.get(kind.name, ()) if is_bare else ():
        if name in texts:
            continue
        asked = next((one for one in kind.fields if one.name == name), None)
        answer = _ask(asked, needed=False) if asked else _ask_in_words(_IN_PLACE.format(name))
        if answer.strip():
            texts[name] = answer


def _ask(field: Field, *, needed: bool) -> str:
    from bevelbook.declare.errors import BevelbookError
    from bevelbook.reading import BY_HAND, read

    def checked(text: str) -> str:
        try:
            if text.strip() and field.kind != "reference":
                read(field, text, BY_HAND)
        except BevelbookError as fault:
            raise click.UsageError(printable(fault.without_place())) from None
        return text

    unit = f" [{field.unit}]" if field.unit and field.unit != "1" else ""
    choices = f" ({', '.join(field.choices)})" if field.choices else ""
    question = printable(f"{field.about}{unit}{choices}")
    if needed:
        return str(click.prompt(question, value_proc=checked))
    return str(click.prompt(question, default="", show_default=False, value_proc=checked))


def _ask_in_words(question: str) -> str:
    return str(click.prompt(question, default="", show_default=False))
