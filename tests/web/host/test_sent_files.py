"""Forms with files, written by httpx and by hand after RFC 7578, taken apart; and the gate that lets them through."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from typing import Any
from urllib.parse import parse_qs

import httpx
import pytest
from browser_team import make_team
from entered import EnteredSite, entered_site
from python_multipart.exceptions import FormParserError

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.entry_gate import behind_gate
from bevelbook.web.host.sent_files import FILES_IN_SCOPE, MOST_FIELDS, READ_ON_TIMES, FormWithFiles, SentFile

MOST = 1_000
CONTENT = bytes(range(256)) + b"\r\n--edge\r\n--\r\n\n"
PAGE = "/team/-/enter/taking/one"
MORE = "/team/-/enter/taking-more/one"


def written(texts: dict[str, str], files: dict[str, tuple[str, bytes]]) -> tuple[str, bytes]:
    """Content type and body of a form as httpx writes it."""
    request = httpx.Request("POST", "http://bench.test/", data=texts, files=files)
    return request.headers["content-type"], request.read()


def taken(kind: str, body: bytes, *, piece: int = 7, most: int = MOST) -> FormWithFiles:
    form = FormWithFiles(kind, most)
    for start in range(0, len(body), piece):
        form.write(body[start : start + piece])
    return form


@pytest.mark.parametrize("piece", [1, 7, 100_000])
def test_texts_and_files_come_through_unchanged_however_they_are_cut(piece: int) -> None:
    texts = {"note": "groove, 0,2 mm\r\ndeep & wide = bad", "piece": "outdrive"}
    kind, body = written(texts, {"picture": ("größe “1”.jpg", CONTENT)})
    form = taken(kind, body, piece=piece)
    assert parse_qs(form.finish().decode()) == {name: [text] for name, text in texts.items()}
    assert form.files["picture"] == [SentFile("größe “1”.jpg", CONTENT, len(CONTENT))]
    assert not form.files["picture"][0].is_too_long


def test_a_field_without_a_file_has_none() -> None:
    """HTML: an empty file field is sent as a part with an empty file name and no content."""
    kind, body = written({"note": "x"}, {"picture": ("", b"")})
    form = taken(kind, body.replace(b'name="picture"', b'name="picture"; filename=""'))
    assert form.finish() == b"note=x"
    assert form.files == {}


def test_a_file_that_is_too_long_is_let_go_and_the_texts_are_kept() -> None:
    kind, body = written({"note": "x"}, {"picture": ("big.jpg", b"z" * (MOST + 1))})
    form = taken(kind, body)
    (file,) = form.files["picture"]
    assert file == SentFile("big.jpg", b"", MOST + 1)
    assert file.is_too_long
    assert form.finish() == b"note=x"


def test_the_limit_is_of_all_files_together() -> None:
    kind, body = written({}, {name: (name, b"z" * 600) for name in ("one", "two")})
    form = taken(kind, body)
    assert [form.files[name][0].is_too_long for name in ("one", "two")] == [False, True]


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b""),
        ("multipart/form-data; boundary=", b""),
        ("multipart/form-data; boundary=edge", b"no boundary here"),
        ("multipart/form-data; boundary=edge", b"--edge\r\n\r\nno header\r\n--edge--\r\n"),
        ("multipart/form-data; boundary=edge", b'--edge\r\nContent-Disposition: form-data; name="a"\r\n\r\nbroken of'),
        ("multipart/form-data; boundary=edge", b""),
    ],
)
def test_what_is_no_form_with_files_is_refused(kind: str, body: bytes) -> None:
    with pytest.raises(FormParserError):
        taken(kind, body).finish()


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[EnteredSite]:
    folder = tmp_path_factory.mktemp("sent-files")
    with entered_site(make_team(folder / "team.db"), registry, folder / "settings") as made:
        yield made


def asked(site: EnteredSite, path: str, *, whole: bool = True, **form: Any) -> tuple[httpx.Response, dict[str, Any]]:
    """The answer of the gate to a form, and what came through it."""
    seen: dict[str, Any] = {}

    async def behind(scope: Any, receive: Any, send: Any) -> None:
        message = await receive()
        seen.update(body=message["body"], headers=dict(scope["headers"]), files=scope.get(FILES_IN_SCOPE))
        await send({"type": "http.response.start", "status": 200, "headers": []})
        await send({"type": "http.response.body", "body": b"through"})

    async def cut(scope: Any, receive: Any, send: Any) -> None:
        async def breaks_off() -> Any:
            return {"type": "http.disconnect"}

        await gate(scope, receive if whole else breaks_off, send)

    gate = behind_gate(behind, site.datasette, {"taking": MOST, "taking-more": 100 * MOST})

    async def ask() -> httpx.Response:
        await site.datasette.invoke_startup()
        transport = httpx.ASGITransport(cut)
        async with httpx.AsyncClient(transport=transport, base_url="http://bench.test", cookies=site.cookies) as client:
            return await client.post(path, **form)

    return asyncio.run(ask()), seen


def test_behind_the_gate_a_form_with_files_looks_like_any_other(site: EnteredSite) -> None:
    answer, seen = asked(site, PAGE, data={"csrftoken": site.token}, files={"picture": ("a.jpg", CONTENT)})
    assert answer.text == "through"
    assert parse_qs(seen["body"].decode()) == {"csrftoken": [site.token]}
    assert seen["headers"][b"content-type"] == b"application/x-www-form-urlencoded"
    assert int(seen["headers"][b"content-length"]) == len(seen["body"])
    assert seen["files"]["picture"][0].content == CONTENT


@pytest.mark.parametrize(
    ("path", "form", "status", "words"),
    [
        ("/team/-/enter/run", {"files": {"picture": ("a.jpg", CONTENT)}}, 415, "Only a form of these pages"),
        (PAGE, {"files": {"a": ("a", b"z" * (MOST * READ_ON_TIMES))}}, 413, "Choose a smaller file"),
        (PAGE, {"data": {"note": "z" * 1_000_001}, "files": {"a": ("a", b"z")}}, 413, "a million characters"),
        (MORE, {"files": [(f"a{n}", (None, "z")) for n in range(MOST_FIELDS + 1)]}, 413, "more fields than a form"),
        (PAGE, {"content": b"none", "headers": {"content-type": "multipart/form-data"}}, 400, "did not come in whole"),
        (PAGE, {"files": {"picture": ("a.jpg", CONTENT)}, "whole": False}, 400, "did not come in whole"),
    ],
)
def test_a_form_that_cannot_be_taken_gets_a_sentence(
    site: EnteredSite, path: str, form: dict[str, Any], status: int, words: str
) -> None:
    answer, seen = asked(site, path, **form)
    assert (answer.status_code, seen) == (status, {})
    assert words in answer.text
    assert "nothing was stored" in answer.text
