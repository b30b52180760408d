"""What texts and names become under the marks of what was erased: a function of both alone.

A text that was blanked once stays as it is, so that it does not matter when, where and how often it is done.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from typing import Any, Final
from unicodedata import normalize

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.kept_json import object_in, object_text
from bevelbook.reading.names_in_texts import KnownNames
from bevelbook.records import Kind
from bevelbook.store.erasable_columns import OF_KEPT, text_columns
from bevelbook.store.erased_marks import Mark, exact_name_id, name_id, part_id
from bevelbook.store.heads import Content

_JSON_TEXT: Final = late_pattern(r'("(?:[^"\\]|\\.)*")(\s*:)?', re.DOTALL)
_TAG: Final = late_pattern(r"<[^>]*>")
_LONGEST_NAME: Final = 200
"""Letters of a text that may be a name and nothing else; in a longer one a name is found as in any text."""
_LARGEST_MEMBER_BYTES: Final = 100_000_000


class Blanking:
    """The marks, ready to be asked."""

    def __init__(self, marks: Iterable[Mark]) -> None:
        self.names: dict[str, Mark] = {}
        self.texts: dict[tuple[str, str], dict[tuple[str | None, str], str]] = {}
        self.files: set[str] = set()
        self.pictures: set[str] = set()
        self._longest = 1
        for mark in marks:
            if mark.what == "name":
                self.names[mark.row_id] = mark
                self._longest = max(self._longest, mark.words or 1)
            elif mark.what == "text":
                columns = self.texts.setdefault((mark.table_name or "", mark.row_id), {})
                columns[mark.version, mark.column_name or ""] = mark.instead
            else:
                (self.files if mark.what == "file" else self.pictures).add(mark.row_id)
        self._all_names = self._known(all_names=True)
        self._names_in_texts = self._known(all_names=False)

    def __bool__(self) -> bool:
        return bool(self.names or self.texts or self.files or self.pictures)

    def who(self, text: str) -> str:
        """A name as it may be written; other texts as they are."""
        instead = self._all_names.called(text) if self.names else None
        return text if instead is None else instead

    def text(self, text: str, *, all_names: bool = False) -> str:
        """A text without the names that were erased, each as a whole word; ``all_names`` also those that stay in texts
        since they are words of the language."""
        if not self.names:
            return text
        if len(text) <= _LONGEST_NAME and (whole := self.who(text)) != text:
            return whole
        pieces: list[str] = []
        at = 0
        for found in (self._all_names if all_names else self._names_in_texts).found_in(text):
            pieces += [text[at : found.start], found.who, found.ending]
            at = found.end
        return "".join((*pieces, text[at:]))

    def _known(self, *, all_names: bool) -> KnownNames[str]:
        def instead(of: str) -> str | None:
            found = self.names.get(of)
            return found.instead if found is not None and (all_names or found.in_texts != "no") else None

        return KnownNames(
            lambda key: instead(exact_name_id(key)),
            lambda key: instead(name_id(key)),
            lambda key: instead(part_id(key)),
            self._longest,
        )

    def json(self, text: str, *, keys: bool = False) -> str:
        """A JSON text with the names in its texts replaced, numbers as they were written; in its keys only if asked."""

        def one(found: re.Match[str]) -> str:
            if found[2] and not keys:
                return found[0]
            try:
                held = json.loads(found[1], strict=False)
            except ValueError:
                return found[0]
            new = self.text(held)
            return found[0] if new == held else json.dumps(new, ensure_ascii=False) + (found[2] or "")

        return _JSON_TEXT.sub(one, text) if self.names else text

    def changes(self, kind: Kind, row_id: str, version: str | None, content: Content) -> dict[str, Any]:
        """What changes in the content of a version of a record, by column."""
        marked = self.texts.get((kind.table, row_id), {})
        found: dict[str, Any] = {}
        for name in text_columns(kind):
            held = content.get(name)
            if isinstance(held, str):
                instead = marked.get((version, name), marked.get((None, name)))
                is_a_person = kind.name == "person" and name == kind.label
                found[name] = (self.who if is_a_person else self.text)(held) if instead is None else instead
        by, entered = content.get("updated_by"), content.get("entered")
        if isinstance(by, str):
            found["updated_by"] = self.who(by)
        typed = object_in(entered) if isinstance(entered, str) else None
        if typed:
            new = {
                name: (marked.get((version, name), marked.get((None, name))) or self.text(value, all_names=True))
                if isinstance(value, str)
                else value
                for name, value in typed.items()
            }
            if new != typed:
                found["entered"] = object_text(new)
        return {name: value for name, value in found.items() if value != content.get(name)}

    def kept_changes(self, kind: Kind, row_id: str, content: Content) -> dict[str, Any]:
        """The same of a row without versions."""
        marked = self.texts.get((kind.table, row_id), {})
        found: dict[str, Any] = {}
        for name, how in OF_KEPT.get(kind.name, {}).items():
            held = content.get(name)
            if not isinstance(held, str):
                continue
            instead = marked.get((None, name))
            if instead is not None:
                found[name] = _of_form(how, held, instead)
            elif how.startswith("json"):
                found[name] = self.json(held, keys=how == "json keys")
            else:
                found[name] = self.text(held, all_names=how == "typed")
        return {name: value for name, value in found.items() if value != content.get(name)}

    def is_in_file(self, file: bytes) -> bool:
        """Whether a file of notes holds a name that was erased, also one that stays in other texts.

        Raises CannotBeSearched.
        """
        return bool(self.names) and any(self.text(text, all_names=True) != text for text in texts_of_file(file))


def _of_form(how: str, held: str, instead: str) -> str:
    if not how.startswith("json"):
        return instead
    return object_text({instead: instead}) if object_in(held) is not None else json.dumps([instead])


class CannotBeSearched(Exception):
    """A workbook, or a part of it, that cannot be read here: what it says is not known."""


def texts_of_file(file: bytes) -> Iterator[str]:
    """What a file of notes says, in every way in which its bytes may be meant; of a workbook what its parts say.

    Raises CannotBeSearched.
    """
    if file[:2] == b"PK":
        import zipfile
        import zlib
        from html import unescape
        from io import BytesIO

        try:
            with zipfile.ZipFile(BytesIO(file)) as packed:
                for member in packed.infolist():
                    if member.file_size > _LARGEST_MEMBER_BYTES:
                        raise CannotBeSearched(member.filename)
                    said = packed.read(member).decode("utf-8", errors="replace")
                    yield unescape(_TAG.sub(" ", said))
                    yield unescape(_TAG.sub("", said))
        except (zipfile.BadZipFile, zlib.error, OSError, RuntimeError, ValueError, EOFError) as fault:
            raise CannotBeSearched(str(fault)) from fault
        return
    if file[:2] in (b"\xff\xfe", b"\xfe\xff") or b"\0" in file[:200]:
        yield from (file.decode(encoding, errors="replace") for encoding in ("utf-16-le", "utf-16-be"))
    try:
        yield file.decode("utf-8")
    except UnicodeDecodeError:
        yield from (file.decode(encoding, errors="replace") for encoding in ("cp1252", "cp1250", "utf-8"))


def squashed(text: str) -> str:
    """A text without all but its letters and digits, to find it however it was quoted.

    >>> squashed('He said: "Call  0151"')
    'hesaidcall0151'
    """
    return "".join(sign for sign in normalize("NFC", text).casefold() if sign.isalnum())
