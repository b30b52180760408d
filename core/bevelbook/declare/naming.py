"""What people call the fields of a record where there is neither an option nor a form: on a card, in a finding."""

from __future__ import annotations

from collections.abc import Iterable

from bevelbook.declare.fields import Field
from bevelbook.declare.known_units import suffix_of
from bevelbook.declare.sentence import Named


class InWords:
    """Fields in plain words: ``dry mass``. A field that is not among ``fields`` is named by its name without unit."""

    def __init__(self, fields: Iterable[Field]) -> None:
        self._fields = {field.name: field for field in fields}

    def in_sentence(self, named: Named) -> str:
        return f"{self.as_place(named.field)} {named.value}".rstrip()

    def as_place(self, field: str) -> str:
        found = self.field(field)
        return found.words if found else field.removesuffix(suffix_of(field) or "").replace("_", " ")

    def field(self, name: str) -> Field | None:
        """The field of that name, None where it is not among these."""
        return self._fields.get(name)


class WithArticle(InWords):
    """The same in a sentence of a help text or above a form: ``the dry mass``."""

    def in_sentence(self, named: Named) -> str:
        return f"the {super().in_sentence(named)}"
