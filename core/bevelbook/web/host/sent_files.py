"""Files that a form sends, as ``multipart/form-data`` (RFC 7578): taken apart as they come in, and kept up to a limit.

Behind the gate such a form looks like any other: its texts are sent on as one, and the files are beside them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple
from urllib.parse import urlencode

from python_multipart.exceptions import FormParserError
from python_multipart.multipart import MultipartParser, parse_options_header

FORM_WITH_FILES: Final = "multipart/form-data"
FILES_IN_SCOPE: Final = "bevelbook_files"
READ_ON_TIMES: Final = 8
"""A file that is too long is read on to so many times the limit, so that a browser waits for the answer."""
MOST_FIELDS: Final = 2_000
"""Fields of a form, texts and files together."""
_MOST_FILES: Final = 50


class TooManyFields(FormParserError):
    """A form has more fields than any of ours; the rest of it is not read."""


class SentFile(NamedTuple):
    """A file as a browser sent it: its name there, its content, and how long it was.

    One that is longer than the page takes has no content.
    """

    name: str
    content: bytes
    sent_bytes: int

    @property
    def is_too_long(self) -> bool:
        """Whether it was longer than the page takes."""
        return len(self.content) < self.sent_bytes


class FormWithFiles:
    """A form that comes in piece by piece; ``most_bytes`` are kept of its files, all together.

    Raises TooManyFields, and FormParserError for anything else.
    """

    def __init__(self, content_type: str, most_bytes: int) -> None:
        kind, options = parse_options_header(content_type)
        boundary = options.get(b"boundary")
        if kind != FORM_WITH_FILES.encode() or not boundary:
            raise FormParserError("no boundary")
        self._most_bytes = most_bytes
        self._kept_bytes = 0
        self.text_bytes = 0
        self.texts: list[tuple[str, str]] = []
        self.files: dict[str, list[SentFile]] = {}
        self._is_whole = False
        self._header = (bytearray(), bytearray())
        self._disposition = b""
        self._name = ""
        self._file_name: str | None = None
        self._content = bytearray()
        self._sent_bytes = 0
        self._fields = 0
        self._parser = MultipartParser(
            boundary,
            {
                "on_part_begin": self._begin,
                "on_header_field": lambda data, start, end: self._header[0].extend(data[start:end]),
                "on_header_value": lambda data, start, end: self._header[1].extend(data[start:end]),
                "on_header_end": self._note_header,
                "on_headers_finished": self._note_names,
                "on_part_data": self._take,
                "on_part_end": self._end,
                "on_end": self._note_end,
            },
        )

    def write(self, data: bytes) -> None:
        """Take the next piece."""
        self._parser.write(data)

    def finish(self) -> bytes:
        """The texts as a form without files. Raises FormParserError where the form breaks off before its end."""
        if not self._is_whole:
            raise FormParserError("the form breaks off")
        return urlencode(self.texts).encode()

    def _begin(self) -> None:
        self._fields += 1
        if self._fields > MOST_FIELDS:
            raise TooManyFields("too many fields")
        self._disposition = b""
        self._content = bytearray()
        self._sent_bytes = 0

    def _note_header(self) -> None:
        name, value = (bytes(part) for part in self._header)
        self._header = (bytearray(), bytearray())
        if name.strip().lower() == b"content-disposition":
            self._disposition = value

    def _note_names(self) -> None:
        _, options = parse_options_header(self._disposition)
        if b"name" not in options:
            raise FormParserError("a part without a name")
        self._name = options[b"name"].decode("utf-8", "replace")
        file_name = options.get(b"filename")
        self._file_name = None if file_name is None else file_name.decode("utf-8", "replace")
        if self._file_name is not None and sum(map(len, self.files.values())) >= _MOST_FILES:
            raise FormParserError("too many files")

    def _take(self, data: bytes, start: int, end: int) -> None:
        self._sent_bytes += end - start
        if self._file_name is None:
            self.text_bytes += end - start
        elif self._kept_bytes + self._sent_bytes > self._most_bytes:
            self._content = bytearray()
            return
        self._content += data[start:end]

    def _end(self) -> None:
        if self._file_name is None:
            self.texts.append((self._name, self._content.decode("utf-8", "replace")))
        elif self._file_name or self._sent_bytes:
            self.files.setdefault(self._name, []).append(
                SentFile(self._file_name, bytes(self._content), self._sent_bytes)
            )
            self._kept_bytes += len(self._content)

    def _note_end(self) -> None:
        self._is_whole = True


def files_in(request: Any) -> Mapping[str, Sequence[SentFile]]:
    """The files of a request by the name of their field; a field left empty is not among them."""
    found: Mapping[str, Sequence[SentFile]] = request.scope.get(FILES_IN_SCOPE, {})
    return found
