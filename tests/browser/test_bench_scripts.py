"""The scripts of the bench: a reading is answered at once as the server answers it, and a wait counts its minutes."""

from __future__ import annotations

import re
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


@pytest.fixture
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
    page.add_script_tag(content=script("bounce.js"))
    page.add_script_tag(content=script("touch.js"))
    page.clock.run_for(600)
    page.click("#pass-1 a")
    page.click("#pass-2 a")
    assert page.evaluate("location.hash") == "#pass-2"
    page.clock.run_for(600)
    page.click("#pass-2 a")
    assert page.evaluate("location.hash") == "#pass-3"


Said = Callable[..., None]


@pytest.fixture
def hearing(page: Any) -> Said:
    """Open the fields of pouring beside a scale, and give what the laptop answers next; nothing where it is gone."""
    goal = goal_of_masses(12.40, 1.86)
    given = " ".join(f'data-{name}="{escape(value)}"' for name, value in for_script(goal).items())
    page.set_content(
        f'<form><div class="pouring" {given}><p class="to-go" hidden></p><div class="field">'
        '<input name="reading" data-mass="g"></div></div></form>'
    )
    page.evaluate(
        "() => { window.fetch = () => new Promise((go, fail) => { window.answer = go; window.refuse = fail; }); }"
    )
    page.evaluate(script("pouring.js"))
    page.evaluate(
        "(code) => { const one = document.createElement('script'); one.dataset.address = '/scale'; "
        "one.textContent = code; document.body.append(one); }",
        script("scale.js"),
    )

    def answered(reading: dict[str, Any] | None, trouble: str = "") -> None:
        said = {"number": "1", "trouble": trouble, "reading": reading, "line": None}
        page.evaluate("(said) => window.answer({ ok: true, status: 200, json: async () => said })", said)
        page.clock.run_for(300)

    return answered


def reading_of(mass_g: float, weighed_as: str = "") -> dict[str, Any]:
    digits = f"{mass_g:.2f}"
    return {"mass_g": mass_g, "digits": digits, "is_steady": True, "weighed_as": weighed_as, "age_s": 0.0}


def clock_of(page: Any, ago_ms: int = 0) -> str:
    return str(page.evaluate("(ago) => new Date(Date.now() - ago).toTimeString().slice(0, 8)", ago_ms))


def test_the_large_figures_say_themselves_that_the_scale_is_gone(page: Any, hearing: Said) -> None:
    at = clock_of(page)
    hearing(reading_of(14.23))
    assert (page.text_content(".live"), said(page)) == ("14.23g", "0.03 g to go")
    page.clock.run_for(3000)
    hearing(None, trouble="the scale was pulled out")
    assert said(page) == ""
    gone = page.text_content(".live")
    assert gone.startswith("Scale not heard since ")
    assert at <= gone[-8:] < clock_of(page, 2000), "when it was heard last, not when the cable was missed"
    hearing(reading_of(14.20))
    assert (page.text_content(".live"), said(page)) == ("14.20g", "0.06 g to go")
    page.evaluate("window.refuse(new Error('no network'))")
    page.clock.run_for(300)
    assert page.text_content(".live").startswith("Scale not heard since ")
    assert said(page) == ""


def test_a_number_typed_by_hand_keeps_its_answer_while_the_scale_is_gone(page: Any, hearing: Said) -> None:
    hearing(reading_of(14.00))
    page.fill("input", "")
    page.focus("input")
    page.keyboard.type("14.11")
    hearing(None, trouble="the scale was pulled out")
    assert said(page) == "0.15 g to go"


def test_a_scale_that_fell_silent_is_said_by_the_large_figure(page: Any, hearing: Said) -> None:
    hearing(reading_of(14.23))
    page.clock.run_for(20_000)
    assert "s ago" in page.text_content(".live")
    assert page.locator(".to-go.not-steady").count() == 1
    page.clock.run_for(120_000)
    assert page.text_content(".live").startswith("Scale not heard since ")
    assert said(page) == ""


def test_a_reading_says_what_lies_on_the_scale_and_the_time_as_everywhere(page: Any, hearing: Said) -> None:
    hearing(reading_of(14.23, "gross"))
    assert "The scale says gross: all that lies on it." in page.text_content(".from-scale")
    came = page.text_content(".origin")
    assert re.fullmatch(r"14\.23 g from the scale at \d\d:\d\d:\d\d \(gross: all that lies on it\)", came), came
