"""Which methods are answered at an address: pages are read, those that write take a form as well, and that is all."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.addresses import Owner, as_visitors_see, entry_page_at, owner_of
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.errors import fault_page
from bevelbook.web.host.odd_requests import METHOD, READING_METHODS
from bevelbook.web.host.policy import App, Message, Receive, Send
from bevelbook.web.host.private_datasette import Base400, Request, has_page_of_others, saved_query

_READING: Final = frozenset(READING_METHODS)
_READING_AND_FORMS: Final = _READING | {"POST"}
_OF_OTHERS: Final = _READING_AND_FORMS | {"OPTIONS", "PUT", "PATCH", "DELETE"}
LOGOUT: Final = "logout"
_FORMS_OF_DATASETTE: Final = frozenset({"create-token", "messages", "permissions"})
"""Pages beside the databases with a form, which are closed where every database is ours."""


class MethodNotAnswered(Base400):  # type: ignore[misc]
    """The fault of a request by a method that nothing answers there; ``answered`` are those that something does."""

    status = 405

    def __init__(self, answered: frozenset[str]) -> None:
        self.answered = sorted(answered)
        super().__init__(
            METHOD if answered == _READING else f"These alone are answered here: {', '.join(self.answered)}."
        )


def by_their_methods(app: App, datasette: Any) -> App:
    """The application, asked by those methods alone that may be answered at an address."""

    from datasette.utils.asgi import Response

    async def answer(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in _READING or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        answered = await _answered_at(datasette, scope["path"])
        if scope["method"] in answered or (scope["method"] == "OPTIONS" and datasette.cors):
            await app(scope, receive, send)
            return
        refused = fault_page(datasette, Request(scope, receive), MethodNotAnswered(answered))
        if refused is not None:
            await (await refused).asgi_send(send)
            return
        words = f"These alone are answered here: {', '.join(sorted(answered))}."
        await Response.text(words, status=405, headers={"allow": ", ".join(sorted(answered))}).asgi_send(send)

    return answer


async def _answered_at(datasette: Any, path: str) -> frozenset[str]:
    if entry_page_at(datasette, path) is not None:
        return _READING_AND_FORMS
    owner = owner_of(datasette, path)
    if owner is Owner.OURS:
        return _READING
    if owner is Owner.DATASETTE:  # below /-/ it has what changes a table, and says itself that it may not
        return _READING_AND_FORMS if "/-/" in path else _READING
    below = as_visitors_see(datasette, path).removeprefix(str(datasette.setting("base_url")))
    if has_page_of_others(datasette, f"/{below}"):
        return _OF_OTHERS
    steps = below.split("/")
    if steps[0] == "-":
        is_taken = steps[-1] == LOGOUT or (
            steps[-1] in _FORMS_OF_DATASETTE and not state_of(datasette).is_alone(datasette)
        )
        return _READING_AND_FORMS if is_taken else _READING
    if "-" in steps[1:-1]:
        return _READING_AND_FORMS
    is_saved = len(steps) == 2 and await saved_query(datasette, steps[0], steps[1]) is not None
    return _READING_AND_FORMS if is_saved else _READING
