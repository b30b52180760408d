"""The words of a fault on a page, beside its input or at the top, and of what a form still needs."""

from __future__ import annotations

from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.declare.sentence import Named, Sentence, in_terms_of, parts_of

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
    else:
        words = fault.without_place()
    if fault.place.item is not None:
        words = f"line {fault.place.item}: {words}"
    return words[:1].upper() + words[1:]


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
