"""What the address of a form has typed in it already: ``?build=rear-a``."""

from __future__ import annotations

from typing import Final

from bevelbook.entering.typed_fields import typed_fields
from bevelbook.records import Kind
from bevelbook.web.entry.request import EntryRequest
from bevelbook.web.host.arguments import Argument, any_texts, one_of

SAME: Final = "same"
"""In the address of a form of which nothing had to be stored."""
BACK_TO: Final = "back"
"""In the address of a form that a list led to: the name of the list's page, which the page after it leads back to."""
TO_FINISH: Final = "to-finish"
"""The page whose list leads to forms and back."""
YES: Final = "yes"
OF_EVERY_FORM: Final = (one_of(SAME, YES), one_of(BACK_TO, TO_FINISH))


def takes_of(kind: Kind) -> tuple[Argument, ...]:
    """The arguments of the form of a record: its fields, and what its pages say to one another."""
    return (*any_texts(field.name for field in typed_fields(kind)), *OF_EVERY_FORM)


def given_texts(asked: EntryRequest, kind: Kind) -> dict[str, str]:
    """The texts for fields of a record that the address names."""
    found = ((field.name, asked.page.given(field.name)) for field in typed_fields(kind))
    return {name: text for name, text in found if text}
