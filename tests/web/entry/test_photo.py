"""A photograph taken with a phone: stored once with what it shows, or said why not; offered where it is of use."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from io import BytesIO

import pytest
from browser_team import make_team
from entered import entered_site
from photographed import GREEN, HOSTILE_NAME, RED, TURNED_RIGHT, picture
from PIL import Image
from web.entry.conftest import PairedSite, words

import bevelbook.pictures.reader as reader
from bevelbook.pictures.limits import LARGEST_FILE_BYTES, LIMIT_WORDS
from bevelbook.plugin.registry import Registry
from bevelbook.store.ids import new_id
from bevelbook.web.entry.sent_again import _SENT

PHOTO = "/team/-/enter/photo"
STORED = "SELECT piece, side, note FROM photos ORDER BY created_at, id"


@pytest.fixture(scope="module")
def unchanged_site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[PairedSite]:
    """The same for all tests after which nothing is stored."""
    folder = tmp_path_factory.mktemp("unchanged")
    with entered_site(make_team(folder / "team.db"), registry, folder / "settings") as site:
        yield site


def sent(site: PairedSite, file: bytes | None, name: str = "IMG_0001.jpg", **typed: str) -> tuple[int, str]:
    """The status of the form with a picture, and the page that came of it."""
    files = {"picture": (name, file, "image/jpeg")} if file is not None else {"other": ("", b"")}
    answer = site.post(PHOTO, {"key": new_id(), **typed}, files=files)
    if answer.status_code == 303:
        return 303, site.page(answer.headers["location"])
    return answer.status_code, str(answer.text)


def checked(page: str, field: str) -> list[str]:
    """Which choice of a field is chosen."""
    return re.findall(rf'name="{field}" value="([^"]+)" checked', page)


def test_a_photograph_is_stored_once_and_the_next_one_of_the_same_piece_is_a_tap_away(paired_site: PairedSite) -> None:
    opening = paired_site.team.ids["opening rear-a/1"]
    page = paired_site.page(f"{PHOTO}?opening={opening}")
    assert "Photograph of rear-a/1, opened on 2 Apr 2026" in words(page)
    assert LIMIT_WORDS in words(page)
    assert "does not wait on this phone" in words(page)
    camera, before = re.findall(r'<input id="[^"]+" type="file"[^>]*>', page)
    assert 'accept="image/*" capture="environment"' in camera
    assert 'accept="image/*"' in before
    assert "capture" not in before
    assert 'enctype="multipart/form-data"' in page
    form = {"key": new_id(), "opening": opening, "piece": "outdrive", "side": "lid side", "note": "a groove"}
    for again in ("", "?again=yes"):
        answer = paired_site.post(PHOTO, form, files={"picture": ("a.jpg", picture())})
        assert answer.headers["location"] == f"/team/-/enter/stored/{form['key']}{again}"
    assert paired_site.rows(STORED) == [("outdrive", "lid side", "a groove")]
    assert paired_site.rows("SELECT p.name FROM photos o JOIN people p ON p.id = o.person") == [("ana",)]
    page = paired_site.page(f"/team/-/enter/stored/{form['key']}")
    ((photo, shown),) = paired_site.rows("SELECT id, picture FROM photos")
    assert f'src="/team/-/photo/{shown}-small.jpg"' in page
    ways = re.findall(r'<li><a href="([^"]+)"><span>([^<]+)</span>', page)
    assert [label for _, label in ways] == ["Another one", "Correct it", "See it"]
    assert ways[2][0] == f"/team/-/photo/{photo}"
    page = paired_site.page(unescape(ways[0][0]))
    assert (checked(page, "piece"), checked(page, "side")) == (["outdrive"], ["lid side"])
    assert f'name="opening" value="{opening}"' in page
    assert "a groove" not in page.partition("<form method")[2]


def heic() -> bytes:
    """The first bytes of a HEIC file, by ISO/IEC 23008-12: a file type box of the brand ``heic``."""
    return b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 64


BAD = {
    "nothing": (None, "a picture is missing"),
    "an empty file": (b"", "a picture is missing"),
    "words": (b"just words, no picture", "Choose a picture: JPEG"),
    "HEIC": (heic(), "HEIC picture"),
    "SVG": (b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "an SVG drawing"),
    "a page": (b"<!DOCTYPE html><script>alert(1)</script>", "a page of a browser"),
    "cut": (picture((64, 64))[:500], "Nothing was stored"),
    "over the limit": (b"\xff\xd8\xff" + b"\0" * LARGEST_FILE_BYTES, "this file has 25 MB"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_picture_that_can_be_kept_is_said_and_what_was_chosen_stays(
    unchanged_site: PairedSite, name: str
) -> None:
    file, said = BAD[name]
    typed = {"build": "rear-a/2", "piece": "seal", "side": "joint", "note": "nicked & flat"}
    status, page = sent(unchanged_site, file, "x.jpg", **typed)
    assert status == 400
    beside = re.search(r'id="about-picture"><span class="fault">(.*?)</span>', page)
    assert beside is not None
    assert said.casefold() in words(beside[1]).casefold()
    assert "Nothing was stored" in words(beside[1])
    assert (checked(page, "piece"), checked(page, "side")) == (["seal"], ["joint"])
    assert "nicked &amp; flat</textarea>" in page
    assert re.search(r'name="build" value="[0-9a-f-]{36}"', page)
    assert "choose it once more" in words(page)
    assert unchanged_site.rows(STORED) == []
    assert unchanged_site.rows("SELECT count(*) FROM pictures") == [(0,)]


def test_a_form_without_anything_names_all_that_is_needed(unchanged_site: PairedSite) -> None:
    status, page = sent(unchanged_site, None, build="rear-a/2")
    assert status == 400
    assert re.findall(r'href="#field-\w+">([^<]+)</a>', page) == ["picture", "what is seen"]
    status, page = sent(unchanged_site, picture(), build="rear-a/2")
    assert status == 400
    assert re.findall(r'href="#field-\w+">([^<]+)</a>', page) == ["what is seen"]
    assert unchanged_site.rows(STORED) == []


def test_of_two_pictures_in_one_form_none_is_taken_unasked(unchanged_site: PairedSite) -> None:
    form = {"key": new_id(), "build": "rear-a/2", "piece": "oil"}
    files = [("picture", ("a.jpg", picture())), ("picture", ("b.jpg", picture(first=GREEN)))]
    answer = unchanged_site.post(PHOTO, form, files=files)
    assert answer.status_code == 400
    assert "two pictures came in one form" in words(answer.text).casefold()
    assert unchanged_site.rows(STORED) == []


@pytest.mark.parametrize("is_restarted", [False, True], ids=["the same server", "after a restart"])
def test_a_form_gone_back_to_with_another_picture_stores_that_one_too_and_once(
    paired_site: PairedSite, is_restarted: bool
) -> None:
    form = {"key": new_id(), "build": "rear-a/2", "piece": "seal", "side": "joint"}
    for file in (picture(), picture(first=GREEN), picture(first=GREEN), picture()):
        assert paired_site.post(PHOTO, form, files={"picture": ("image.jpg", file)}).status_code == 303
        if is_restarted:
            _SENT.clear()
    assert paired_site.rows("SELECT count(*), count(DISTINCT picture) FROM photos") == [(2, 2)]


def test_a_form_gone_back_to_with_another_side_is_asked_about(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "build": "rear-a/2", "piece": "seal", "side": "joint"}
    files = {"picture": ("image.jpg", picture())}
    assert paired_site.post(PHOTO, form, files=files).status_code == 303
    answer = paired_site.post(PHOTO, {**form, "side": "lid side"}, files=files)
    assert answer.status_code == 400
    assert "This form is stored already" in words(answer.text)
    hidden = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', answer.text))
    again = {**form, **hidden, "side": "lid side", "again": "correct"}
    assert paired_site.post(PHOTO, again, files=files).status_code == 303
    assert paired_site.rows(STORED) == [("seal", "lid side", None)]


def test_one_picture_of_two_pieces_is_kept_once(paired_site: PairedSite) -> None:
    for piece in ("outdrive", "seal"):
        assert sent(paired_site, picture(), build="rear-a/2", piece=piece)[0] == 303
    assert paired_site.rows("SELECT count(*), count(DISTINCT picture) FROM photos") == [(2, 1)]


def test_it_comes_upright_without_what_the_phone_wrote_and_a_hostile_name_does_nothing(paired_site: PairedSite) -> None:
    """Orientation 6 (CIPA DC-008, tag 274): what is stored as the top is the right-hand side."""
    file = picture((60, 40), RED, GREEN, orientation=TURNED_RIGHT)
    assert b"QUINCE" in file
    status, page = sent(paired_site, file, HOSTILE_NAME, build="rear-a/2", piece="other", note=HOSTILE_NAME)
    assert status == 303
    ((photo, shown),) = paired_site.rows("SELECT id, picture FROM photos")
    kept = paired_site.get(f"/team/-/photo/{shown}.jpg").content
    image = Image.open(BytesIO(kept))
    assert image.size == (40, 60)
    upper, lower = image.convert("RGB").getpixel((20, 10)), image.convert("RGB").getpixel((20, 50))
    assert isinstance(upper, tuple) and isinstance(lower, tuple)
    assert upper[0] > upper[1], "the red half is above"
    assert lower[1] > lower[0]
    assert not image.getexif()
    for lost in (b"QUINCE", b"owned", b"Exif", b"GPS"):
        assert lost not in kept
    for address in (f"/team/-/photo/{photo}", "/team/-/build/rear-a~2F2", "/team/photos"):
        held = paired_site.page(address)
        assert "<script>document" not in held
        assert "IMG_0001" not in held
    assert "<script>document" not in page


@pytest.mark.parametrize(
    ("of", "named", "piece", "side"),
    [
        ("seal_fitting", "seal rear-a/2", ["seal"], ["case side"]),
        ("bottle", "own", ["label"], []),
        ("build", "rear-a/2", [], []),
    ],
)
def test_what_is_likely_to_be_seen_is_chosen_already(
    unchanged_site: PairedSite, of: str, named: str, piece: list[str], side: list[str]
) -> None:
    page = unchanged_site.page(f"{PHOTO}?{of}={unchanged_site.team.ids[named]}")
    assert (checked(page, "piece"), checked(page, "side")) == (piece, side)


def test_without_a_record_named_the_last_builds_and_the_bottles_are_offered(unchanged_site: PairedSite) -> None:
    page = unchanged_site.page(PHOTO)
    assert f'href="{PHOTO}?build={unchanged_site.team.ids["rear-a/2"]}"' in page
    assert f'href="{PHOTO}?bottle={unchanged_site.team.ids["own"]}"' in page
    assert "rear-a/1" not in words(page)
    assert unchanged_site.get(f"{PHOTO}?build=rear-aa").status_code == 404
    answer = unchanged_site.get("/team/-/enter/record/photo?build=rear-a/2&piece=oil")
    assert answer.headers["location"] == f"{PHOTO}?build=rear-a%2F2&piece=oil"


def test_one_whose_build_was_removed_meanwhile_keeps_what_was_chosen(unchanged_site: PairedSite) -> None:
    status, page = sent(unchanged_site, picture(), build=new_id(), piece="oil", note="grey")
    assert status == 400
    assert checked(page, "piece") == ["oil"]
    assert "grey</textarea>" in page
    status, page = sent(unchanged_site, picture(), piece="oil")
    assert status == 400
    assert "belongs to one thing" in words(page)


def test_piece_side_and_remark_are_corrected_and_it_is_taken_back_and_removed_like_any_record(
    paired_site: PairedSite,
) -> None:
    sent(paired_site, picture(), build="rear-a/2", piece="seal", side="joint")
    ((photo, shown),) = paired_site.rows("SELECT id, picture FROM photos")
    address = f"/team/-/enter/record/photo/{photo}"
    page = paired_site.page(address)
    assert f'src="/team/-/photo/{shown}-small.jpg"' in page
    was = dict(re.findall(r'type="hidden" name="(was\.[^"]+)" value="([^"]*)"', page))
    form = {"key": new_id(), **was, "piece": "outdrive", "side": "lid side", "note": "a groove"}
    paired_site.send(address, form)
    assert paired_site.rows(STORED) == [("outdrive", "lid side", "a groove")]
    assert paired_site.rows("SELECT picture FROM photos") == [(shown,)]
    assert paired_site.post("/team/-/enter/take-back", {"entry": form["key"]}).status_code == 200
    assert paired_site.rows(STORED) == [("seal", "joint", None)]
    paired_site.send(address, {"key": new_id(), "remove": "yes", "why": "blurred"})
    assert paired_site.rows(STORED) == []
    assert paired_site.get(f"/team/-/photo/{photo}").status_code == 404


def test_one_that_was_taken_back_comes_back_with_its_picture(paired_site: PairedSite) -> None:
    sent(paired_site, picture(), build="rear-a/2", piece="seal")
    ((shown,),) = paired_site.rows("SELECT picture FROM photos")
    for left in (0, 1):
        ((entry,),) = paired_site.rows("SELECT id FROM entries ORDER BY made_at DESC, id DESC LIMIT 1")
        assert paired_site.post("/team/-/enter/take-back", {"entry": entry}).status_code == 200
        assert paired_site.rows("SELECT count(*) FROM photos") == [(left,)]
    assert paired_site.get(f"/team/-/photo/{shown}.jpg").status_code == 200


def offering(site: PairedSite) -> dict[str, str]:
    """The pages that offer a photograph, each with the address of the form that it leads to."""
    ids = site.team.ids
    opened = site.send("/team/-/enter/opening", {"key": new_id(), "build": "rear-b", "reason": "routine"})
    ((opening,),) = site.rows("SELECT id FROM openings ORDER BY created_at DESC, id DESC LIMIT 1")
    rows = {name: f"/team/{name}" for name in ("seal_fittings", "bottles", "openings")}
    return {
        opened: f"{PHOTO}?opening={opening}",
        site.page("/team/-/diff/rear-a"): f"{PHOTO}?build={ids['rear-a/2']}",
        site.page("/team/-/build/rear-a~2F1"): f"{PHOTO}?build={ids['rear-a/1']}",
        site.page(f"{rows['seal_fittings']}/{ids['seal rear-a/2']}"): f"{PHOTO}?seal_fitting={ids['seal rear-a/2']}",
        site.page(f"{rows['bottles']}/{ids['own']}"): f"{PHOTO}?bottle={ids['own']}",
        site.page(f"{rows['openings']}/{ids['opening rear-a/1']}"): f"{PHOTO}?opening={ids['opening rear-a/1']}",
        site.page("/team/-/enter/record"): PHOTO,
    }


def test_it_is_offered_where_something_is_to_be_seen(paired_site: PairedSite) -> None:
    for page, address in offering(paired_site).items():
        assert f'href="{address}"' in unescape(page), address
    pieces = paired_site.page("/team/-/diff/rear-a").partition('id="pieces"')[2]
    of_seal = f"{PHOTO}?build={paired_site.team.ids['rear-a/2']}&piece=seal&side=case+side"
    assert f'href="{of_seal}">photograph it</a>' in unescape(pieces)
    reader_only = paired_site.paired_with(None)
    assert PHOTO not in reader_only.page("/team/-/diff/rear-a")
    assert PHOTO not in reader_only.page(f"/team/bottles/{paired_site.team.ids['own']}")


def test_a_piece_that_was_photographed_leads_to_its_photographs(paired_site: PairedSite) -> None:
    sent(paired_site, picture(), build="rear-a/1", piece="seal", side="case side")
    pieces = paired_site.page("/team/-/diff/rear-a").partition('id="pieces"')[2]
    assert re.search(
        r'<a href="/team/-/photos\?diff=[^"]+&amp;piece=seal&amp;side=case\+side">1 photograph</a>', pieces
    )


def test_without_the_library_the_button_is_not_there_and_the_page_says_what_to_install(
    paired_site: PairedSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent(paired_site, picture(), build="rear-a/2", piece="seal")
    monkeypatch.setattr(reader, "find_spec", lambda name: None)
    for page in offering(paired_site):
        assert PHOTO not in page
    answer = paired_site.get(f"{PHOTO}?build=rear-a/2")
    assert answer.status_code == 404
    assert "bevelbook[photos]" in words(answer.text)
    ((photo, shown),) = paired_site.rows("SELECT id, picture FROM photos")
    page = paired_site.page(f"/team/-/photo/{photo}")
    assert f"{shown}.jpg" in page, "what is kept is shown all the same"
    assert "another of the same piece" not in page
    assert paired_site.get(f"/team/-/photo/{shown}.jpg").status_code == 200


def test_at_the_bench_what_is_found_is_photographed_and_leads_back(paired_site: PairedSite) -> None:
    begun = paired_site.post(
        "/team/-/enter/bench", {"key": new_id(), "diff": "rear-a", "kind": "rebuild", "way": "step by step"}
    )
    job = begun.headers["location"].split("/bench/")[1].split("/")[0]
    step = f"/team/-/enter/bench/{job}/note-what-is-found"
    build = paired_site.team.ids["rear-a/2"]
    assert f'href="{PHOTO}?build={build}" target="_blank"' in paired_site.page(step)
    _, page = sent(paired_site, picture(), build=build, piece="outdrive")
    assert f'<a href="/team/-/enter/bench/{job}"><span>Back to the bench with rear-a</span>' in page
