"""A form as it was sent: names with the texts typed for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, NamedTuple
from urllib.parse import parse_qs

from bevelbook.web.host.private_datasette import BadRequest
from bevelbook.web.host.sent_files import MOST_FIELDS

MOST_BYTES: Final = 1_000_000


class TypedForm(NamedTuple):
    """The texts of a form by name; empty for a page that was only opened."""

    texts: Mapping[str, Sequence[str]] = {}

    def text(self, name: str) -> str:
        """What was typed, trimmed; empty where it is missing."""
        return (self.texts.get(name) or [""])[-1].strip()

    def all(self, name: str) -> Sequence[str]:
        """Every text of that name."""
        return self.texts.get(name, ())

    def after(self, prefix: str) -> dict[str, str]:
        """The texts of the names that begin with a prefix, by what follows it: ``was.`` to ``{"mass_g": "12.40"}``."""
        return {name.removeprefix(prefix): texts[-1] for name, texts in self.texts.items() if name.startswith(prefix)}


async def typed_form(request: Any) -> TypedForm:
    """The form of a POST. Raises BadRequest where it is too long, or cannot be read as a form."""
    if request.method != "POST":
        return TypedForm()
    body = await request.post_body()
    if len(body) > MOST_BYTES:
        raise BadRequest("That is more than a form holds. Nothing was stored: shorten the longest text.")
    try:
        found = parse_qs(
            body.decode("utf-8", "replace"), keep_blank_values=True, max_num_fields=MOST_FIELDS, errors="replace"
        )
    except ValueError as fault:
        raise BadRequest("These are more fields than a form has. Nothing was stored.") from fault
    return TypedForm(found)
