"""The words of a fault beside its input in a form."""

from __future__ import annotations

from bevelbook.declare.errors import BevelbookError, PluginFault


def fault_words(fault: BevelbookError | None) -> str:
    """A fault for a form: its place is seen, so file and field are left out; a plugin's fault keeps its line."""
    if fault is None:
        return ""
    words = fault.in_words() if isinstance(fault, PluginFault) else fault.without_place()
    return words[:1].upper() + words[1:]
