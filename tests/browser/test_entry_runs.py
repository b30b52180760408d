"""Runs noted at the track: six of a race day, one by keyboard alone, one without a script, each with its diffs."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import pytest
from entry_phone import Book, TouchPhone

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
MOST_CONTROLS = 60
"""Presses of the Tab key after which a control counts as out of reach."""
LAST_RUN = """SELECT r.label, v.name, e.name, r.tyre_runs, r.best_five_s, r.balance_middle, r.changed, r.call
    FROM runs r LEFT JOIN events e ON e.id = r.event LEFT JOIN venues v ON v.id = r.venue
    ORDER BY r.id DESC LIMIT 1"""
TEMPERATURES = """SELECT d.position, d.diff_temp_c FROM run_diffs d
    WHERE d.run = (SELECT id FROM runs ORDER BY id DESC LIMIT 1) ORDER BY d.position"""


class NotedRun(NamedTuple):
    """What a racer notes of a run."""

    rear: str
    front: str
    lap: str
    middle: str
    changed: str
    call: str


DAY = (
    NotedRun("41", "38,5", "18.31", "0", "nothing", "keep"),
    NotedRun("43.5", "40", "18.29", "+1", "nothing", "keep"),
    NotedRun("44", "40.5", "18.42", "+2", "springs", "change"),
    NotedRun("43", "40", "18,27", "0", "springs", "keep"),
    NotedRun("45", "41.5", "18.25", "−1", "nothing", "undecided"),
    NotedRun("45.5", "42", "18.22", "0", "nothing", "keep"),
)
"""Invented."""


def test_a_run_with_diff_temperatures_takes_six_taps_and_its_numbers(book: Book, phones: Phones) -> None:
    phone = phones().paired().tap("Note a run")
    phone.number("Rear diff", "41").press_next_key()
    phone.number("Front diff", "38.5")
    for carried in ("Lantern Hall", "club race 3", "grey, 32 shore"):
        phone.tap(carried)
    phone.tap("Store the run")
    assert book.rows(TEMPERATURES) == [("front", 38.5), ("rear", 41.0)]
    assert book.rows(LAST_RUN)[0][1:4] == ("Lantern Hall", "club race 3", 3.0)
    assert phone.numbers == 2
    assert phone.taps <= 6


def test_the_six_runs_of_a_race_day_are_noted_one_after_the_other(book: Book, phones: Phones) -> None:
    phone = phones().paired().tap("Note a run")
    for carried in ("Lantern Hall", "club race 3", "ana", "grey, 32 shore"):
        phone.tap(carried)
    runs = book.count("runs")
    for number, noted in enumerate(DAY, start=1):
        phone.number("Rear diff", noted.rear).press_next_key()
        phone.number("Front diff", noted.front)
        phone.choose("Minutes after the run", "at once").number("Mean of the best five laps", noted.lap)
        phone.choose("Mid-corner", noted.middle).choose("Changed since", noted.changed).choose("Call", noted.call)
        phone.tap("Store the run")
        assert book.count("runs") == runs + number
        label, venue, event, tyre_runs, lap, middle, changed, call = book.rows(LAST_RUN)[0]
        assert label.endswith(f"/{number}")
        assert (venue, event, tyre_runs) == ("Lantern Hall", "club race 3", 2.0 + number)
        assert (lap, middle, call) == (
            float(noted.lap.replace(",", ".")),
            int(noted.middle.replace("−", "-")),
            noted.call,
        )
        assert noted.changed in changed
        phone.tap("Next run")
    phone.to_home()
    assert "run 6" in phone.words()


def test_a_run_is_noted_by_keyboard_alone(book: Book, phones: Phones) -> None:
    desk = phones(width=1280).paired()
    _reach(desk, "Note a run")
    with desk.page.expect_navigation():
        desk.page.keyboard.press("Enter")
    desk.page.keyboard.type("41")
    desk.page.keyboard.press("Enter")
    desk.page.keyboard.type("38.5")
    _reach(desk, "Call")
    desk.page.keyboard.press("Space")
    desk.page.keyboard.press("ArrowRight")
    _reach(desk, "Store the run")
    with desk.page.expect_navigation():
        desk.page.keyboard.press("Enter")
    assert book.rows(TEMPERATURES) == [("front", 38.5), ("rear", 41.0)]
    assert book.rows(LAST_RUN)[0][-1] == "change"
    _reach(desk, "Take it back")
    with desk.page.expect_navigation():
        desk.page.keyboard.press("Enter")
    assert book.rows("SELECT count(*) FROM runs") == [(3,)]


def test_a_run_is_noted_without_a_script(book: Book, phones: Phones) -> None:
    phone = phones(script=False).paired()
    phone.page.get_by_role("link", name="Note a run").click()
    phone.page.get_by_label("Rear diff", exact=True).fill("41")
    phone.page.get_by_role("button", name="Store the run").click()
    phone.page.get_by_text("Stored:").wait_for()
    assert book.rows(TEMPERATURES) == [("front", None), ("rear", 41.0)]


def _reach(desk: TouchPhone, words: str) -> None:
    """Press the Tab key until the cursor is on the control with these words, or in the field with that legend."""
    for _ in range(MOST_CONTROLS):
        desk.page.keyboard.press("Tab")
        here = desk.page.evaluate(
            """() => {
                const here = document.activeElement;
                const legend = here.closest("fieldset")?.querySelector("legend");
                return [here.innerText || "", legend ? legend.innerText : ""].map((text) => text.trim());
            }"""
        )
        if words in here:
            return
    raise AssertionError(f"{words!r} is not reached by the Tab key")


def test_a_lap_in_minutes_and_seconds_is_typed_on_the_keypad_with_a_button_for_its_colon(
    book: Book, phones: Phones
) -> None:
    """60 s a minute: 1:14.9 is 74.9 s, and 9:14.9 is 554.9 s, an odd lap."""
    phone = phones().paired().tap("Note a run")
    name = "Mean of the best five laps"
    lap = phone.page.get_by_label(name, exact=True)
    assert lap.get_attribute("inputmode") == "decimal"
    assert phone.page.get_by_role("button", name="type a colon in rear diff").count() == 0
    phone.number(name, "9").tap(f"type a colon in {name.lower()}, for minutes and seconds")
    phone.page.keyboard.type("14.9")
    assert lap.input_value() == "9:14.9"
    odd = "bevelbook.oddNumbers(document.querySelector('form.run-form')).map((one) => one.words)"
    assert phone.page.evaluate(odd) == ["Best five of 554.9 s is outside 3 to 300 s. Is that right?"]
    lap.evaluate("input => { input.setSelectionRange(0, 1); input.focus(); }")
    phone.page.keyboard.type("1")
    assert phone.page.evaluate(odd) == []
    phone.number("Rear diff", "41").tap("Store the run")
    assert book.rows(LAST_RUN)[0][4] == 74.9
