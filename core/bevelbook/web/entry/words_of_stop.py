"""What keeps a form from being stored, in a line: for a phone that handed it over and shows no page of it yet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.host.entry_gate import NEEDS_A_LOOK


def words_of_page(context: Mapping[str, Any]) -> str:
    """The sentence that a page of a stopped form begins with, else what is said at its inputs.

    ``context`` is what the page's template is given.
    """
    stop, form = context.get("stop"), context.get("drawn") or context.get("form")
    if stop is not None and stop.sentence:
        return str(stop.sentence)
    if context.get("fault"):
        return str(context["fault"])
    marked: Iterable[EntryField] = getattr(form, "faulty", ()) or getattr(getattr(form, "form", form), "stopped", ())
    said = [f"{one.words}: {one.fault or 'changed by somebody else meanwhile'}" for one in marked]
    return " ".join(said) or NEEDS_A_LOOK
