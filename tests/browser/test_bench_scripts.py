"""The scripts of the bench: a reading is answered at once as the server answers it, and a wait counts its minutes."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from typing import Any

import pytest
from markupsafe import escape

from bevelbook.formulas.fill_window import decimals_of
from bevelbook.formulas.pouring_goal import PouringGoal, for_script, goal_of_masses, pouring_in_short

Typing = Callable[[PouringGoal], Any]


def script(name: str) -> str:
    return files("bevelbook.web").joinpath("static", name).read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(browser: Any) -> Any:
    """A page over no network, with a clock that only the tests move."""
    opened = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    opened.clock.install()
    return opened


@pytest.fixture
def typing(page: Any) -> Typing:
    """Open the fields of pouring for a goal, with the cursor in the reading."""

    def at(goal: PouringGoal) -> Any:
        given = " ".join(f'data-{name}="{escape(value)}"' for name, value in for_script(goal).items())
        page.set_content(
            f'<form><div {given}><p class="to-go" hidden></p><input name="reading" data-keypad="decimal"></div>'
            '<button class="next">Next</button></form>'
        )
        page.evaluate(script("pouring.js"))
        page.focus("input")
        return page

    return at


def said(page: Any) -> str:
    return str(page.text_content(".to-go"))


@pytest.mark.parametrize(
    "goal",
    [goal_of_masses(12.40, 1.86), goal_of_masses(41.3, 4.42, 0.044, 0.1), goal_of_masses(12.403, 1.857, 0.02, 0.001)],
    ids=("steps of 0.01 g", "steps of 0.1 g", "steps of 0.001 g"),
)
def test_every_reading_is_answered_as_the_server_answers_it(typing: Typing, goal: PouringGoal) -> None:
    """Dry, half full, near the window and over it, with the scale zeroed, and with a decimal point that slipped."""
    page = typing(goal)
    step, target = goal.scale_step_g, goal.on_scale.target_g
    near = [round(round(target / step + steps) * step, 6) for steps in range(-7, 8)]
    others = [goal.dry_mass_g, goal.dry_mass_g - 1, goal.oil_mass_g / 2, goal.oil_mass_g, round(target * 100), 9999.0]
    for exact_g in (*near, *others, target - 0.42, target + 0.05):
        mass_g = round(exact_g, decimals_of(step))
        page.fill("input", "")
        page.keyboard.type(f"{mass_g:.12g}")
        page.keyboard.press("Enter")
        assert said(page) == pouring_in_short(goal, mass_g), mass_g


def test_the_next_number_replaces_the_last(typing: Typing) -> None:
    """With as many decimals as the scale shows a number is taken without a key; a comma is a decimal point."""
    page = typing(goal_of_masses(12.40, 1.86))
    page.keyboard.type("13.84")
    assert said(page) == "0.42 g to go"
    page.keyboard.type("14,11")
    assert page.input_value("input") == "14,11"
    assert said(page) == "0.15 g to go"
    page.keyboard.type("14.31")
    assert said(page) == "0.05 g over: draw off"


def test_a_shorter_number_is_taken_after_a_second(typing: Typing) -> None:
    page = typing(goal_of_masses(12.40, 1.86))
    page.keyboard.type("14.1")
    page.clock.run_for(900)
    assert said(page) == ""
    page.clock.run_for(200)
    assert said(page) == "0.16 g to go"
    page.keyboard.type("14")
    page.clock.run_for(1100)
    page.keyboard.type(".26")
    assert (page.input_value("input"), said(page)) == ("14.26", "full")


def test_words_in_the_field_say_nothing(typing: Typing) -> None:
    page = typing(goal_of_masses(12.40, 1.86))
    page.keyboard.type("<b>14.2</b>")
    page.keyboard.press("Enter")
    assert (said(page), page.is_hidden(".to-go")) == ("", True)


def test_a_wait_counts_whole_minutes_and_says_when_it_is_over(page: Any) -> None:
    page.set_content(
        '<time data-left-s="150" data-line="left" data-over="look now">14:35</time><p id="left">3 min left</p>'
    )
    page.evaluate(script("clock.js"))
    seen = []
    for _ in range(4):
        seen.append(page.text_content("#left"))
        page.clock.run_for(60_000)
    assert seen == ["3 min left", "2 min left", "1 min left", "look now"]
    assert page.text_content("time") == "14:35"


def test_one_touch_is_one_pass_over_the_screws(page: Any) -> None:
    """The link of the next pass lies where the finger still is: what follows within half a second is the same touch."""
    page.set_content(
        "<main>"
        + "".join(f'<section class="pass" id="pass-{n}"><a href="#pass-{n + 1}">Next</a></section>' for n in (1, 2, 3))
        + "</main>"
    )
    page.add_script_tag(content=script("touch.js"))
    page.clock.run_for(600)
    page.click("#pass-1 a")
    page.click("#pass-2 a")
    assert page.evaluate("location.hash") == "#pass-2"
    page.clock.run_for(600)
    page.click("#pass-2 a")
    assert page.evaluate("location.hash") == "#pass-3"
