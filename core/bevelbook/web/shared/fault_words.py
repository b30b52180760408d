"""The words of a fault on a page, beside its input or at the top, and of what a form still needs."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.declare.sentence import Named, Sentence, in_terms_of, parts_of
from bevelbook.display.begun import begun
from bevelbook.web.shared.short_text import short

MISSING = "missing_input"
"""The code of a fault that only says what is still needed: on a form an invitation, not an error."""


def fault_words(fault: BevelbookError | None) -> str:
    """A fault for a page: its place is seen, so file and field are left out, but the line of a listing's box is named;
    a plugin's fault keeps its line; an unknown name is met with similar ones and no command."""
    if fault is None:
        return ""
    if isinstance(fault, PluginFault):
        words = fault.in_words()
    elif isinstance(fault, UnknownNameError):
        words = fault.on_page()
    elif (beyond := _beyond(fault)) is not None:
        words = beyond
    else:
        words = fault.without_place()
    if fault.place.item is not None:
        words = f"line {fault.place.item}: {words}"
    return begun(words, (fault.found or "",) if fault.is_found_said else ())


_TOO: Final = {"at most": "too high", "less than": "too high", "at least": "too low", "more than": "too low"}


def _beyond(fault: BevelbookError) -> str | None:
    """A number beyond what its field can be, as a person says it: ``395 is too high: at most 200 °C.``"""
    too = next((words for start, words in _TOO.items() if (fault.wanted or "").startswith(start)), None)
    if fault.code != "out_of_range" or fault.what != "out of its bounds" or not fault.found or too is None:
        return None
    return f"{short(fault.found)} is {too}: {fault.wanted}."


def needed_words(missing: BevelbookError) -> str:
    """What a form still needs, by the labels of its inputs: ``Still needed: oil mass or free volume.``

    Of alternatives the inputs alone are named, not the program that needs them.
    """
    parts = parts_of(missing.what)
    first = next((place for place, part in enumerate(parts) if isinstance(part, Named)), None)
    field = missing.place.field
    if first is not None and field is None:
        return f"Still needed: {in_terms_of(missing.naming, Sentence(*parts[first:]))}."
    if first is not None and field is not None:
        return f"Still needed: {missing.naming.as_place(field)}."
    return fault_words(missing)
