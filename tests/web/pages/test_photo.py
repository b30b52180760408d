"""The page of a photograph, and the addresses of the pictures themselves."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browser_team import HOSTILE, Site, Team, close, make_team, site_over
from entered import entered_site
from photographed import GREEN, RED, photographed, picture
from PIL import Image
from web.entry.conftest import words

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.pictures import picture_bytes
from bevelbook.store.schema import FILE_TABLES
from bevelbook.store.writing import Writer
from bevelbook.web.host.policy import POLICY
from bevelbook.web.host.readonly import guard, pictures_readable
from bevelbook.web.pages.photo import shown_bytes


class Photographed(NamedTuple):
    """A team with photographs, the pages over it, and the ids of photographs and of their pictures."""

    team: Team
    site: Site
    photos: list[str]
    pictures: list[str]


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Photographed]:
    team = make_team(tmp_path_factory.mktemp("photo") / "team.db")
    outdrive = {"piece": "outdrive", "side": "lid side"}
    photos = photographed(
        team.path,
        registry,
        (
            {"opening": team.ids["opening rear-a/1"], "taken_on": "2026-04-02", "note": HOSTILE[:200], **outdrive},
            picture(),
        ),
        ({"build": "rear-a/2", "taken_on": "2026-04-20", **outdrive}, picture((64, 96), GREEN, RED)),
        ({"build": "rear-a/2", "taken_on": "2026-04-21", "piece": "outdrive", "side": "case side"}, picture((40, 20))),
        ({"bottle": team.ids["own"], "taken_on": "2026-04-22", "piece": "label"}, picture((20, 40))),
    )
    with site_over(team.path, registry) as site:
        found = site.get("/team/photos.json?_shape=array&_sort=taken_on").json()
        yield Photographed(team, site, photos, [row["picture"] for row in found])


def test_a_picture_is_answered_as_one_that_any_browser_may_keep_for_ever(served: Photographed) -> None:
    answer = served.site.get(f"/team/-/photo/{served.pictures[0]}.jpg")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-security-policy"] == POLICY
    assert "immutable" in answer.headers["cache-control"]
    assert "private" in answer.headers["cache-control"]
    assert int(answer.headers["content-length"]) == len(answer.content)
    shown = Image.open(BytesIO(answer.content))
    assert (shown.format, shown.size) == ("JPEG", (48, 32))
    small = served.site.get(f"/team/-/photo/{served.pictures[0]}-small.jpg")
    assert Image.open(BytesIO(small.content)).format == "JPEG"
    assert small.headers["content-type"] == "image/jpeg"


@pytest.mark.parametrize(
    "name",
    [
        f"{'0' * 64}.jpg",
        "x.jpg",
        ".jpg",
        "PICTURE.JPG",
        "PICTUREa.jpg",
        "PICTURE-large.jpg",
        "PICTURE%00.jpg",
        "PICTURE'%20OR%201=1--.jpg",
        "..~2F..~2Fteam.db.jpg",
        "UPPER.jpg",
    ],
)
def test_no_other_name_gives_a_byte_of_the_database(served: Photographed, name: str) -> None:
    known = served.pictures[0]
    answer = served.site.get(f"/team/-/photo/{name.replace('PICTURE', known).replace('UPPER', known.upper())}")
    assert answer.status_code == 404
    if name.endswith(".jpg"):
        assert answer.headers["content-type"].startswith("text/plain")
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "immutable" not in answer.headers.get("cache-control", "")


def test_a_picture_can_be_asked_for_by_its_head(served: Photographed) -> None:
    async def ask() -> Any:
        await served.site.datasette.invoke_startup()
        return await served.site.datasette.client.head(f"/team/-/photo/{served.pictures[0]}.jpg")

    answer = asyncio.run(ask())
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")


def test_a_plain_datasette_answers_with_pictures_too(served: Photographed) -> None:
    from datasette.app import Datasette

    plain = Datasette([str(served.team.path)])
    try:
        site = Site(plain)
        answer = site.get(f"/team/-/photo/{served.pictures[1]}.jpg")
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert f'src="/team/-/photo/{served.pictures[1]}.jpg"' in site.page(f"/team/-/photo/{served.photos[1]}")
    finally:
        close(plain)


def test_where_phones_write_any_device_sees_a_picture_and_none_changes_it(
    served: Photographed, registry: Registry, tmp_path_factory: pytest.TempPathFactory
) -> None:
    address = f"/team/-/photo/{served.pictures[0]}.jpg"
    with entered_site(served.team, registry, tmp_path_factory.mktemp("settings")) as paired:
        for site in (paired, paired.paired_with(None)):
            assert site.get(address).headers["content-type"] == "image/jpeg"
            assert site.post(address).status_code == 405


def test_a_paired_phone_keeps_a_picture_too_and_no_page(
    served: Photographed, registry: Registry, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Through the gate, with the cookies of a phone: Datasette lets no browser with a cookie keep an answer."""
    photo = f"/team/-/photo/{served.pictures[0]}"
    with entered_site(served.team, registry, tmp_path_factory.mktemp("settings")) as paired:
        for site in (paired, paired.paired_with(None)):
            for address in (f"{photo}.jpg", f"{photo}-small.jpg"):
                headers = site.get(address).headers
                assert headers.get_list("cache-control") == ["private, max-age=31536000, immutable"]
                assert "vary" not in headers, "another cookie does not make another picture"
            for address in (f"/team/-/photo/{served.photos[0]}", "/team/-/photo/nothing.jpg", "/team/photos.json"):
                assert "no-store" in site.get(address).headers["cache-control"], address


def test_no_question_in_sql_gives_the_bytes(served: Photographed) -> None:
    """Not even the very words in which the page asks for them, a moment after it did."""
    site, known = served.site, served.pictures[0]
    with closing(sqlite3.connect(served.team.path)) as connection:
        assert connection.execute("SELECT count(*) FROM picture_bytes").fetchone() == (len(served.pictures),)
    for sql in (
        "select * from picture_bytes",
        "select hex(b.jpeg) from main.PICTURE_BYTES b",
        'select p.id from pictures p join picture_bytes b on b.sha256 = p.id order by b."THUMBNAIL", 1',
        "with x(a, b, c) as (select * from picture_bytes) select substr(c, 2) from x",
        f"SELECT jpeg FROM picture_bytes WHERE sha256 = '{known}'",
        "SELECT jpeg FROM picture_bytes WHERE sha256 = :sha",
        "select (select jpeg from picture_bytes)",
        "explain select jpeg from picture_bytes",
    ):
        assert site.get(f"/team/-/photo/{known}.jpg").status_code == 200
        asked = {"sql": sql, "sha": known} if ":sha" in sql else {"sql": sql}
        answer = site.get("/team.json", params=asked)
        assert (answer.status_code, "prohibited" in answer.text) == (400, True), sql
        as_csv = site.get("/team.csv", params=asked)
        assert (as_csv.status_code, "prohibited" in as_csv.text) == (400, True), sql
    counted = site.get("/team.json", params={"sql": "select count(*), max(sha256) from picture_bytes"}).json()
    assert counted["rows"] == [[len(served.pictures), max(served.pictures)]]


def test_what_our_page_prepared_is_not_kept_for_another_question(served: Photographed) -> None:
    """SQLite keeps prepared statements by their words, and asks again of each after another authorizer is set."""
    sql = "SELECT jpeg FROM picture_bytes WHERE sha256 = ?"
    with closing(sqlite3.connect(served.team.path)) as connection:
        guard(connection)
        assert shown_bytes(connection, served.pictures[0], picture_bytes) is not None
        with pytest.raises(sqlite3.DatabaseError, match="prohibited"):
            connection.execute(sql, (served.pictures[0],))
        with pictures_readable(connection):
            assert connection.execute(sql, (served.pictures[0],)).fetchone() is not None
        with pytest.raises(sqlite3.DatabaseError, match="prohibited"):
            connection.execute(sql, (served.pictures[0],))


def test_the_picture_of_a_photograph_that_was_removed_has_no_address_until_it_comes_back(
    served: Photographed, registry: Registry, tmp_path: Path
) -> None:
    team = Team(tmp_path / "team.db", served.team.ids)
    with closing(sqlite3.connect(served.team.path)) as source, closing(sqlite3.connect(team.path)) as copy:
        source.backup(copy)
    removed, known = served.photos[0], served.pictures[0]
    addresses = [f"/team/-/photo/{known}{ending}" for ending in (".jpg", "-small.jpg")]

    def write(change: Callable[[Writer], object]) -> None:
        with closing(open_for_writing(team.path)) as connection, transaction(connection, team.path):
            change(Writer(connection, "ana"))

    with site_over(team.path, registry) as site:
        assert [site.get(address).status_code for address in addresses] == [200, 200]
        kept = site.get(f"/team/photos/{removed}.json?_shape=array").json()[0]
        write(lambda writer: writer.remove(BY_NAME["photo"], removed))
        assert [site.get(address).status_code for address in addresses] == [404, 404]
        for page in ("/team/pictures", f"/team/pictures/{known}"):
            assert f"{known}-small.jpg" not in site.page(page), page
            assert known in site.page(page), page
        other = site.get(f"/team/-/photo/{served.pictures[1]}.jpg")
        assert other.status_code == 200
        fields = ("opening", "piece", "side", "taken_on", "picture")
        write(lambda writer: writer.insert(BY_NAME["photo"], {name: kept[name] for name in fields}))
        assert [site.get(address).status_code for address in addresses] == [200, 200]


def test_the_bytes_have_no_other_address(served: Photographed) -> None:
    """Not as a page of a table, as a file of its rows, or as a cell to load."""
    assert "picture_bytes" in FILE_TABLES
    below = f"/team/picture_bytes/{served.pictures[0]}"
    for address in (below, f"{below}.json", f"{below}.blob?_blob_column=jpeg"):
        assert served.site.get(address).status_code == 403, address
    for ending in ("", ".json", ".csv", "?_size=max"):
        assert served.site.get(f"/team/picture_bytes{ending}").status_code == 403, ending


def test_the_page_shows_the_picture_with_what_when_who_and_where(served: Photographed) -> None:
    page = served.site.page(f"/team/-/photo/{served.photos[0]}")
    assert "Outdrive, lid side, rear-a/1 when opened" in words(page)
    assert "2 Apr 2026, by ana" in words(page)
    assert HOSTILE[:200].strip() in words(page.replace("&lt;", "‹").replace("&gt;", "›")).replace("‹", "<").replace(
        "›", ">"
    )
    assert "<script>document" not in page
    assert f'<a href="/team/-/photo/{served.pictures[0]}.jpg"><img src="/team/-/photo/{served.pictures[0]}.jpg"' in page
    assert 'alt="Photograph: outdrive, lid side, rear-a/1 when opened, 2 Apr 2026" width="48" height="32"' in page
    assert f'href="/team/openings/{served.team.ids["opening rear-a/1"]}"' in page
    assert "base64" not in page
    assert "correct it" not in page, "nobody writes here"


def test_the_page_leads_to_the_same_piece_before_and_after(served: Photographed) -> None:
    first, second, other_side, label = (served.site.page(f"/team/-/photo/{one}") for one in served.photos)
    assert "The time after rear-a/2, 20 Apr 2026" in words(first)
    assert "The time before" not in words(first)
    assert "The time before rear-a/1 when opened, 2 Apr 2026" in words(second)
    assert "The time" not in words(other_side)
    assert "beside each other" not in words(other_side)
    assert "All 2 of this piece beside each other" in words(first)
    assert 'href="/team/-/photos?diff=' in first
    assert "house" not in words(label)
    assert f'href="/team/-/photos?bottle={served.team.ids["own"]}"' in label


def test_a_photograph_that_is_not_there_is_not_found(served: Photographed) -> None:
    answer = served.site.get("/team/-/photo/nothing")
    assert answer.status_code == 404
    assert "Traceback" not in answer.text


def test_tables_show_thumbnails_and_their_files_the_hash(served: Photographed) -> None:
    small = f'<img src="/team/-/photo/{served.pictures[0]}-small.jpg"'
    for address in ("/team/photos", "/team/pictures", f"/team/pictures/{served.pictures[0]}"):
        assert small in served.site.page(address), address
    assert f'href="/team/-/photo/{served.photos[0]}"' in served.site.page(f"/team/pictures/{served.pictures[0]}")
    for ending in (".json", ".csv"):
        held = served.site.get(f"/team/photos{ending}").text
        assert served.pictures[0] in held
        assert "-small.jpg" not in held
