"""The words of a fault on a page, beside its input or at the top."""

from __future__ import annotations

from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError


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
