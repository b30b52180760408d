"""Questions that only a person can answer, with what each answer does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError, Place


class Way(NamedTuple):
    """A way to answer, in words. ``instead`` is the text that it puts into the field; without one, ``key`` is given to
    :class:`Answers`."""

    key: str
    words: str
    instead: str | None = None


class Question(InputError):
    """What is unclear about one field. Whoever can ask does so and reads the record again with the answer. ``what`` is
    a sentence, or a question, that says what was found."""

    is_found_said = True

    def __init__(self, what: str, *, code: str, field: str, found: str, answers: Iterable[Way]) -> None:
        self.field = field
        self.answers = tuple(answers)
        ways = " Or: ".join(f"{answer.words}." for answer in self.answers)
        super().__init__(what, code=code, place=Place(field=field), found=found, remedy=f"{ways} Nothing was changed.")


class Answers(NamedTuple):
    """The answers so far: for one field, and for every field that asks. ``fluid`` is the oil of a build closed again,
    by its label; as before if None."""

    by_field: Mapping[str, str] = MappingProxyType({})
    for_all: frozenset[str] = frozenset()
    fluid: str | None = None

    def of(self, field: str, *keys: str) -> str | None:
        """The answer among these that was given for a field."""
        own = self.by_field.get(field)
        return own if own in keys else next((key for key in keys if key in self.for_all), None)


NO_ANSWERS: Final = Answers()
