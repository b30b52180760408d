"""What a phone keeps while the laptop is gone, and hands over: in order, once, and with nothing lost.

The page is opened under a name by plain http, so that nothing which needs a secure context is there.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from browser_team import close
from entry_phone import TouchPhone, answering, book_at, with_entry
from entry_team import day, make_entry_team

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
RUNS = """SELECT c.name, d.diff_temp_c FROM runs r JOIN run_diffs d ON d.run = r.id LEFT JOIN cars c ON c.id = r.car
    WHERE d.position = 'rear' AND r.note IS NOT 'planted' ORDER BY r.rowid"""
ORDER = """SELECT r.label FROM runs r WHERE r.note IS NOT 'planted' ORDER BY r.rowid"""
LOSE_ONE_ANSWER = """() => {
    const fetching = window.fetch;
    window.fetch = async (address, options = {}) => {
        const answer = await fetching(address, options);
        if (options.method !== "POST") return answer;
        window.fetch = fetching;
        throw new TypeError("the network went before the answer came");
    };
}"""


class Pits:
    """A book whose laptop goes and comes back at the same address."""

    def __init__(self, path: Path, folder: Path, registry: Registry) -> None:
        self.path, self.folder, self.registry = path, folder, registry
        self._datasette, entry = with_entry(path, folder, registry)
        self._answering: AbstractContextManager[int] | None = answering(self._datasette)
        self.book = book_at(path, self._answering.__enter__(), self._datasette, entry)

    def go(self) -> None:
        """The laptop is gone."""
        if self._answering is not None:
            self._answering.__exit__(None, None, None)
            self._answering = None

    def come(self, *, is_new: bool = False) -> None:
        """It is back; ``is_new`` where the book was started again meanwhile."""
        if is_new:
            close(self._datasette)
            self._datasette, _ = with_entry(self.path, self.folder, self.registry)
        self._answering = answering(self._datasette, self.book.port)
        self._answering.__enter__()

    def close(self) -> None:
        self.go()
        close(self._datasette)


@pytest.fixture
def pits(tmp_path: Path, registry: Registry) -> Iterator[Pits]:
    """The small team with a second car."""
    path = make_entry_team(tmp_path / "blue.db")
    with closing(open_for_writing(path)) as connection, transaction(connection, path):
        writer = Writer(connection, "ana")
        car = writer.insert(BY_NAME["car"], {"name": "red"})
        (diff,) = connection.execute("SELECT id FROM diffs WHERE label = 'rear-b'").fetchone()
        writer.insert(BY_NAME["car_diff"], {"car": car, "position": "rear", "diff": diff, "from_on": day("bought")})
    one = Pits(path, tmp_path / "settings", registry)
    yield one
    one.close()


@pytest.fixture
def phone(browser: Any, pits: Pits, request: pytest.FixtureRequest) -> Iterator[TouchPhone]:
    """A phone at the page of the pits; where the test is about time its clock is moved by the test."""
    is_about_time = "moved" in request.fixturenames
    one = TouchPhone(browser, pits.book, slow=not is_about_time).paired()
    if is_about_time:
        one.page.clock.install()
    one.to("-/enter/run")
    if is_about_time:  # its finger is as quick as the test, and a touch in the first half second is taken for a bounce
        one.page.evaluate("async () => { while (performance.now() <= 500) await new Promise(requestAnimationFrame); }")
    assert one.page.evaluate("window.isSecureContext") is False
    yield one
    faults = [fault for fault in one.faults if "ERR_CONNECTION_REFUSED" not in fault]
    one.close()
    assert faults == []


@pytest.fixture
def moved(phone: TouchPhone) -> TouchPhone:
    """A phone with a clock that the test moves."""
    return phone


def line(phone: TouchPhone) -> str:
    """What the page says of what waits."""
    place = phone.page.locator("#waiting")
    return " ".join(place.inner_text().split()) if place.is_visible() else ""


def note(phone: TouchPhone, rear: str, car: str = "") -> None:
    """Type a run, of a car where one is named."""
    if car:
        phone.page.locator("fieldset.cars label.way", has_text=car).tap()
    phone.page.get_by_label("Rear diff", exact=True).fill(rear)


def keep(phone: TouchPhone, waits: int) -> None:
    """Store the run while the laptop is gone."""
    phone.control("Store the run").tap()
    phone.page.locator(".not-sent", has_text=f"Kept on this phone: {waits} wait").wait_for()


def handed_over(phone: TouchPhone) -> None:
    phone.page.locator("#waiting", has_text="Nothing waits on this phone").wait_for()


def test_of_six_runs_three_noted_without_the_laptop_are_stored_in_order_once(pits: Pits, phone: TouchPhone) -> None:
    for rear in ("41", "42"):
        note(phone, rear)
        phone.tap("Store the run").tap("Next run")
    note(phone, "43")
    pits.go()
    keep(phone, 1)
    note(phone, "44")
    keep(phone, 2)
    note(phone, "45")
    keep(phone, 3)
    assert "3 wait on this phone" in line(phone)
    assert "Leave this page open" in line(phone)
    pits.come()
    phone.page.get_by_role("button", name="Hand over now").tap()
    handed_over(phone)
    note(phone, "46")
    phone.tap("Store the run").control("Next run").wait_for()
    assert pits.book.rows(RUNS) == [("blue", float(rear)) for rear in range(41, 47)]
    assert [label.rpartition("/")[2] for (label,) in pits.book.rows(ORDER)] == list("123456")


def test_what_waits_is_handed_over_when_the_page_was_closed_and_is_opened_again(pits: Pits, phone: TouchPhone) -> None:
    note(phone, "41")
    phone.tap("Store the run").tap("Next run")
    pits.go()
    for waits, rear in enumerate(("42", "43", "44"), start=1):
        note(phone, rear)
        keep(phone, waits)
    phone.page.close()
    pits.come(is_new=True)
    phone.page = phone.context.new_page()
    phone.to("-/enter/run")
    handed_over(phone)
    for rear in ("45", "46"):
        note(phone, rear)
        phone.tap("Store the run")
        if rear == "45":
            phone.tap("Next run")
    assert pits.book.rows(RUNS) == [("blue", float(rear)) for rear in range(41, 47)]


def test_a_stale_token_and_two_cars_of_which_one_entry_is_changed(pits: Pits, phone: TouchPhone) -> None:
    pits.go()
    for waits, (car, rear) in enumerate((("blue", "41"), ("red", "51"), ("blue", "42"), ("red", "52")), start=1):
        note(phone, rear, car)
        keep(phone, waits)
        assert phone.page.locator("[data-part=carried]").count() == 1
        assert "as in the run before, which waits on this phone" in phone.words()
    phone.page.locator("#waiting summary").tap()
    phone.page.locator("#waiting li").nth(1).get_by_role("button", name="Change it").tap()
    phone.page.locator(".changing").wait_for()
    assert phone.page.get_by_label("Rear diff", exact=True).input_value() == "51"
    assert phone.page.locator(".run-diffs").inner_text().count("rear-b/2") == 1, "the car of what is changed"
    note(phone, "53")
    keep(phone, 4)
    pits.come()
    phone.context.clear_cookies(name="ds_csrftoken")
    phone.page.get_by_role("button", name="Hand over now").tap()
    handed_over(phone)
    assert pits.book.rows(RUNS) == [("blue", 41.0), ("red", 53.0), ("blue", 42.0), ("red", 52.0)]
    where = (
        "SELECT b.label FROM run_diffs d JOIN builds b ON b.id = d.build JOIN runs r ON r.id = d.run "
        "WHERE d.position = 'rear' AND r.note IS NOT 'planted' ORDER BY r.rowid"
    )
    assert pits.book.rows(where) == [("rear-a/2",), ("rear-b/2",), ("rear-a/2",), ("rear-b/2",)]


def test_another_car_takes_its_place_without_a_request_with_all_that_was_typed(pits: Pits, phone: TouchPhone) -> None:
    note(phone, "41")
    phone.page.locator("[name=note]").first.fill("loose")
    phone.page.locator("summary", has_text="change").first.tap()
    phone.page.get_by_label("Track", exact=True).fill("31")
    pits.go()
    phone.page.locator("fieldset.cars label.way", has_text="red").tap()
    phone.page.locator(".run-diffs", has_text="rear-b/2").wait_for()
    assert phone.page.get_by_label("Rear diff", exact=True).input_value() == "41"
    assert phone.page.get_by_label("Track", exact=True).input_value() == "31"
    assert phone.page.locator("[name=note]").first.input_value() == "loose"
    phone.page.locator("fieldset.cars label.way", has_text="blue").tap()
    phone.page.locator(".run-diffs", has_text="rear-a/2").wait_for()
    assert phone.page.get_by_label("Track", exact=True).input_value() == "31"


def test_an_entry_whose_answer_was_lost_is_known_and_stored_once(pits: Pits, phone: TouchPhone) -> None:
    phone.page.evaluate(LOSE_ONE_ANSWER)
    note(phone, "41")
    keep(phone, 1)
    assert pits.book.rows(RUNS) == [("blue", 41.0)]
    phone.page.get_by_role("button", name="Hand over now").tap()
    handed_over(phone)
    assert pits.book.rows(RUNS) == [("blue", 41.0)]


def test_an_odd_number_is_asked_about_before_it_is_kept(pits: Pits, phone: TouchPhone) -> None:
    note(phone, "380")
    pits.go()
    phone.control("Store the run").tap()
    phone.page.locator(".not-sent", has_text="380 is too high: at most 200 °C.").wait_for()
    assert phone.page.get_by_role("button", name="No: change it").count() == 0, "nothing was asked"
    phone.page.get_by_role("button", name="Change it").tap()
    note(phone, "130")
    phone.control("Store the run").tap()
    phone.page.locator(".not-sent", has_text="of 130 °C is outside -20 to 120 °C. Is that right?").wait_for()
    assert phone.page.get_by_role("button", name="No: change it").count() == 1
    phone.page.get_by_role("button", name="Yes, that is right").tap()
    phone.page.locator(
        ".not-sent", has_text="Kept on this phone: 1 waits. The form is free for the next one."
    ).wait_for()
    pits.come()
    phone.page.get_by_role("button", name="Hand over now").tap()
    handed_over(phone)
    assert pits.book.rows(RUNS) == [("blue", 130.0)]


@pytest.fixture
def midday(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """It is about noon where the laptop stands, whatever the time is: two hours before are of the same day."""
    monkeypatch.setenv("TZ", f"MID{datetime.now(UTC).hour - 12:+d}")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.usefixtures("midday")
def test_over_an_hour_is_said_and_it_goes_by_itself_half_a_minute_later(pits: Pits, moved: TouchPhone) -> None:
    """The phone's clock is moved, the laptop's is not: the day is the same, so that nothing is asked."""
    from axe_playwright_python.sync_playwright import Axe

    phone = moved
    note(phone, "41")
    pits.go()
    keep(phone, 1)
    phone.page.clock.fast_forward("01:20:00")
    phone.page.locator("#waiting.long", has_text="the oldest for over an hour").wait_for()
    phone.page.locator("#waiting", has_text="the laptop does not answer").wait_for()
    phone.page.locator("#waiting summary").tap()
    phone.page.get_by_role("button", name="As text").tap()
    found = Axe().run(phone.page, context="#waiting").response["violations"]
    assert [one["id"] for one in found] == []
    assert "Run, blue: rear diff 41 °C" in phone.page.get_by_label("All that waits, as text").input_value()
    pits.come()
    phone.page.clock.fast_forward("00:31")
    handed_over(phone)
    assert pits.book.rows(RUNS) == [("blue", 41.0)]


def test_what_the_laptop_asks_about_is_looked_at_and_what_follows_waits_for_it(pits: Pits, phone: TouchPhone) -> None:
    pits.go()
    phone.page.locator("summary", has_text="Weigh a diff").tap()
    weigh = phone.page.locator("form[data-waits=weighing]")
    weigh.locator("label.way", has_text="rear-a").tap()
    weigh.get_by_label("Mass", exact=True).fill("30")
    weigh.get_by_role("button", name="Store it").tap()
    weigh.locator(".not-sent", has_text="Kept on this phone: 1 waits. The form is free for the next one.").wait_for()
    note(phone, "41")
    keep(phone, 2)
    pits.come()
    phone.page.get_by_role("button", name="Hand over now").tap()
    phone.page.locator("#waiting", has_text="1 needs a look").wait_for()
    assert pits.book.rows(RUNS) == []
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Look at it").tap()
    assert "What was on the scale?" in phone.words()
    assert "1 waits on this phone" in line(phone), "what is looked at is not said to wait as well"
    phone.control("closed").tap()
    phone.page.get_by_role("heading", name="Stored", exact=True).wait_for()
    handed_over(phone)
    assert pits.book.rows("SELECT mass_g, mass_basis FROM weighings") == [(30.0, "closed")]
    assert pits.book.rows(RUNS) == [("blue", 41.0)]


def test_with_the_storage_full_nothing_is_cleared_and_it_is_sent_when_the_laptop_is_there(
    pits: Pits, phone: TouchPhone
) -> None:
    quota = {"origin": pits.book.home.rstrip("/"), "quotaSize": 1}
    phone.context.new_cdp_session(phone.page).send("Storage.overrideQuotaForOrigin", quota)
    note(phone, "41")
    pits.go()
    phone.control("Store the run").tap()
    phone.page.locator(".not-sent", has_text="this phone's storage is full: it is not kept").wait_for()
    assert "rear diff 41 °C" in phone.page.get_by_label("What you typed, as text").input_value()
    assert phone.page.get_by_label("Rear diff", exact=True).input_value() == "41"
    pits.come()
    phone.tap("Store the run")
    assert pits.book.rows(RUNS) == [("blue", 41.0)]


def test_a_browser_that_keeps_nothing_says_so_and_sends_as_ever(pits: Pits, phone: TouchPhone) -> None:
    phone.context.add_init_script(
        "Object.defineProperty(window, 'indexedDB', {get() { throw new DOMException('no', 'SecurityError'); }})"
    )
    phone.to("-/enter/run")
    note(phone, "41")
    phone.tap("Store the run").tap("Next run")
    assert pits.book.rows(RUNS) == [("blue", 41.0)]
    note(phone, "42")
    pits.go()
    phone.control("Store the run").tap()
    phone.page.locator(".not-sent", has_text="this browser keeps nothing").wait_for()
    assert phone.page.get_by_label("Rear diff", exact=True).input_value() == "42"


def test_with_the_laptop_gone_after_a_save_the_next_run_is_noted_on_the_page_that_stayed(
    pits: Pits, phone: TouchPhone
) -> None:
    note(phone, "41")
    phone.tap("Store the run")
    pits.go()
    phone.control("Correct it").tap()
    phone.page.locator(".stays", has_text="this page stays open").wait_for()
    phone.control("Next run").tap()
    phone.page.locator(".not-sent", has_text="what you note now is kept on this phone").wait_for()
    assert phone.page.get_by_label("Rear diff", exact=True).input_value() == ""
    note(phone, "42")
    keep(phone, 1)
    pits.come()
    phone.page.get_by_role("button", name="Hand over now").tap()
    handed_over(phone)
    phone.page.go_back()
    assert pits.book.rows(RUNS) == [("blue", 41.0), ("blue", 42.0)]


def test_an_ended_pairing_loses_nothing_and_the_line_is_on_every_page(pits: Pits, phone: TouchPhone) -> None:
    note(phone, "41")
    pits.go()
    keep(phone, 1)
    pits.come()
    cookies = phone.context.cookies()
    phone.context.clear_cookies()
    phone.page.get_by_role("button", name="Hand over now").tap()
    phone.page.locator("#waiting", has_text="not paired").wait_for()
    phone.to_home()
    phone.page.locator("#waiting", has_text="1 waits on this phone").wait_for()
    assert phone.page.get_by_role("link", name="Pair this phone again").count() == 1
    assert pits.book.rows(RUNS) == []
    phone.context.add_cookies(cookies)
    phone.to_home()
    handed_over(phone)
    assert pits.book.rows(RUNS) == [("blue", 41.0)]


def test_a_run_with_two_diffs_is_one_run_in_the_file_that_an_import_takes(
    pits: Pits, phone: TouchPhone, bevelbook: Callable[..., Any], tmp_path: Path
) -> None:
    pits.go()
    note(phone, "41")
    phone.page.get_by_label("Front diff", exact=True).fill("38,5")
    phone.choose("Minutes after the run", "2").choose("Call", "keep")
    keep(phone, 1)
    note(phone, "51", "red")
    keep(phone, 2)
    with phone.page.expect_download() as saved:
        phone.page.get_by_role("button", name="As a file").tap()
    named = f"On the laptop, in the folder of the book: bevelbook --db {pits.path.name} import FILE."
    assert f"2 of 2 in the file. {named}" in line(phone)
    saved.value.save_as(tmp_path / "waits.csv")
    done = bevelbook("--db", pits.path, "import", tmp_path / "waits.csv")
    assert done.code == 0, done
    rows = pits.book.rows(
        "SELECT c.name, b.label, d.position, d.diff_temp_c, d.after_run_s, r.call, r.note FROM runs r "
        "JOIN run_diffs d ON d.run = r.id JOIN builds b ON b.id = d.build JOIN cars c ON c.id = r.car "
        "WHERE r.note_file IS NOT NULL ORDER BY r.note_line"
    )
    assert rows == [
        ("blue", "rear-a/2", "rear", 41.0, 120.0, "keep", "front: front-a 38,5 °C"),
        ("red", "rear-b/2", "rear", 51.0, None, None, None),
    ]
    by = "SELECT DISTINCT p.name FROM runs r LEFT JOIN people p ON p.id = r.noted_by WHERE r.note_file IS NOT NULL"
    assert pits.book.rows(by) == [("ana",)]
    phone.page.locator("#waiting summary").tap()
    for _ in range(2):
        drop = phone.page.get_by_role("button", name="Drop it").first
        drop.tap()
        drop.tap()
    phone.page.locator("#waiting").wait_for(state="hidden")
