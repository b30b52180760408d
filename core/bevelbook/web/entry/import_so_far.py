"""How far a phone is with a file of notes: which file, and what was answered. It goes from page to page in the address
and in the forms, signed, so that the back button, a second tab and a restart of the laptop lose no answer."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook import __version__
from bevelbook.notes.file_answers import FileAnswers, value_typed
from bevelbook.notes.questions import FileQuestion, PossibleAnswer
from bevelbook.notes.settings import Settings
from bevelbook.reading.options import ReadingOption

_SIGNED_FOR: Final = f"bevelbook-import {__version__}"
"""Another version may ask otherwise: what it signed is not taken."""


class AskedBefore(NamedTuple):
    """A question that was asked: what tells it from others, and the value of its answer, None where it was left
    open."""

    option: str
    about: str
    words: str
    value: str | None

    @property
    def question(self) -> FileQuestion:
        """The question, without its answers."""
        return FileQuestion(ReadingOption(self.option), self.words, (), self.about)


class ImportSoFar(NamedTuple):
    """A file by its hash and its name, how it is read by now, and what was asked of it.

    ``as_last_time`` and ``language`` are the answers to these questions, ``yes`` or ``no``, empty where they were not
    asked. ``changes`` are the answers for rows that look like earlier ones, changed, by the part of the file and the
    line; without a line for all of the part.
    """

    sha256: str
    name: str
    settings: Settings = Settings()
    asked: tuple[AskedBefore, ...] = ()
    as_last_time: str = ""
    language: str = ""
    changes: Mapping[str, str] = {}

    @property
    def answers(self) -> FileAnswers:
        """What was answered; where the file is read as another one was, or by the headings of a language, only what is
        needed is asked."""
        only_needed = "yes" in (self.as_last_time, self.language)
        before = [(one.question, one.value) for one in self.asked]
        return FileAnswers(self.settings, only_needed=only_needed, before=before)

    def with_answers(self, answers: FileAnswers) -> ImportSoFar:
        """The same after more was answered."""
        asked = tuple(AskedBefore(one.option.value, one.about, one.words, value) for one, value in answers.asked)
        return self._replace(settings=answers.settings, asked=asked)

    def signed(self, datasette: Any) -> str:
        """The same as a text that nobody else can make."""
        said = {name: value for name, value in self.settings._asdict().items() if value != Settings()._asdict()[name]}
        return str(datasette.sign({**self._asdict(), "settings": said}, _SIGNED_FOR))


def import_so_far(datasette: Any, text: str) -> ImportSoFar | None:
    """What a signed text says; None where it is none of ours."""
    given = unsigned(datasette, text)
    if given is None or "sha256" not in given:
        return None
    settings = Settings(**given.pop("settings"))
    asked = tuple(AskedBefore(*one) for one in given.pop("asked"))
    return ImportSoFar(**given, settings=settings, asked=asked)


def unsigned(datasette: Any, text: str) -> dict[str, Any] | None:
    """What was signed for a page of an import; None for any other text."""
    from itsdangerous import BadSignature

    try:
        found = datasette.unsign(text, _SIGNED_FOR) if text else None
    except BadSignature:
        return None
    return found if isinstance(found, dict) else None


class PageQuestion(NamedTuple):
    """A question as a page asks it. ``subject`` says of what: of the ``file``, and then ``asked`` is that question and
    ``columns`` the fields by heading; whether it is read ``as_last_time``, or in a ``language``; or of ``changes``, and
    then ``place`` is the part of the file, with the line where it is about one.

    ``leave`` are the words of the button that leaves it open, ``typed`` what may be typed in place of an answer;
    ``taken`` is what is read with a yes.
    """

    subject: str
    words: str
    answers: tuple[PossibleAnswer, ...]
    lines: tuple[str, ...] = ()
    samples: tuple[str, ...] = ()
    typed: str = ""
    leave: str = ""
    asked: FileQuestion | None = None
    columns: Mapping[str, str] = {}
    place: str = ""
    taken: Settings | None = None

    def signed(self, datasette: Any) -> str:
        """What takes its answer, as a text that nobody else can make."""
        asked = self.asked
        of_file = asked and [asked.option.value, asked.words, self.answers, asked.about, (), asked.is_needed]
        columns = {asked.about: self.columns[asked.about]} if asked and asked.about in self.columns else {}
        said = self.taken.said() if self.taken else None
        kept = {"subject": self.subject, "asked": of_file, "columns": columns, "place": self.place, "taken": said}
        values = [one.value for one in self.answers]
        return str(datasette.sign({**kept, "values": values, "may_be_left": bool(self.leave)}, _SIGNED_FOR))


OPEN: Final = "open"
"""What the button sends that leaves a question open."""


def answered(so_far: ImportSoFar, question: Mapping[str, Any], choice: str, typed: str) -> ImportSoFar | None:
    """How far it is after an answer: the number of a listed one, :data:`OPEN`, or a text typed in place of them; None
    where that does not answer it. ``question`` is what was signed. Raises UnknownNameError for an unknown field.
    """
    values = question["values"]
    value = values[int(choice)] if choice.isascii() and choice.isdecimal() and int(choice) < len(values) else None
    subject = question["subject"]
    if subject == "file":
        option, words, answers, about, samples, is_needed = question["asked"]
        listed = tuple(PossibleAnswer(*one) for one in answers)
        asked = FileQuestion(ReadingOption(option), words, listed, about, tuple(samples), is_needed)
        if choice == OPEN and not question["may_be_left"]:
            return None
        if choice != OPEN and value is None:
            value = value_typed(asked, listed, typed.strip())
            if value is None:
                return None
        found = so_far.answers
        found.take(asked, value, question["columns"])
        return so_far.with_answers(found)
    if value is None:
        return None
    if subject == "changes":
        return so_far._replace(changes={**so_far.changes, question["place"]: value})
    settings = so_far.settings.over(Settings(**question["taken"])) if value == "yes" else so_far.settings
    return so_far._replace(settings=settings, **{subject: value})
