"""What every request passes: under which name, and where a book can be written to from which page, by which phone.

Whoever serves says which names are this machine's own; a request by any other name is refused. Only addresses below
``/DATABASE/-/enter/`` take a POST, and only from a paired phone, except the one that pairs. Where nothing can be
written, those addresses do not exist.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Mapping
from typing import Any, Final
from urllib.parse import parse_qs

from python_multipart.exceptions import FormParserError

from bevelbook.declare.errors import DatabaseError
from bevelbook.web.host.addresses import database_at, entry_page_at, page_beside
from bevelbook.web.host.answers_to_scripts import (
    BUSY,
    JSON,
    KEY_IN_SCOPE,
    asks_answer,
    done_answer,
    refused_answer,
    wants_answer,
)
from bevelbook.web.host.answers_to_scripts import NOT_PAIRED as NOT_PAIRED_CODE
from bevelbook.web.host.commands_of_book import naming_book_in_words
from bevelbook.web.host.datasette_state import DatasetteState, state_of
from bevelbook.web.host.errors import fault_page
from bevelbook.web.host.methods import LOGOUT
from bevelbook.web.host.odd_requests import READING_METHODS
from bevelbook.web.host.phone_of_request import PHONE_IN_SCOPE, cookie_of, phone_by_cookie
from bevelbook.web.host.policy import App, Message, Receive, Send
from bevelbook.web.host.private_datasette import CSRF_REFUSALS, Base400, Request
from bevelbook.web.host.sent_files import FILES_IN_SCOPE, FORM_WITH_FILES, READ_ON_TIMES, FormWithFiles, TooManyFields
from bevelbook.web.pairing.host_names import same_place
from bevelbook.web.pairing.pairings_file import Phone
from bevelbook.web.pairing.who_may_write import WhoMayWrite

PAIR: Final = "pair"
WEEKEND: Final = "weekend"
WITHOUT_PHONE: Final = (PAIR, WEEKEND)
"""What takes a POST from a device that is not paired: the page that pairs it, and where another laptop fetches what
this one gives. Each takes a code."""
MOST_BYTES: Final = 1_000_000
"""The longest form that is read."""
FORM: Final = "application/x-www-form-urlencoded"
NOT_PAIRED: Final = "This phone is not paired. Pair it with the code that the laptop shows."
NOT_STORED: Final = "This phone is not paired, so nothing was stored. Pair it with the code that the laptop shows."
STALE_FORM: Final = (
    "This form was drawn before the browser lost its cookies, so nothing was stored. Go back, copy what you typed, "
    "load the page again and send it once more."
)
NOT_WHOLE: Final = "The form did not come in whole, so nothing was stored. Send it again."
TOO_LONG: Final = "The form is longer than a million characters, so nothing was stored. Shorten it and send it again."
TOO_MANY_FIELDS: Final = "These are more fields than a form has, so nothing was stored."
ELSEWHERE: Final = "This form came from a page of another address, so nothing was stored."
NEEDS_A_LOOK: Final = "This needs a look on its page; nothing was stored yet."
STORED: Final = "Stored."
_OTHER_NAME: Final = {
    takes_entries: "This server does not go by the name in the address, so it does not answer: a page elsewhere could "
    "have made a name point here. Open an address that the laptop shows. To add a name, stop it there, and start it "
    f"with the same command and the name behind it: 'bevelbook {command} ... --name NAME'."
    for takes_entries, command in ((True, "enter"), (False, "serve"))
}
TOKEN: Final = "csrftoken"
_EXCUSES: Final = (b"authorization", b"x-csrftoken")
"""Headers that would excuse a form from its token; one that is not ASCII is a fault of the server in Datasette 0.65."""
_HIDDEN: Final = (
    TOKEN,
    "key",
    "form.",
    "was.",
    "shown.",
    "carried.",
    "waited.",
    "noted.by",
    "after.drawn",
    "begun",
    "seen",
)
"""How the names of fields begin that nobody typed."""
_HERE: Final = ("same-origin", "none")
"""What a browser says of a form of this address, or of one that a person sent without a page."""


class RefusedRequest(Base400):  # type: ignore[misc]
    """A request that is answered with a status and a sentence; ``code`` is for scripts, ``answered`` are the methods
    that something answers there."""

    answered: tuple[str, ...] = READING_METHODS

    def __init__(self, status: int, words: str, code: str) -> None:
        super().__init__(words)
        self.status = status
        self.code = code


def behind_gate(app: App, datasette: Any, file_limits: Mapping[str, int]) -> App:
    """The application, asked only for what may be asked.

    ``file_limits`` are the pages that take files, each with how many bytes of them one form may send.
    """

    async def gate(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        scope = _without_unreadable_cookies(scope)
        page = entry_page_at(datasette, scope["path"])
        request = Request(scope, receive)
        entry = state_of(datasette).entry
        try:
            _check_name(state_of(datasette), request)
            if entry is None:
                if page is not None:
                    raise RefusedRequest(404, "There is no such page.", "no_such_page")
                if request.method == "POST" and page_beside(datasette, scope["path"]) == LOGOUT:
                    scope, receive = await _with_form(request, scope, receive, 0)
            else:
                phone = await _phone(datasette, request, receive, needed=page is not None)
                scope = {**scope, PHONE_IN_SCOPE: phone}
                if request.method not in ("GET", "HEAD"):
                    most_file_bytes = file_limits.get(page or "", 0)
                    scope, receive = await _checked_form(request, scope, receive, page, phone, most_file_bytes)
                    request = Request(scope, receive)
                if page is not None:
                    send = _sending(datasette, entry, request, phone, send)
        except RefusedRequest as refused:
            await _answer(datasette, request, refused, send)
            return
        await app(scope, receive, send)

    return gate


def _without_unreadable_cookies(scope: Message) -> Message:
    """The request without cookies that are not UTF-8, with which Datasette would fail: they are none of ours."""
    try:
        for name, value in scope["headers"]:
            if name.lower() == b"cookie":
                value.decode("utf-8")
    except UnicodeDecodeError:
        return {**scope, "headers": [header for header in scope["headers"] if header[0].lower() != b"cookie"]}
    return scope


def _check_name(state: DatasetteState, request: Any) -> None:
    names = state.host_names
    if names is None:
        return
    host = request.headers.get("host", "")
    server = request.scope.get("server")
    if not names.fits(host, server[0] if server else None):
        raise RefusedRequest(421, _OTHER_NAME[state.takes_entries], "other_name")


async def _phone(datasette: Any, request: Any, receive: Receive, *, needed: bool) -> Phone | None:
    """The paired phone; where only reading is asked for, a file of phones that cannot be read is as none. Where a form
    was sent, what was typed is in the answer."""
    try:
        return await asyncio.to_thread(phone_by_cookie, datasette, request)
    except DatabaseError as fault:
        if not needed:
            return None
        fault.place = fault.place._replace(file=None)
        is_form = request.headers.get("content-type", "").startswith(FORM)
        typed = _typed_words(await _body(receive)) if request.method == "POST" and is_form else ""
        words = f"{fault} Nothing was stored. What you typed, to copy: {typed}" if typed else str(fault)
        is_busy = "locked" in (fault.found or "")
        raise RefusedRequest(503 if is_busy else 500, words, BUSY if is_busy else fault.code) from fault


def _typed_words(body: bytes) -> str:
    """What a person typed in a form, in a line: without what is hidden in it."""
    try:
        found = parse_qs(body.decode("utf-8"))
    except ValueError:
        return ""
    typed = {name: ", ".join(texts) for name, texts in found.items() if not name.startswith(_HIDDEN)}
    return "; ".join(f"{name.replace('_', ' ')}: {text}" for name, text in typed.items())


async def _checked_form(
    request: Any, scope: Message, receive: Receive, page: str | None, phone: Phone | None, most_file_bytes: int
) -> tuple[Message, Receive]:
    """The request with its form read whole, and without what would excuse it from Datasette's own check of forms."""
    if page is None or request.method != "POST":
        refused = RefusedRequest(405, "Only GET and HEAD are answered here.", "no_such_page")
        if page is not None:
            refused = RefusedRequest(405, "Only GET, HEAD and POST are answered here.", "no_such_page")
            refused.answered = (*READING_METHODS, "POST")
        raise refused
    if phone is None and page not in WITHOUT_PHONE:
        raise RefusedRequest(403, NOT_STORED, NOT_PAIRED_CODE)
    origin = request.headers.get("origin")
    is_foreign = request.headers.get("sec-fetch-site", _HERE[0]) not in _HERE
    if is_foreign or (origin is not None and not same_place(origin, request.headers.get("host", ""))):
        raise RefusedRequest(403, ELSEWHERE, "elsewhere")
    return await _with_form(request, scope, receive, most_file_bytes)


async def _with_form(request: Any, scope: Message, receive: Receive, most_file_bytes: int) -> tuple[Message, Receive]:
    """The request with its form read whole, which has a token that Datasette's check can compare."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    headers = [header for header in scope["headers"] if header[0].lower() not in _EXCUSES]
    if kind == FORM_WITH_FILES and most_file_bytes:
        body, files = await _texts_and_files(request, receive, most_file_bytes)
        headers = [one for one in headers if one[0].lower() not in (b"content-type", b"content-length")]
        headers += [(b"content-type", FORM.encode()), (b"content-length", str(len(body)).encode())]
        scope = {**scope, FILES_IN_SCOPE: files}
    elif kind == FORM:
        body = await _body(receive)
    else:
        raise RefusedRequest(415, "Only a form of these pages is taken here; nothing was stored.", "no_form")
    if CSRF_REFUSALS and not _last_in(body, TOKEN).isascii():
        raise RefusedRequest(403, STALE_FORM, "stale_token")

    async def again() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    return {**scope, "headers": headers, KEY_IN_SCOPE: _last_in(body, "key") or None}, again


def _last_in(body: bytes, name: str) -> str:
    """What a form has in a field, such as the id of the entry that it will make; empty where it has none."""
    try:
        found = parse_qs(body.decode("utf-8")).get(name)
    except ValueError:
        return ""
    return found[-1] if found else ""


async def _texts_and_files(request: Any, receive: Receive, most_bytes: int) -> tuple[bytes, Message]:
    """The texts of a form with files as a form without, and the files. One that is too long is read and let go, so
    that the page can say so."""
    read_bytes = 0
    try:
        form = FormWithFiles(request.headers["content-type"], most_bytes)
        async for piece in _pieces(receive):
            form.write(piece)
            read_bytes += len(piece)
            if form.text_bytes > MOST_BYTES:
                raise RefusedRequest(413, TOO_LONG, "too_long")
            if read_bytes > most_bytes * READ_ON_TIMES:
                raise RefusedRequest(
                    413,
                    f"That is more than {most_bytes // 1_000_000} MB, so nothing was stored. Choose a smaller file.",
                    "too_long",
                )
        return form.finish(), form.files
    except TooManyFields as fault:
        raise RefusedRequest(413, TOO_MANY_FIELDS, "too_long") from fault
    except FormParserError as fault:
        raise RefusedRequest(400, NOT_WHOLE, "broken_off") from fault


async def _pieces(receive: Receive) -> AsyncIterator[bytes]:
    """What a request sends, piece by piece."""
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise RefusedRequest(400, NOT_WHOLE, "broken_off")
        yield message.get("body", b"")
        if not message.get("more_body"):
            return


async def _body(receive: Receive) -> bytes:
    body = bytearray()
    async for piece in _pieces(receive):
        body += piece
        if len(body) > MOST_BYTES:
            raise RefusedRequest(413, TOO_LONG, "too_long")
    try:
        body.decode("utf-8")
    except UnicodeDecodeError as fault:
        raise RefusedRequest(400, "The form is not UTF-8, so nothing was stored.", "no_form") from fault
    return bytes(body)


def _sending(datasette: Any, entry: WhoMayWrite, request: Any, phone: Phone | None, send: Send) -> Send:
    """Answers that no browser keeps; a phone's cookie made new with each save; a refused form in words, and for a
    script that sent one JSON alone."""
    held: list[Message] = []
    is_of_script = request.method == "POST" and wants_answer(request)

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = [one for one in message.get("headers", []) if one[0].lower() != b"cache-control"]
            headers.append((b"cache-control", b"no-store"))
            cookie = f"{entry.phones.cookie}=".encode()
            if request.method == "POST" and phone is not None and not _sets(headers, cookie):
                headers.append((b"set-cookie", cookie_of(datasette, entry, phone).encode()))
            message = {**message, "headers": headers}
            is_page = not _header(headers, b"content-type").startswith(JSON)
            if request.method == "POST" and (message["status"] == 403 or (is_of_script and is_page)):
                held.append(message)
                return
        elif held:
            started = held[0]
            if message.get("body", b"").decode("utf-8", "replace") in CSRF_REFUSALS:
                held.clear()
                await _answer(datasette, request, RefusedRequest(403, STALE_FORM, "stale_token"), send)
                return
            if is_of_script and not _header(started["headers"], b"content-type").startswith(JSON):
                if not message.get("more_body"):
                    held.clear()
                    await _send_for_script(request, started, send)
                return
            held.clear()
            await send(started)
        await send(message)

    return sending


async def _send_for_script(request: Any, started: Message, send: Send) -> None:
    """What a page answered, for a script: on to another page is stored, and a page asks."""
    key, status = request.scope.get(KEY_IN_SCOPE) or "", started["status"]
    if status in (301, 302, 303):
        answer = done_answer(key, "stored", STORED, (), _header(started["headers"], b"location"))
    elif status >= 500 or status == 404:
        answer = refused_answer(key, "fault" if status >= 500 else "no_such_page", NEEDS_A_LOOK, status)
    else:
        answer = asks_answer(key, NEEDS_A_LOOK)

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            cookies = [one for one in started["headers"] if one[0].lower() == b"set-cookie"]
            message = {**message, "headers": [*message["headers"], *cookies]}
        await send(message)

    await answer.asgi_send(sending)


def _header(headers: list[tuple[bytes, bytes]], name: bytes) -> str:
    return next((value.decode("latin-1") for key, value in headers if key.lower() == name), "")


def _sets(headers: list[tuple[bytes, bytes]], cookie: bytes) -> bool:
    return any(name.lower() == b"set-cookie" and value.startswith(cookie) for name, value in headers)


async def _answer(datasette: Any, request: Any, refused: RefusedRequest, send: Send) -> None:
    if wants_answer(request) and entry_page_at(datasette, request.path) is not None:
        words = naming_book_in_words(datasette, database_at(datasette, request.path), str(refused))
        response = refused_answer(request.scope.get(KEY_IN_SCOPE), refused.code, words, refused.status)
        await response.asgi_send(send)
        return
    answer = fault_page(datasette, request, refused)
    if answer is None:
        from datasette.utils.asgi import Response

        response = Response.text(str(refused), status=refused.status)
    else:
        response = await answer
    response.headers["cache-control"] = "no-store"
    await response.asgi_send(send)
