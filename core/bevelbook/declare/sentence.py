"""Sentences that name fields: each reader knows a field by another name, an option, FIELD=VALUE or a form's label."""

from __future__ import annotations

from typing import Final, NamedTuple, Protocol


class Named(NamedTuple):
    """A field that a sentence names, by its name as declared.

    ``value`` is the value that the sentence asks for; of a listing it is an example of one item. ``is_place`` if the
    sentence says what is wrong with the field and does not ask for it: a listing is named without its shape.
    """

    field: str
    value: str = ""
    is_place: bool = False


class FieldNaming(Protocol):
    """What a reader calls a field."""

    def in_sentence(self, named: Named) -> str:
        """The field as the object of "Give ...", with its value where there is one."""

    def as_place(self, field: str) -> str:
        """The field where it only says what an error is about."""


class AsDeclared:
    """Fields under their own names, for whoever reads the declaration: ``str(error)`` in Python."""

    def in_sentence(self, named: Named) -> str:
        return f"{named.field}={named.value}" if named.value else named.field

    def as_place(self, field: str) -> str:
        return field


AS_DECLARED: Final = AsDeclared()


class Sentence(str):
    """Words and the fields named between them. As a text it has the names as declared.

    >>> says = Sentence("Give ", Named("viscosity_cst"), " or ", Named("gauge_kpa", "-40"), ".")
    >>> print(says)
    Give viscosity_cst or gauge_kpa=-40.
    """

    __slots__ = ("parts",)

    parts: tuple[str | Named, ...]

    def __new__(cls, *parts: str | Named) -> Sentence:
        made = super().__new__(cls, _joined(parts, AS_DECLARED))
        made.parts = parts
        return made

    @property
    def named(self) -> tuple[str, ...]:
        """The names of the fields in it."""
        return tuple(part.field for part in self.parts if isinstance(part, Named))


def parts_of(text: str) -> tuple[str | Named, ...]:
    """The parts of a sentence, to make a longer one of them; a plain text is one part."""
    return text.parts if isinstance(text, Sentence) else (text,)


def in_terms_of(naming: FieldNaming, text: str) -> str:
    """A text under the names that a reader knows; one that names no field stays as it is."""
    return _joined(parts_of(text), naming)


def _joined(parts: tuple[str | Named, ...], naming: FieldNaming) -> str:
    return "".join(_part_in_terms_of(naming, part) for part in parts)


def _part_in_terms_of(naming: FieldNaming, part: str | Named) -> str:
    if not isinstance(part, Named):
        return part
    return naming.as_place(part.field) if part.is_place else naming.in_sentence(part)
