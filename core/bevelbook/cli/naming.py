"""What the commands call a field in an error: calc its options, record the words FIELD=VALUE."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager

from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import FieldNaming, Named


class AsOptions(InWords):
    """Inputs of a calculator as options, ``--dry-mass``; an item of a listing as ``--weighing RUNS:MASS``."""

    def in_sentence(self, named: Named) -> str:
        field = self.field(named.field)
        if field is None:
            return super().in_sentence(named)
        if field.kind == "listing":
            return f"{field.option} {named.value or field.needed_shape.upper()} for each"
        return f"{field.option} {named.value}".rstrip()

    def as_place(self, field: str) -> str:
        found = self.field(field)
        return found.option if found else super().as_place(field)


class AsFieldWords(InWords):
    """Fields of a record as they are typed after ``record KIND``: ``dry_mass=12.40g``."""

    def in_sentence(self, named: Named) -> str:
        return f"{self.as_place(named.field)}={named.value or '...'}"

    def as_place(self, field: str) -> str:
        found = self.field(field)
        return found.stem if found else field


class AsCalled(InWords):
    """Fields of a record by what a command of its own calls them: ``--on`` for ``read_on``."""

    def __init__(self, fields: Iterable[Field], called: Mapping[str, str]) -> None:
        super().__init__(fields)
        self._called = called

    def as_place(self, field: str) -> str:
        return self._called.get(field) or super().as_place(field)


@contextmanager
def named(naming: FieldNaming) -> Iterator[None]:
    """Let every error that comes out of here name fields in this way."""
    try:
        yield
    except BevelbookError as fault:
        fault.naming = naming
        raise
