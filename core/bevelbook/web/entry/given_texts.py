"""What the address of a form has typed in it already: ``?build=rear-a``."""

from __future__ import annotations

from bevelbook.entering.record import typed_fields
from bevelbook.records import Kind
from bevelbook.web.entry.request import EntryRequest


def given_texts(asked: EntryRequest, kind: Kind) -> dict[str, str]:
    """The texts for fields of a record that the address names; anything else in it is left alone."""
    found = ((field.name, asked.page.given(field.name)) for field in typed_fields(kind))
    return {name: text for name, text in found if text}
