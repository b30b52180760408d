"""A phone in the pits: questions that racers ask are answered in three taps at most, and in one screen.

The questions are those that racers put to each other, asked of the demo: its people, tracks, oils and numbers are
invented. A tap is a link, a button or a line that opens; typing into a field does not count.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final, NamedTuple

import pytest
from browsing import Visit

pytestmark = pytest.mark.browser

MOST_TAPS: Final = 3
PHONE: Final = 390
ON_THE_SCREEN: Final = """() => {
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), seen = [];
    while (walker.nextNode()) {
        const text = walker.currentNode, around = text.parentElement;
        if (!text.textContent.trim() || !around.checkVisibility({visibilityProperty: true})) continue;
        if (around.closest('script, style, datalist, option, header.top')) continue;
        const range = document.createRange();
        range.selectNodeContents(text);
        const box = range.getBoundingClientRect();
        if (box.top >= 0 && box.bottom <= innerHeight && box.left >= 0 && box.right <= innerWidth + 1)
            seen.push(text.textContent);
    }
    return seen.join(' ').replace(/\\s+/g, ' ');
}"""


class Tap(NamedTuple):
    """A link, a button or a line that opens, by its words."""

    words: str
    role: str = "link"


class Typed(NamedTuple):
    """Words typed into the field of that label."""

    label: str
    words: str


class Asked(NamedTuple):
    """A question, what is done from the first page, and patterns of what the last screen says."""

    question: str
    steps: tuple[Tap | Typed, ...]
    answers: tuple[str, ...]


WORK_IT_OUT: Final = Tap("Work it out", "button")
ASKED: Final = (
    Asked(
        "When did the oil go, was I tuning on an empty diff?",
        (Tap("rear-d"),),
        (r"lost 0\.47 g of 1\.86 g \(25 %\) by run 17", r"wet at joint", r"lost oil"),
    ),
    Asked(
        "What is different in the build that holds?",
        (Tap("rear-a"), Tap("rear-a/12")),
        (r"What changed since rear-a/11", r"Oil club 7000.* club 10000", r"Oil mass 1\.87 g 1\.86 g"),
    ),
    Asked(
        "Which of two bottles is thicker?",
        (
            Tap("Calculators"),
            Tap("Which oil is thicker"),
            Typed("Times", "a:33.0\na:33.4\nb:37.1\nb:36.8"),
            Typed("Temperature", "22"),
            WORK_IT_OUT,
        ),
        (r"(?i)b is thicker, by 11 %", r"1\.11"),
    ),
    Asked(
        "How much 10,000 goes into 5,000 for 7,000?",
        (
            Tap("Calculators"),
            Tap("Blend"),
            Typed("Parts", "5000\n10000"),
            Typed("Target viscosity", "7000"),
            Typed("Blend mass", "20 g"),
            WORK_IT_OUT,
        ),
        (r"10\.29", r"9\.71"),
    ),
    Asked(
        "It is 48 °C on the track: what did we run then?",
        (Tap("What worked"), Typed("Track temperature, nearest to", "48"), Tap("Find", "button")),
        (r"near 48 °C", r"°C away", r"kept", r"cSt, rear"),
    ),
    Asked(
        "How many runs did each of these gears last, and with which motor?",
        (Tap("rear-a"), Tap("How many runs its pieces have done")),
        (r"side gear, case side", r"10 runs", r"motor"),
    ),
    Asked(
        "How often was this case opened, and when did a screw first strip?",
        (Tap("rear-d"),),
        (r"Opened \d+ times; first screw that did not hold: 6 Sep 2026",),
    ),
    Asked(
        "Five packs, 0.05 s: is that real?",
        (
            Tap("Calculators"),
            Tap("Run comparison"),
            Typed("Runs", "a:1:18.40\nb:2:18.36\nb:3:18.33\na:4:18.41\na:5:18.38"),
            WORK_IT_OUT,
        ),
        (r"not decided|unclear|cannot", r"0\.\d\d"),
    ),
    Asked("What did I plan to try here?", (Tap("Tannery Hall"),), (r"Still to try", r"every time")),
    Asked(
        "Is 1.35 g real on a scale of 0.1 g?",
        (
            Tap("Calculators"),
            Tap("Fill target"),
            Typed("Fill from", "scale:ana's kitchen scale"),
            Typed("Dry mass", "12.4 g"),
            Typed("Oil mass", "1.35 g"),
            WORK_IT_OUT,
        ),
        (r"caution", r"scale"),
    ),
)


class FirstScreen(NamedTuple):
    """A page, and patterns of what a person came for."""

    page: str
    answers: tuple[str, ...]


FIRST_SCREENS: Final = (
    FirstScreen(
        "/-/home",
        (
            r"front-a .*look at it .*front-b .*ready .*rear-a .*look at it .*rear-b .*ready .*rear-d .*apart",
            r"Before the next time out",
            r"Look at rear-a \(a seal closed in 3 times, your limit is 2; it turned loose\)",
        ),
    ),
    FirstScreen(
        "/-/diff/rear-a", (r"look at it", r"your limit is 2", r"club 10000 cSt 1\.86 g", r"What to do", r"Latest runs")
    ),
    FirstScreen(
        "/-/build/rear-a~2F12", (r"look at it", r"club 10000 cSt", r"1\.86 g", r"What changed since rear-a/11")
    ),
    FirstScreen("/-/venue/Tannery+Hall", (r"high grip, track 15 to 25 °C", r"kept", r"rear 5,000 to 10,000 cSt")),
    FirstScreen("/-/worked?grip=high&track=36", (r"club 10000 cSt, rear", r"°C away", r"kept on 1 of 3 days")),
    FirstScreen("/-/calc/fill-target?dry_mass_g=12.4&oil_mass_g=1.86", (r"14\.26 g", r"14\.24 to 14\.28 g is fine")),
    FirstScreen("/-/card/rear-d~2F3", (r"Stop pouring at 14\.25 g", r"Different from rear-d/2", r"still to go")),
    FirstScreen("/-/run/2026-06-14~2F2", (r"change", r"club 7000 cSt", r"rear-a/9", r"wanders on the straight")),
    FirstScreen("/-/day/2026-06-14", (r"North Quay", r"club 10000 cSt", r"kept and changed")),
    FirstScreen(
        "/-/compare?a=rear-a%2F11&b=rear-a%2F12", (r"What was changed", r"Oil mass", r"Hand feel smooth loose")
    ),
    FirstScreen("/-/search?q=loose", (r"loose off the corner", r"club 5000 cSt, rear")),
)


class Phone:
    """A phone that counts the taps."""

    def __init__(self, visit: Visit, address: str) -> None:
        self.page: Any = visit.to(address)
        self.taps = 0

    def do(self, step: Tap | Typed) -> None:
        if isinstance(step, Typed):
            self.page.get_by_label(step.label, exact=True).first.fill(step.words)
            return
        self.taps += 1
        if step.role == "summary":
            self.page.locator("summary", has_text=step.words).first.click()
        else:
            self.page.get_by_role(step.role, name=step.words, exact=True).first.click()
            self.page.wait_for_load_state("load")

    def screen(self) -> str:
        """The words that are on the screen now, whole."""
        return str(self.page.evaluate(ON_THE_SCREEN))


@pytest.mark.parametrize("asked", ASKED, ids=[one.question for one in ASKED])
def test_a_question_is_answered_in_three_taps_and_one_screen(
    demo: str, visit: Callable[..., Visit], asked: Asked
) -> None:
    one = visit(PHONE)
    phone = Phone(one, f"{demo.rpartition('/')[0]}/")
    for step in asked.steps:
        phone.do(step)
    screen = phone.screen()
    assert [answer for answer in asked.answers if not re.search(answer, screen)] == [], screen
    assert phone.taps <= MOST_TAPS
    assert one.faults == []


@pytest.mark.parametrize("asked", FIRST_SCREENS, ids=[one.page for one in FIRST_SCREENS])
def test_the_first_screen_holds_what_a_person_came_for(
    demo: str, visit: Callable[..., Visit], asked: FirstScreen
) -> None:
    phone = Phone(visit(PHONE), demo + asked.page)
    screen = phone.screen()
    assert [answer for answer in asked.answers if not re.search(answer, screen)] == [], screen
