"""The form of a record as it came back from a browser."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import Field
from bevelbook.store.ids import now_utc
from bevelbook.web.entry.entry_fields import NOTHING, TYPED
from bevelbook.web.entry.noted_moment import NOTED_BY, OF_WAITING, NotedMoment, noted_in
from bevelbook.web.entry.record_form import version_of
from bevelbook.web.entry.sent import ANSWER, SURE
from bevelbook.web.entry.shown_day import AS_OF_TODAY, SHOWN_DAY
from bevelbook.web.shared.typed_form import TypedForm

VERSION: Final = "form.version"
"""The hidden field with the version of the form's fields."""
WAS: Final = "was."
"""Begins the name of the hidden field with the text that was stored when the form was drawn."""
TAKE: Final = "take."
"""Begins the name of the button that takes what somebody else wrote meanwhile."""


class OldFormError(InputError):
    """The form was drawn by another version of the page; ``homeless`` are texts that no field takes any more."""

    def __init__(
        self, homeless: Mapping[str, str] = MappingProxyType({}), gone: Mapping[str, str] = MappingProxyType({})
    ):
        self.homeless = dict(homeless)
        said = [
            f"it has no {name.replace('_', ' ')} any more, where you typed {text}" for name, text in homeless.items()
        ]
        said += [f"{words} cannot be {text} any more" for words, text in gone.items()]
        super().__init__(
            "; ".join(["this page is from before an update; what you typed is here", *said]),
            code="old_form",
            remedy="Check it and store it again.",
        )


class RecordSent(NamedTuple):
    """What was typed for each field, the texts with which it was drawn, and what of it no field takes any more.

    ``unseen`` is what the form has to send again: answers given and values confirmed so far. ``noted`` is when it was
    noted. ``gone`` are texts that a choice no longer has, by the words of its field.
    """

    typed: Mapping[str, str]
    was: Mapping[str, str]
    homeless: Mapping[str, str]
    unseen: tuple[tuple[str, str], ...]
    is_old: bool
    noted: NotedMoment
    gone: Mapping[str, str] = {}

    @property
    def given(self) -> dict[str, str]:
        """The texts of a new record: what was left empty is missing, what is to stay empty is an empty text."""
        return {name: "" if text == NOTHING else text for name, text in self.typed.items() if text}

    @property
    def changes(self) -> dict[str, str]:
        """The texts of a stored record, in which an empty text empties the field."""
        return {name: "" if text == NOTHING else text for name, text in self.typed.items()}


_OURS: Final = ("key", "csrftoken", SURE, "another", VERSION, SHOWN_DAY, AS_OF_TODAY, "again", "key.next", NOTED_BY)
_PREFIXES: Final = (ANSWER, WAS, TAKE, OF_WAITING)


def record_sent(
    form: TypedForm, fields: Iterable[Field], *, version: str | None = None, day: str | None = None
) -> RecordSent:
    """The texts of a form for these fields; ``day`` names the one with the day of the record."""
    fields = tuple(fields)
    names = {field.name for field in fields}
    taken = form.after(TAKE)
    typed = {
        name: _lines(taken.get(name) or form.text(f"{name}{TYPED}") or form.text(name))
        for name in names
        if name in form.texts or f"{name}{TYPED}" in form.texts or name in taken
    }
    known = {*names, *(f"{name}{TYPED}" for name in names), *_OURS}
    homeless = {
        name: form.text(name)
        for name in form.texts
        if name not in known and not name.startswith(_PREFIXES) and form.text(name)
    }
    answers = tuple((f"{ANSWER}{name}", text) for name, text in form.after(ANSWER).items() if text)
    sure = tuple((SURE, text) for text in form.all(SURE))
    return RecordSent(
        typed,
        {name: _lines(text) for name, text in form.after(WAS).items()},
        homeless,
        (*answers, *sure),
        form.text(VERSION) not in ("", version or version_of(fields)),
        noted_in(form, now_utc(), typed.get(day or "", "")),
        {field.words: typed[field.name] for field in fields if _is_gone(field, typed.get(field.name, ""))},
    )


def _is_gone(field: Field, text: str) -> bool:
    return field.kind == "choice" and text not in ("", NOTHING, *field.choices)


def _lines(text: str) -> str:
    """A text with plain ends of lines: a form sends others."""
    return "\n".join(text.splitlines()).strip() if "\r" in text else text
