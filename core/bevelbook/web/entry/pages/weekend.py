"""Where another laptop fetches a weekend that was given: with its code, and nothing else than that."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.errors import InputError
from bevelbook.web.entry.given_weekends import GivenWeekend, given_weekends
from bevelbook.web.entry.other_laptop import CODE_WRONG, CODES_WAIT, ZIP
from bevelbook.web.entry.people import usable_name
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.typed_form import typed_form

SOMEBODY: Final = "somebody"
_STATUS: Final = {CODE_WRONG: 403, CODES_WAIT: 429}


class _Sent:
    """An answer that goes out piece by piece, and lets go of the file."""

    def __init__(self, given: GivenWeekend) -> None:
        self._given = given

    async def asgi_send(self, send: Any) -> None:
        headers = [
            (b"content-type", ZIP.encode()),
            (b"content-length", str(self._given.byte_count).encode()),
            (b"x-content-type-options", b"nosniff"),
            (b"content-disposition", b'attachment; filename="weekend.zip"'),
        ]
        try:
            await send({"type": "http.response.start", "status": 200, "headers": headers})
            for piece in self._given.pieces():
                await send({"type": "http.response.body", "body": piece, "more_body": True})
            await send({"type": "http.response.body", "body": b"", "more_body": False})
        finally:
            self._given.file.close()


async def weekend(request: Any, datasette: Any) -> Any:
    """The file that waits with the code of the form. Who asks needs no pairing: the code is for once."""
    from datasette.utils.asgi import NotFound, Response

    if request.method != "POST" or not state_of(datasette).takes_entries:
        raise NotFound("There is no such page.")
    form = await typed_form(request)
    client = request.scope.get("client")
    try:
        person = usable_name(form.text("by"), "by", "Who fetches it")
    except InputError:
        person = SOMEBODY
    try:
        given = given_weekends(datasette).fetch(form.text("code"), person, str(client[0]) if client else "")
    except InputError as fault:
        status = _STATUS.get(fault.code, 400)
        return Response.json({"done": "refused", "code": fault.code, "words": str(fault)}, status=status)
    return _Sent(given)


PAGE: Final = EntryPage("weekend", weekend)
