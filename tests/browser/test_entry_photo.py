"""A photograph from a phone's file field to the pages: upright, without what the phone wrote, stored once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from entry_phone import TouchPhone
from photographed import GREEN, RED, TURNED_RIGHT, photographed, picture

from bevelbook.pictures.limits import LARGEST_FILE_BYTES
from bevelbook.plugin.registry import Registry

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
FORM: Final = "-/enter/photo?build=rear-a"
STORED: Final = "SELECT piece, side, note FROM photos ORDER BY created_at, id"
CAMERA: Final = "#field-picture"
GRAVE: Final = ("serious", "critical")
OF_COLOUR: Final = {"runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
LOADED: Final = "image => image.complete && image.naturalWidth > 0"
BYTES: Final = """async (image) => {
    const bytes = new Uint8Array(await (await fetch(image.currentSrc)).arrayBuffer());
    return String.fromCharCode(...bytes);
}"""
NOTE_WHAT_IS_SAID: Final = """() => {
    const line = document.querySelector(".sending");
    window.said = [];
    new MutationObserver(() => said.push(line.textContent)).observe(line, { childList: true });
}"""
HOLD_THE_NEXT_READING: Final = """() => {
    const read = Blob.prototype.arrayBuffer;
    Blob.prototype.arrayBuffer = function () {
        Blob.prototype.arrayBuffer = read;
        return new Promise((done) => { window.readOn = () => read.call(this).then(done); });
    };
}"""
UPPER_LEFT: Final = """image => {
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 1;
    canvas.getContext("2d").drawImage(image, image.naturalWidth / 4, image.naturalHeight / 4, 1, 1, 0, 0, 1, 1);
    return [...canvas.getContext("2d").getImageData(0, 0, 1, 1).data.slice(0, 3)];
}"""


def file(content: bytes, name: str = "IMG_0001.jpg") -> dict[str, Any]:
    """A file as a file field takes it."""
    return {"name": name, "mimeType": "image/jpeg", "buffer": content}


def test_a_photograph_goes_from_the_camera_to_the_pages_upright_and_large_on_a_tap(phones: Phones) -> None:
    """It was held upright, with what a phone writes beside it; red is above (CIPA DC-008, tag 274, value 6)."""
    phone = phones().paired().to(FORM)
    assert not phone.page.evaluate("isSecureContext")
    phone.page.set_input_files(CAMERA, file(picture((1200, 800), RED, GREEN, orientation=TURNED_RIGHT)))
    preview = phone.page.locator(".preview canvas")
    preview.wait_for(state="visible")
    assert preview.evaluate("one => one.height > one.width")
    phone.choose("What is seen", "outdrive").choose("Side", "lid side")
    phone.tap("Store")
    assert phone.taps == 3, "two choices and the button, beside the camera's own"
    assert phone.book.rows(STORED) == [("outdrive", "lid side", None)]
    for address in ("-/build/rear-a~2F2", "-/diff/rear-a"):
        small = phone.to(address).page.locator("#photographs img").first
        small.scroll_into_view_if_needed()
        phone.page.wait_for_function(LOADED, arg=small.element_handle())
        assert small.evaluate("one => one.naturalHeight > one.naturalWidth")
        red, green, _ = small.evaluate(UPPER_LEFT)
        assert red > green, address
    with phone.page.expect_navigation(url="**/-/photo/*"):
        small.tap()
    large = phone.page.locator(".large-photograph img")
    phone.page.wait_for_function(LOADED, arg=large.element_handle())
    assert large.bounding_box()["width"] >= phone.page.viewport_size["width"] - 1
    assert large.evaluate("one => one.naturalHeight") == 1200
    held = large.evaluate(BYTES)
    assert held[:3] == "\xff\xd8\xff"
    assert not [lost for lost in ("QUINCE", "Exif", "owned", "GPS") if lost in held]
    with phone.page.expect_navigation(url="**.jpg"):
        large.tap()


def test_what_the_laptop_could_not_keep_is_said_before_it_is_sent(phones: Phones, tmp_path: Path) -> None:
    phone = phones().paired().to(FORM)
    posts: list[str] = []
    phone.page.on("request", lambda request: posts.append(request.url) if request.method == "POST" else None)
    too_big = tmp_path / "big.jpg"
    with too_big.open("wb") as held:
        held.write(b"\xff\xd8\xff")
        held.truncate(LARGEST_FILE_BYTES + 1_400_000)
    phone.choose("What is seen", "seal").choose("Side", "joint").text("Note", "flat")
    fault = phone.page.locator("#about-picture .fault")
    for bad, said in (
        (file(b"just words"), "not a picture"),
        (file(b"\0\0\0\x18ftypheic\0\0\0\0"), "HEIC"),
        (file(b""), "empty"),
        (str(too_big), "26.4 MB, and one may have 25.0 MB"),
    ):
        phone.page.set_input_files(CAMERA, bad)
        phone.page.wait_for_function(
            "said => document.querySelector('#about-picture').innerText.includes(said)", arg=said
        )
        phone.control("Store").tap()
        fault.wait_for()
    assert posts == []
    phone.page.set_input_files("#before-picture", file(picture()))
    phone.page.locator(".preview canvas").wait_for(state="visible")
    assert phone.page.locator(CAMERA).evaluate("input => input.files.length") == 0, "the other one was chosen instead"
    assert not fault.count()
    phone.tap("Store")
    assert phone.book.rows(STORED) == [("seal", "joint", "flat")]


@pytest.mark.parametrize("step", ["chosen", "stored"])
def test_a_picture_that_was_slow_to_read_says_nothing_of_the_one_chosen_after_it(phones: Phones, step: str) -> None:
    phone = phones().paired().to(FORM)
    words, film = file(b"just words"), file(b"\0\0\0\x18ftypheic\0\0\0\0")
    fault = phone.page.locator("#about-picture .fault")
    if step == "stored":
        phone.page.set_input_files(CAMERA, words)
        fault.wait_for()
    phone.page.evaluate(HOLD_THE_NEXT_READING)
    if step == "stored":
        phone.control("Store").tap()
    else:
        phone.page.set_input_files(CAMERA, words)
    phone.page.wait_for_function("() => Boolean(window.readOn)")
    phone.page.set_input_files(CAMERA, film)
    fault.filter(has_text="HEIC").wait_for()
    phone.page.evaluate("readOn()")
    phone.page.evaluate("new Promise((done) => setTimeout(done, 50))")
    assert "HEIC" in fault.inner_text()


def test_one_that_only_the_laptop_sees_to_be_cut_leaves_the_form_as_it_was(phones: Phones) -> None:
    phone = phones().paired().to(FORM)
    phone.page.set_input_files(CAMERA, file(picture((300, 200))[:700]))
    phone.choose("Side", "joint").text("Note", "flat")
    phone.control("Store").tap()
    phone.page.locator("#about-picture .fault").wait_for()
    assert phone.page.locator("#field-piece .fault").inner_text() == "Still needed."
    assert phone.page.locator("[name=note]").input_value() == "flat"
    assert phone.page.locator(CAMERA).evaluate("input => input.files.length") == 1
    assert phone.book.rows(STORED) == []
    phone.choose("What is seen", "oil")
    phone.page.set_input_files(CAMERA, file(picture()))
    phone.tap("Store")
    assert phone.book.rows(STORED) == [("oil", "joint", "flat")]


def test_a_network_cut_while_it_is_sent_keeps_the_picture_and_stores_it_once(phones: Phones) -> None:
    phone = phones().paired().to(FORM)
    phone.page.set_input_files(CAMERA, file(picture()))
    phone.choose("What is seen", "case").text("Note", "a crack")
    phone.context.set_offline(True)
    phone.control("Store").tap()
    phone.page.locator(".not-sent", has_text="The picture and what you chose are still here").wait_for()
    phone.context.set_offline(False)
    phone.page.evaluate("""() => { // the answer is lost, not the form
        const open = XMLHttpRequest.prototype.open;
        XMLHttpRequest.prototype.open = function (...given) {
            XMLHttpRequest.prototype.open = open;
            this.addEventListener("readystatechange", () => this.readyState === 2 && this.abort());
            open.apply(this, given);
        };
    }""")
    phone.page.evaluate(NOTE_WHAT_IS_SAID)
    phone.control("Store").tap()
    phone.page.locator(".not-sent", has_text="it is stored once").wait_for()
    assert phone.page.evaluate("said")[0] == "The picture is being sent. Leave this page open."
    assert phone.book.rows(STORED) == [("case", None, "a crack")], "stored, but the phone does not know"
    phone.tap("Store")
    assert phone.book.rows(STORED) == [("case", None, "a crack")]
    assert "stored already" in phone.words()


def test_it_works_without_a_script(phones: Phones) -> None:
    phone = phones(script=False).paired().to(FORM)
    phone.page.set_input_files("#before-picture", file(picture()))
    phone.choose("What is seen", "screw").tap("Store").tap("Another one")
    assert phone.page.locator("[name=piece]:checked").input_value() == "screw"
    assert phone.book.rows(STORED) == [("screw", None, None)]


def test_axe_finds_no_grave_fault_on_the_pages_with_photographs(phones: Phones, registry: Registry) -> None:
    """In light, and what a scheme of colours can change in dark too."""
    phone = phones().paired()
    piece = {"piece": "outdrive", "side": "lid side"}
    first, *_ = photographed(
        phone.book.path,
        registry,
        ({"build": "rear-a/1", **piece}, picture()),
        ({"build": "rear-a/2", **piece}, picture((30, 40))),
    )
    beside = "-/photos?diff=rear-a&piece=outdrive"
    lacking = []
    for address in (f"-/photo/{first}", "-/photos?diff=rear-a", beside, "-/diff/rear-a", "photos"):
        page = phone.to(address).page
        lacking += [f"{address}: {one}" for one in _grave(page, {})]
        page.emulate_media(color_scheme="dark")
        lacking += [f"{address}, dark: {one}" for one in _grave(page, OF_COLOUR)]
        page.emulate_media(color_scheme="light")
        if page.evaluate("document.documentElement.scrollWidth") > page.viewport_size["width"]:
            lacking.append(f"{address}: wider than the screen")
    assert lacking == []


def _grave(page: Any, options: dict[str, Any]) -> list[str]:
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, context="main", options={"resultTypes": ["violations"], **options}).response["violations"]
    return [f"{one['id']} {one['nodes'][0]['html'][:100]}" for one in found if one["impact"] in GRAVE]
