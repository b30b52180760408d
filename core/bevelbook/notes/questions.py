"""What only a person can say of a file: one question each, with the answers that an option takes."""

from __future__ import annotations

from typing import NamedTuple

from bevelbook.reading.options import ReadingOption


class PossibleAnswer(NamedTuple):
    """A possible answer: the value as the option takes it, and what it means in words."""

    value: str
    words: str


class FileQuestion(NamedTuple):
    """A question about a file. The option with the answer's value settles it for good.

    ``about`` is the heading of the column it concerns, empty for the whole file; an answer to a question of the whole
    file about its columns is HEADING=FIELD, else it is the field. ``samples`` are up to three cells as
    written there. Where ``is_needed``, something is not taken without an answer: the file, rows, or a column's cells.
    """

    option: ReadingOption
    words: str
    answers: tuple[PossibleAnswer, ...]
    about: str = ""
    samples: tuple[str, ...] = ()
    is_needed: bool = True
    may_be_none: bool = False
    """Whether another question follows where none of the answers is right."""

    @property
    def key(self) -> tuple[ReadingOption, str, str]:
        """What tells it from the other questions of a file."""
        return self.option, self.about, self.words

    def as_dict(self) -> dict[str, object]:
        """The question for programs."""
        return {**self._asdict(), "option": self.option.value, "answers": [one._asdict() for one in self.answers]}
