"""The scripts of what waits on a phone, on small pages of this file with a laptop that the test plays: what they carry
over and for how long, two books at one address, and an entry that is changed while another page hands over.

All figures are invented.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

import bevelbook.web
from bevelbook.reports.carried_to_run import HOLDS_DAYS, HOLDS_MIN, OF_CAR

pytestmark = pytest.mark.browser

STATIC = Path(bevelbook.web.__file__).parent / "static"
HOME = "http://pits.test/team/-/enter/"
SCRIPTS = ("touch", "waiting_store", "carried_over", "waiting_words", "waiting", "plausible", "waiting_form",
           "waiting_change", "run", "phone")  # fmt: skip
MINUTE_MS = 60_000
MORE = ["Shelf: rear-a is now open it.", "rear-a/2: STOP: lost 0.60 g of 1.88 g."]
AGEING = {
    "day_ends_min": 70,
    "holds_days": HOLDS_DAYS,
    "holds_min": HOLDS_MIN,
    "of_car": OF_CAR,
    "values": {
        "venue": {"text": "Fen Lane", "days": 0, "minutes": 0, "run": "2026-05-03/1"},
        "air_temp_c": {"text": "8", "days": 0, "minutes": 20, "run": "2026-05-03/1"},
    },
}
CARRIED = [["venue", "Fen Lane", ""], ["air_temp_c", "air 8 °C", "20 min ago"]]
FORM = f"""<p data-stays-open hidden>Leave this page open</p>
<form method="post" class="run-form" data-waits="run"><input type="hidden" name="key" value="drawn-key">
<input type="hidden" name="csrftoken" value="t"><input type="hidden" name="carried.before" value="B">
<div data-part="head" data-offered="{{}}" data-ageing="{escape(json.dumps(AGEING))}"></div>
<details><summary><span data-part="carried" data-day="today" data-carried="{escape(json.dumps(CARRIED))}">today</span>
</summary><div class="field"><label for="field-air_temp_c">Air</label><input id="field-air_temp_c" name="air_temp_c"
placeholder="8"><span class="about" id="about-air_temp_c"></span></div></details>
<label for="field-rear_temp_c">Rear diff</label><input id="field-rear_temp_c" name="rear_temp_c">
<fieldset><legend>Call</legend><input type="hidden" name="call" value=""><label class="way"><input type="radio"
name="call" value="keep"> keep</label></fieldset><label for="n">Remark</label><input id="n" name="note">
<button>Store the run</button></form>"""
STORED = """<form class="stored" method="post" action="/take"><input type="hidden" name="entry" value="e"><p>A run
</p><button>Take it back</button></form>"""
MOVED = """<details id="moved" open data-kept="code" data-pair="/team/-/enter/pair"><form data-fault="no"><input
name="address"><p class="fault" hidden></p><button>Open it there</button></form></details>"""


class Laptop:
    """What answers at the address: pages, and the entries that it stores by key, in the order in which they came."""

    def __init__(self, context: Any) -> None:
        self.context = context
        self.book = "aaaaaaaa"
        self.is_there = True
        self.texts: dict[str, str] = {}
        self.loses_answers = False
        self.without = ""
        self.body = ""
        self.says: Any = None
        context.route("**/*", self._answer)

    def open(self, name: str = "run", body: str = STORED + FORM + MOVED) -> Any:
        self.body = body
        page = self.context.new_page()
        page.goto(f"{HOME}{name}")
        page.evaluate("bevelbook.waiting.started")
        return page

    def _answer(self, route: Any) -> None:
        request = route.request
        address = urlsplit(request.url)
        script = STATIC / address.path.rpartition("/")[2]
        if not self.is_there or script.name == f"{self.without}.js":
            route.abort()
        elif script.suffix == ".js":
            route.fulfill(path=script, content_type="text/javascript")
        elif address.path.endswith("/waiting"):
            keys = parse_qs(address.query).get("keys", [""])[0].split(",")
            known = [key for key in keys if key in self.texts]
            route.fulfill(json={"token": "t", "book": self.book, "known": known, "now": ""})
        elif request.method == "POST":
            self._store(route, dict(parse_qs(request.post_data)))
        else:
            route.fulfill(content_type="text/html", body=self._page())

    def _store(self, route: Any, fields: dict[str, list[str]]) -> None:
        key = fields["key"][0]
        if self.says is not None:
            route.fulfill(json=self.says)
            return
        done = "known" if key in self.texts else "stored"
        self.texts.setdefault(key, fields["rear_temp_c"][0])
        if self.loses_answers:
            route.abort()
            return
        left_out = ["Air 8 °C is not carried over: it is old."] if done == "stored" else []
        words = f"Stored: a run of {fields['rear_temp_c'][0]} °C"
        route.fulfill(json={"key": key, "done": done, "words": words, "more": [*MORE, *left_out], "left_out": left_out})

    def _page(self) -> str:
        scripts = "".join(f'<script src="/static/{name}.js"></script>' for name in SCRIPTS)
        section = f'<section id="waiting" data-book="{self.book}" data-now="2026-05-03T20:50:00.000Z"'
        section += ' data-bring-in="bevelbook --db team.db import FILE"'
        section += ' data-address="/team/-/enter/waiting" hidden></section>'
        return f"<title>Pits</title><body>{section}<main>{self.body}</main>{scripts}"


@pytest.fixture
def laptop(browser: Any) -> Iterator[Laptop]:
    context = browser.new_context()
    context.set_default_timeout(10_000)
    context.add_init_script("localStorage.setItem('code', 'own')")
    yield Laptop(context)
    context.close()


def note(page: Any, rear: str, **typed: str) -> None:
    """Note a run while the laptop is gone."""
    for name, text in {"rear_temp_c": rear, **typed}.items():
        page.locator(f"[name={name}]").evaluate("(input, text) => { input.value = text; }", text)
    waits = page.evaluate("async () => (await bevelbook.waiting.all()).length")
    page.locator(".run-form").evaluate("form => form.requestSubmit()")
    page.locator(".not-sent", has_text=f"Kept on this phone: {waits + 1} wait").wait_for()


def tap(control: Any) -> None:
    """A tap by the keyboard, which counts at once."""
    control.evaluate("one => one.click()")


def waiting(page: Any) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate("bevelbook.waiting.all()")
    return found


def listed(page: Any) -> None:
    page.locator("#waiting details:has(ol)").evaluate("one => { one.open = true; }")


def said(page: Any, selector: str) -> str:
    return " ".join(page.locator(selector).first.text_content().split())


def test_what_is_carried_over_grows_old_on_the_phone_as_on_the_laptop(laptop: Laptop) -> None:
    """Air of 20 min ago, with 70 min left of the day: 3 h and the day are what the laptop goes by, and it says so."""
    page = laptop.open()
    ages = """([values, minutes, before]) => {
        const ageing = {...values, drawn_ms: 0};
        const found = bevelbook.carriedOver.carriedOver(before, "blue", ageing, minutes * 60000);
        return Object.fromEntries([...found].filter(([, one]) => !one.isOld).map(([field, one]) => [field, one.text]));
    }"""

    def carried(minutes: float, day_ends_min: float = 10_000, before: tuple[dict[str, Any], ...] = ()) -> Any:
        return page.evaluate(ages, [{**AGEING, "day_ends_min": day_ends_min}, minutes, list(before)])

    venue = {"venue": "Fen Lane"}
    day = 24 * 60
    assert HOLDS_MIN["air_temp_c"] == 180
    assert carried(160) == {**venue, "air_temp_c": "8"}
    assert carried(160.1) == venue
    assert carried(69, 70) == {**venue, "air_temp_c": "8"}
    assert carried(71, 70) == venue
    assert carried(70 + day - 1, 70) == venue, "the next day of a meeting"
    assert carried(70 + day + 1, 70) == {}
    red = {"kind": "run", "car": "red", "noted_ms": 100 * MINUTE_MS, "head": [["air_temp_c", "11"], ["driver", "ana"]]}
    assert carried(270, before=(red,)) == {**venue, "air_temp_c": "11"}, "of any car, but for who drove"
    assert carried(281, before=(red,)) == venue
    elsewhere = {**red, "head": [["venue", "Tannery Hall"]]}
    assert carried(110, before=(elsewhere,)) == {"venue": "Tannery Hall"}, "the air of another place is none"


def test_page_text_and_file_carry_over_alike_and_say_what_is_too_old(laptop: Laptop) -> None:
    laptop.context.clock.install()
    page = laptop.open()
    page.locator("[data-stays-open]").wait_for()
    page.locator("[data-part=carried]", has_text=re.compile("^today; Fen Lane; air 8 °C, 20 min ago$")).wait_for()
    laptop.is_there = False
    note(page, "41")
    page.clock.fast_forward("01:05:00")
    page.wait_for_function("document.querySelector('[data-part=carried]').textContent.includes('1 h 25 min ago')")
    note(page, "42")
    page.clock.fast_forward("00:06:00")
    page.wait_for_function("document.querySelector('[data-part=carried]').textContent.includes('not carried over')")
    assert said(page, "[data-part=carried]") == "today; Fen Lane; air 8 °C is not carried over: read 1 h 31 min ago"
    assert page.locator("#field-air_temp_c").get_attribute("placeholder") == ""
    assert said(page, "#about-air_temp_c") == "Nothing is carried over: it was read 1 h 31 min ago."
    note(page, "43")
    text = page.evaluate("bevelbook.waiting.text()")
    assert ["carried over: Fen Lane, air 8 °C" in one for one in text.split("\n\n")[1:]] == [True, True, False], text
    script = """async () => bevelbook.waitingWords.asFile((await bevelbook.waiting.all())
        .map((one) => ({...one, fields: [...one.fields, ["rear", "rear-a"]]}))).text"""
    head, *rows = [row.split(",") for row in page.evaluate(script).strip().split("\r\n")]
    assert [dict(zip(head, row, strict=True))["air_temp_c"] for row in rows] == ["8", "8", ""]
    assert [dict(zip(head, row, strict=True))["venue"] for row in rows] == ["Fen Lane"] * 3
    assert not page.locator("form.stored").count(), "what it takes back is another entry than the one kept"
    laptop.is_there = True
    page.evaluate("bevelbook.waiting.handOver()")
    words = said(page, "#waiting [role=status]")
    assert words.startswith("Handed over: a run of 41 °C. Air 8 °C is not carried over: it is old; a run of 42 °C.")


def test_the_command_for_the_file_names_the_book_and_its_folder(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41")
    listed(page)
    tap(page.get_by_role("button", name="As a file"))
    page.locator("#waiting", has_text="in the file").wait_for()
    command = "bevelbook --db team.db import FILE"
    assert f"in the file. On the laptop, in the folder of the book: {command}. A run has one diff" in said(
        page, "#waiting"
    )


def test_what_waits_is_changed_in_its_form_and_keeps_key_place_and_time(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    for rear in ("41", "42", "43"):
        note(page, rear)
    before = waiting(page)
    listed(page)
    tap(page.locator("#waiting ol li").first.get_by_role("button", name="Change it"))
    page.locator(".changing").wait_for()
    assert page.locator("[name=rear_temp_c]").input_value() == "41"
    laptop.is_there = True
    page.evaluate("bevelbook.waiting.handOver()")
    assert laptop.texts == {}, "nothing goes while the first is changed"
    assert "being changed" in said(page, "#waiting ol li")
    assert page.locator("#waiting ol li").first.get_by_role("button").count() == 0
    assert page.locator(".not-sent").count() == 0
    laptop.is_there = False
    page.locator("[name=rear_temp_c]").fill("31")
    tap(page.locator("[name=call][value=keep]"))
    tap(page.get_by_role("button", name="Store the run"))
    page.locator(".not-sent", has_text="Kept on this phone: 3 wait").wait_for()
    same = ("key", "order", "noted_ms", "drawn_at", "since_drawn_ms", "after")
    assert [{name: one[name] for name in same} for one in waiting(page)] == [
        {name: one[name] for name in same} for one in before
    ]
    changed = dict(waiting(page)[0]["fields"])
    assert (changed["rear_temp_c"], changed["call"], changed["carried.before"]) == ("31", "keep", "B")
    assert waiting(page)[0]["words"] == "Run: rear diff 31; call keep"
    laptop.is_there = True
    page.evaluate("bevelbook.waiting.handOver()")
    assert list(laptop.texts.values()) == ["31", "42", "43"]
    assert waiting(page) == []


def test_a_change_can_be_left_and_takes_the_place_of_nothing_that_is_typed(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41", note="loose")
    listed(page)
    change = page.locator("#waiting ol li").first.get_by_role("button", name="Change it")
    page.locator("[name=note]").fill("half typed")
    tap(change)
    page.locator("#waiting ol li", has_text="Something is typed in its form already").wait_for()
    assert page.locator("[name=note]").input_value() == "half typed"
    page.locator("[name=note]").fill("")
    tap(change)
    page.locator(".changing").wait_for()
    assert page.locator("[name=note]").input_value() == "loose"
    tap(page.get_by_role("button", name="Leave it as it was"))
    assert page.locator("[name=note]").input_value() == ""
    assert [dict(one["fields"])["note"] for one in waiting(page)] == ["loose"]
    laptop.is_there = True
    shelf = laptop.open("shelf", body="<p>The shelf</p>")
    shelf.evaluate("bevelbook.waiting.handOver()")
    assert list(laptop.texts.values()) == ["41"], "what was left goes at once"


def test_a_page_without_the_form_opens_nothing_and_says_what_goes_on_where(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41")
    assert "Leave this page open: closed, it cannot be opened again" in said(page, "#waiting")
    laptop.is_there = True
    laptop.book = "aaaaaaaa"
    laptop.context.route("**/waiting?*", lambda route: route.abort())
    shelf = laptop.open("shelf", body="<p>The shelf</p>")
    shelf.locator("#waiting", has_text="1 waits on this phone").wait_for()
    assert "Leave this page open" not in said(shelf, "#waiting")
    assert "only the page Note a run goes on, where it was left open" in said(shelf, "#waiting")
    listed(shelf)
    tap(shelf.get_by_role("button", name="Change it"))
    shelf.locator("#waiting ol li", has_text="Its form is not on this page").wait_for()


def test_what_was_stored_before_it_was_changed_is_not_taken_for_done(laptop: Laptop) -> None:
    """The answer was lost: the laptop has it as it was, and says only that it knows it."""
    page = laptop.open()
    laptop.loses_answers = True
    note(page, "41")
    laptop.loses_answers = False
    laptop.is_there = False
    listed(page)
    tap(page.locator("#waiting ol li").first.get_by_role("button", name="Change it"))
    page.locator(".changing").wait_for()
    page.locator("[name=rear_temp_c]").fill("31")
    tap(page.get_by_role("button", name="Store the run"))
    page.locator(".not-sent", has_text="Kept on this phone: 1 waits").wait_for()
    laptop.is_there = True
    page.evaluate("bevelbook.waiting.handOver()")
    assert "The laptop has it already, perhaps as it was before you changed it" in said(page, "#waiting ol li")
    (kept,) = waiting(page)
    assert dict(kept["fields"])["rear_temp_c"] == "31"
    link = page.get_by_role("link", name="See it in the book")
    assert link.get_attribute("href") == f"/team/-/enter/stored/{kept['key']}"


def test_mine_is_dropped_at_the_second_tap_where_another_phone_stored_the_same_run(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41")
    (kept,) = waiting(page)
    laptop.is_there = True
    laptop.context.route("**/waiting?*", lambda route: route.abort())
    asks = '<a href="/team/-/run/R" data-drops>The same run: drop mine</a>'
    looked = laptop.open(body=asks + FORM.replace("drawn-key", kept["key"]))
    laptop.context.unroute("**/waiting?*")
    tap(looked.locator("a[data-drops]"))
    assert [one["key"] for one in waiting(looked)] == [kept["key"]]
    assert said(looked, "a[data-drops]") == "The same run: drop mine for good: tap again"
    with looked.expect_navigation(url="**/run/R"):
        tap(looked.locator("a[data-drops]"))
    assert waiting(page) == []


def test_a_second_page_that_hands_over_at_the_same_time_doubles_nothing(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    for rear in ("41", "42", "43"):
        note(page, rear)
    laptop.is_there = True
    laptop.context.route("**/waiting?*", lambda route: route.abort())
    second = laptop.open()
    laptop.context.unroute("**/waiting?*")
    for one in (page, second):
        one.evaluate("() => { window.handed = bevelbook.waiting.handOver(); }")
    for one in (page, second):
        one.evaluate("window.handed")
    assert list(laptop.texts.values()) == ["41", "42", "43"]
    assert waiting(page) == waiting(second) == []


def test_two_books_at_one_address_never_mix(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41")
    laptop.is_there, laptop.book = True, "bbbbbbbb"
    page.evaluate("bevelbook.waiting.handOver()")
    assert "another book is at this address now" in said(page, "#waiting")
    other = laptop.open()
    assert waiting(other) == []
    assert laptop.texts == {}
    laptop.book = "aaaaaaaa"
    page.evaluate("bevelbook.waiting.handOver()")
    assert list(laptop.texts.values()) == ["41"]


def test_another_address_is_opened_only_after_it_is_said_what_waits_at_this_one(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    for rear in ("41", "42"):
        note(page, rear)
    page.locator("[name=address]").fill("pits.test:8732")
    tap(page.get_by_role("button", name="Open it there"))
    page.locator(".waits-here", has_text="2 wait on this phone at this address, pits.test.").wait_for()
    tap(page.locator(".waits-here").get_by_role("button", name="As text"))
    assert "rear diff 42" in page.get_by_label("What waits here, as text").input_value()
    laptop.is_there = True
    tap(page.locator(".waits-here").get_by_role("button", name="Hand over now"))
    page.locator(".waits-here", has_text="Nothing waits here any more").wait_for()
    assert list(laptop.texts.values()) == ["41", "42"]
    with page.expect_request("http://pits.test:8732/team/-/enter/pair") as asked:
        tap(page.get_by_role("button", name="Open it there", exact=True))
    assert asked.value.is_navigation_request()


def test_a_button_that_sends_nothing_typed_says_without_the_laptop_that_nothing_was_changed(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    page.wait_for_function("performance.now() > 600")
    tap(page.get_by_role("button", name="Take it back"))
    page.locator(".not-sent", has_text="Not sent: the laptop does not answer. Nothing was changed.").wait_for()


def test_nothing_can_be_typed_into_a_form_while_it_is_sent(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.context.route("**/enter/run", lambda route: None if route.request.method == "POST" else route.fallback())
    page.locator("[name=rear_temp_c]").fill("38")
    tap(page.get_by_role("button", name="Store the run"))
    page.locator(".not-sent", has_text="It is kept on this phone and is being sent").wait_for()
    page.locator("[name=note]").evaluate("one => one.focus()")
    page.keyboard.type("half")
    assert page.locator("[name=note]").input_value() == ""
    assert dict(waiting(page)[0]["fields"])["rear_temp_c"] == "38"


@pytest.mark.parametrize("script", SCRIPTS)
def test_whatever_script_did_not_come_a_form_that_is_sent_is_stored(laptop: Laptop, script: str) -> None:
    laptop.without = script
    page = laptop.context.new_page()
    laptop.body = FORM
    page.goto(f"{HOME}run")
    page.locator("[name=rear_temp_c]").fill("41")
    with page.expect_event("requestfinished", lambda request: request.method == "POST"):
        tap(page.get_by_role("button", name="Store the run"))
    assert list(laptop.texts.values()) == ["41"]


@pytest.mark.parametrize("says", ["OK", None, 3, [], {}, {"done": "refused"}, {"done": "asks", "key": "drawn-key"}])
def test_the_answer_of_another_program_is_none(laptop: Laptop, says: Any) -> None:
    page = laptop.open()
    laptop.says = says if says is not None else "null"
    note(page, "41")
    assert "the laptop does not answer" in said(page, "#waiting .waiting-tried")
    assert [one["state"] for one in waiting(page)] == ["waits"]


def test_a_stop_that_is_found_at_handing_over_is_said_first(laptop: Laptop) -> None:
    page = laptop.open()
    laptop.is_there = False
    note(page, "41")
    laptop.is_there = True
    page.evaluate("bevelbook.waiting.handOver()")
    listed_first, *others = page.locator("#waiting ul li").all_text_contents()
    assert (listed_first, others) == (MORE[1], [MORE[0]])
    assert page.locator("#waiting ul li").first.is_visible()
