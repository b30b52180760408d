"""What the form of a calculator calls its inputs: the words of their labels, never an option."""

from __future__ import annotations

from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import Named


class OnForm(InWords):
    """Inputs by their labels, ``viscosity``; of a listing also how its box takes the items."""

    def in_sentence(self, named: Named) -> str:
        field = self.field(named.field)
        if field is None or field.kind != "listing":
            return super().in_sentence(named)
        return f"{field.words}, one a line as {named.value or field.needed_shape}"
