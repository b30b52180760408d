"""Our pages in a real browser: no console error, nothing fetched from elsewhere, forms, search, charts, axe."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

import pytest
from browser.printing import printed
from browser_team import Team, make_team
from browsing import Visit, served

from bevelbook.plugin.registry import Registry, load
from bevelbook.web.shared.drawing import all_charts

pytestmark = pytest.mark.browser

WIDTHS: Final = (390, 1280)
SCHEMES: Final = ("light", "dark")
GRAVE: Final = ("moderate", "serious", "critical")
FAULTS: Final = {"resultTypes": ["violations"]}
"""Only what is wrong is listed in full: listing all that is right takes as long as finding out."""
OF_COLOUR: Final = {**FAULTS, "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
"""What a scheme of colours can change; the other rules are asked once."""


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("hostile") / "team.db")


@pytest.fixture(scope="module")
def hostile(team: Team) -> Iterator[str]:
    """A team whose notes try to break the page, served."""
    yield from served(team.path)


REFUSED: Final = "/-/calc/fill-target?dry_mass_g=12.4&oil_mass_g=-1"
"""A page with something in its form that cannot be."""


def _pages(registry: Registry, *, one_of_each: bool = False) -> list[str]:
    """Every page of the demo, or one of each sort: pages of calculators and of charts are made from one template."""
    names = ["leak-trend", "oil-choice"] if one_of_each else sorted(registry.calculators)
    calculators = [f"/-/calc/{name}" for name in names]
    drawn = [
        chart.name for chart in all_charts(registry) if not one_of_each or chart.name in ("day-drift", "runs-by-grip")
    ]
    charts = [f"/-/chart/{name}" for name in drawn]
    return [
        "/-/home",
        "/-/diff/rear-b",
        "/-/build/rear-d~2F3",
        "/-/card/rear-d~2F3",
        "/-/sheet",
        "/-/sheet?fields=all",
        "/-/fluid/club%207000".replace("%20", "+"),
        "/-/venue/Brickfield",
        "/-/worked",
        "/-/worked?venue=Brickfield&grip=low&track_from=30",
        "/-/worked?grip=low&track=36",
        "/-/day/2026-06-14",
        "/-/compare",
        "/-/compare?a=rear-a%2F11&b=rear-c%2F7",
        "/-/search?q=rear",
        "/-/look",
        "/-/plan",
        "/-/plan/quay~20race",
        "/-/calculators",
        "/-/help",
        "/-/help/units",
        "/-/help/calculators/fill-target",
        "/-/charts",
        *calculators,
        "/-/calc/fill-target?for=rear-a%2F8",
        REFUSED,
        "/-/calc/tightening?screw_count=4&target_torque_nm=0.3",
        *charts,
        "",
        "/builds",
        "/builds?_search=oil&diff__contains=a",
        "/what_worked?_facet=venue",
        "/shelf",
        "?sql=select+*+from+shelf",
    ]


REGISTRY: Final = load()


@pytest.mark.parametrize(("width", "scheme"), list(zip(WIDTHS, SCHEMES, strict=True)))
def test_pages_open_without_a_fault_and_without_sideways_scrolling(
    demo: str, visit: Callable[..., Visit], width: int, scheme: str
) -> None:
    one = visit(width, scheme)
    wide = []
    for page in _pages(REGISTRY):
        one.to(demo + page, status=400 if page == REFUSED else 200)
        if one.page.evaluate("document.documentElement.scrollWidth") > width:
            wide.append(page)
    assert one.faults == []
    assert wide == []


def test_axe_finds_no_grave_fault(demo: str, visit: Callable[..., Visit]) -> None:
    """A page of each kind once: all of it in light, and its colours in dark."""
    from axe_playwright_python.sync_playwright import Axe

    one = visit(390, "light")
    found = []
    for page in _pages(REGISTRY, one_of_each=True):
        one.to(demo + page, status=400 if page == REFUSED else 200)
        for scheme, options in zip(SCHEMES, (FAULTS, OF_COLOUR), strict=True):
            one.page.emulate_media(color_scheme=scheme)
            for fault in Axe().run(one.page, options=options).response["violations"]:
                if fault["impact"] in GRAVE:
                    found.append((page, scheme, fault["id"], fault["nodes"][0]["html"][:160], len(fault["nodes"])))
        one.page.emulate_media(color_scheme=SCHEMES[0])
    assert found == []


def test_what_was_run_in_low_grip_above_35_degrees_is_three_taps_away(demo: str, visit: Callable[..., Visit]) -> None:
    one = visit(390)
    one.to(demo.rpartition("/")[0] + "/")
    one.page.get_by_role("link", name="Brickfield").first.click()
    one.page.get_by_role("link", name="low grip, track above 35 °C").click()
    words = one.page.inner_text("main").replace("\N{NO-BREAK SPACE}", " ")
    assert "What was run at Brickfield, in low grip, above 35 °C on the track" in words
    assert "keep" in one.page.locator(".blocks").last.inner_text()
    assert one.faults == []


def test_the_first_screen_of_a_phone_is_the_shelf_and_what_to_do(demo: str, visit: Callable[..., Visit]) -> None:
    one = visit(390)
    one.to(f"{demo}/-/home")
    ends = one.page.evaluate("document.querySelector('.jobs').getBoundingClientRect().bottom")
    assert ends <= 844
    assert one.page.locator(".jobs li").count() == 5


def test_a_form_computes_keeps_its_inputs_in_the_address_and_fills_from_a_build(
    demo: str, visit: Callable[..., Visit]
) -> None:
    one = visit(390)
    one.to(f"{demo}/-/calc/fill-target")
    one.page.get_by_label("Dry mass", exact=True).fill("12400 mg")
    one.page.get_by_label("Oil mass", exact=True).fill("1,86 g")
    one.page.get_by_role("button", name="Work it out").click()
    assert "dry_mass_g=12400+mg" in one.page.url
    assert one.page.locator(".answer .big").inner_text() == "14.26"
    assert one.page.get_by_label("Dry mass", exact=True).input_value() == "12400 mg"
    box = one.page.locator(".result").bounding_box()
    form = one.page.locator("main form").bounding_box()
    assert box["y"] < form["y"], "on a phone the result is above the form"
    one.to(f"{demo}/-/calc/fill-target")
    one.page.get_by_label("Fill from").fill("rear-a/8")
    one.page.get_by_role("button", name="Work it out").click()
    assert "build rear-a/8" in one.page.inner_text("main")
    assert one.page.get_by_label("Dry mass", exact=True).get_attribute("placeholder")
    assert one.faults == []


def test_a_number_has_a_keypad_a_key_for_the_sign_and_on_a_touch_screen_one_for_units(
    demo: str, browser: Any, visit: Callable[..., Visit]
) -> None:
    one = visit(390)
    one.to(f"{demo}/-/calc/same-feel")
    now = one.page.get_by_label("Temperature now", exact=True)
    assert now.evaluate("input => input.inputMode") == "decimal"
    now.fill("5")
    sign = one.page.get_by_role("button", name="change sign of temperature now")
    sign.focus()
    one.page.keyboard.press("Enter")
    assert now.input_value() == "-5"
    sign.click()
    assert now.input_value() == "5"
    assert one.page.get_by_role("button", name="change sign of viscosity").count() == 0
    assert one.page.locator(".other-unit").count() == 0
    assert one.faults == []
    touched = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = touched.new_page()
    page.goto(f"{demo}/-/calc/fill-target")
    page.get_by_role("button", name="g: type another unit for dry mass").tap()
    assert page.get_by_label("Dry mass", exact=True).evaluate("input => input.inputMode") == "text"
    touched.close()
    plain = browser.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False)
    page = plain.new_page()
    page.goto(f"{demo}/-/calc/fill-target")
    assert page.get_by_label("Dry mass", exact=True).get_attribute("inputmode") is None, "letters without the script"
    plain.close()


def test_a_wide_table_is_a_block_for_each_row_on_a_phone(demo: str, visit: Callable[..., Visit]) -> None:
    over = "(() => { const box = document.querySelector('.wide'); return box.scrollWidth - box.clientWidth })()"
    phone, wide = visit(390), visit(1280)
    for page in ("/imported_notes", "/runs", "/calc_seal_swell", "?sql=select+*+from+builds"):
        phone.to(demo + page, status=400 if page == REFUSED else 200)
        assert phone.page.evaluate(over) == 0, page
        assert phone.page.locator("td.empty:not(:first-child) >> visible=true").count() == 0
        assert not phone.page.locator(".to-the-right").is_visible()
        wide.to(demo + page)
        assert wide.page.evaluate(over) > 0
        assert wide.page.locator(".to-the-right").is_visible()
    phone.to(f"{demo}/imported_notes")
    heading = "getComputedStyle(document.querySelector('td[data-heading=Diff]'), '::before').content"
    assert "Diff" in phone.page.evaluate(heading)


def test_the_first_screen_of_a_phone_holds_the_answer_and_the_form_comes_below(
    demo: str, visit: Callable[..., Visit]
) -> None:
    one = visit(390)
    below = []
    for name in ("run-comparison", "same-feel", "tightening"):
        given = REGISTRY.calculator(name).calculator.worked[0].given
        texts = {field: "\n".join(text) if isinstance(text, list) else text for field, text in given.items()}
        one.to(f"{demo}/-/calc/{name}?{urlencode(texts)}")
        ends = [answer.bounding_box() for answer in one.page.locator(".verdict-line, .first-reason, .answer").all()]
        form = one.page.locator("main form").bounding_box()
        if not ends or max(box["y"] + box["height"] for box in ends) > min(844, form["y"]):
            below.append(name)
    assert below == []
    assert one.faults == []


def test_search_finds_and_leads_there(demo: str, visit: Callable[..., Visit]) -> None:
    one = visit(390)
    one.to(f"{demo}/-/home")
    one.page.get_by_label("Search all notes and names").fill("pushes")
    one.page.keyboard.press("Enter")
    one.page.wait_for_url("**/-/search?q=pushes")
    assert one.page.locator("mark").first.inner_text().lower() == "pushes"
    one.page.locator("main ul.ruled a").first.click()
    one.page.wait_for_load_state("load")
    assert "pushes" in one.page.inner_text("main").lower()
    assert one.faults == []


TEXTS_OF_CHART: Final = """() => {
    const svg = [...document.querySelectorAll('.chart-place svg')].filter((one) => one.getClientRects().length);
    const box = svg[0].getBoundingClientRect(), scale = box.width / svg[0].viewBox.baseVal.width;
    return {
        pictures: svg.length,
        marks: svg[0].querySelectorAll("[class*='role-mark'] path, [class*='role-mark'] line").length,
        sizes: [...svg[0].querySelectorAll('text')].map((one) => parseFloat(getComputedStyle(one).fontSize) * scale),
        cut: [...svg[0].querySelectorAll('text')].filter((one) => {
            const text = one.getBoundingClientRect();
            return text.left < box.left - 1 || text.right > box.right + 1;
        }).map((one) => one.textContent),
    };
}"""


@pytest.mark.parametrize(("width", "largest"), list(zip(WIDTHS, (15, 17), strict=True)))
def test_every_chart_is_drawn_to_be_read_with_its_table_beside(
    demo: str, visit: Callable[..., Visit], width: int, largest: float
) -> None:
    one = visit(width)
    for chart in REGISTRY.charts():
        one.to(f"{demo}/-/chart/{chart.name}")
        drawn = one.page.evaluate(TEXTS_OF_CHART)
        assert (drawn["pictures"], drawn["cut"]) == (1, []), chart.name
        assert drawn["marks"] > 0, chart.name
        assert min(drawn["sizes"]) >= 11, chart.name
        assert max(drawn["sizes"]) <= largest, chart.name
        assert one.page.locator("main table tbody tr").count() > 1
        one.page.evaluate("document.documentElement.classList.add('sun')")
        assert one.page.evaluate(TEXTS_OF_CHART)["cut"] == [], f"{chart.name} in the sun"
    assert one.faults == []


def test_hostile_notes_stay_text(hostile: str, team: Team, visit: Callable[..., Visit]) -> None:
    one = visit(390)
    for page in (
        "/-/home",
        f"/-/build/{team.ids['rear-a/2']}",
        f"/-/card/{team.ids['rear-a/2']}",
        f"/-/venue/{team.ids['field']}",
        f"/-/fluid/{team.ids['evil fluid']}",
        "/-/diff/rear-a",
        "/-/worked?grip=low",
        "/-/compare?a=rear-a%2F2&b=rear-b%2F2",
        "/-/search?q=long",
        "/-/search?q=%3Cscript%3E",
        "/-/look",
        "/-/chart/runs-by-grip",
        "/-/chart/viscosity-temperature",
        "/runs",
        "/builds",
        f"/runs/{team.ids['run 2']}",
        "/what_worked",
    ):
        one.to(hostile + page)
        assert one.page.title() != "owned", page
        assert one.page.locator("img").count() == 0, page
        assert one.page.evaluate("document.documentElement.scrollWidth") <= 390, page
    assert one.faults == []


def test_everything_is_reached_by_keyboard_and_the_focus_is_seen(demo: str, visit: Callable[..., Visit]) -> None:
    one = visit(1280)
    one.to(f"{demo}/-/calc/fill-target?dry_mass_g=12.4&oil_mass_g=1.86")
    seen = set()
    for _ in range(60):
        one.page.keyboard.press("Tab")
        seen.add(one.page.evaluate("(document.activeElement.id || document.activeElement.textContent).trim()"))
        if one.page.evaluate("document.activeElement === document.body"):
            break
        style = one.page.evaluate(
            "(() => { const s = getComputedStyle(document.activeElement); return [s.outlineStyle, s.outlineWidth]; })()"
        )
        assert style[0] != "none", seen
        assert float(style[1].removesuffix("px")) >= 2, seen
    assert {"Skip to the content", "dry_mass_g", "oil_mass_g", "Work it out"} <= seen


def test_a_card_prints_on_two_sheets(demo: str, visit: Callable[..., Visit], tmp_path: Path) -> None:
    one = visit(1280)
    one.to(f"{demo}/-/card/rear-d~2F3")
    one.page.emulate_media(media="print")
    assert one.page.locator("header.top").is_hidden()
    assert one.page.locator(".build-card").is_visible()
    sheet = one.page.pdf(format="A4", prefer_css_page_size=True)
    assert sheet.count(b"/Type /Page\n") == 2


LEAST_CONTRAST: Final = 15.0
CONTRASTS: Final = """() => {
    const light = (text) => {
        const [r, g, b] = text.match(/[\\d.]+/g).map(Number).map((one) => one / 255)
            .map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4));
        return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const behind = (one) => {
        for (let at = one; at; at = at.parentElement) {
            const colour = getComputedStyle(at).backgroundColor;
            if (!/^rgba.*, 0\\)$/.test(colour)) return colour;
        }
        return "rgb(255, 255, 255)";
    };
    const found = [];
    for (const one of document.querySelectorAll("body, body *")) {
        const says = [...one.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim());
        if (!says || !one.getClientRects().length) continue;
        const style = getComputedStyle(one);
        const [text, paper] = [light(one instanceof SVGElement ? style.fill : style.color), light(behind(one))];
        const ratio = (Math.max(text, paper) + 0.05) / (Math.min(text, paper) + 0.05);
        found.push([ratio, one.outerHTML.slice(0, 90)]);
    }
    return found;
}"""
"""The contrast of each piece of text with what is behind it.

Source: WCAG 2.2, definitions of contrast ratio and relative luminance.
"""


def test_sun_is_black_on_white_on_every_page_until_it_is_switched_off(demo: str, visit: Callable[..., Visit]) -> None:
    one = visit(390, "dark")
    page = one.to(f"{demo}/-/home")
    switch = page.get_by_role("button", name="Sun: black on white")
    assert switch.get_attribute("aria-pressed") == "false"
    assert min(page.evaluate(CONTRASTS))[0] < LEAST_CONTRAST
    weight = page.evaluate("getComputedStyle(document.body).fontWeight")
    switch.focus()
    page.keyboard.press("Enter")
    for path in ("/-/home", "/-/diff/rear-b", "/-/calc/leak-trend?for=rear-b%2F2", "/-/card/rear-d~2F3", "/builds", ""):
        if path != "/-/home":
            one.to(demo + path)
        assert switch.get_attribute("aria-pressed") == "true", path
        faint = [found for found in page.evaluate(CONTRASTS) if found[0] < LEAST_CONTRAST]
        assert faint == [], path
        assert page.evaluate("getComputedStyle(document.body).fontWeight") > weight, path
        assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)", path
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).fontWeight") == weight, "paper is as ever"
    page.emulate_media(media="screen")
    switch.click()
    assert switch.get_attribute("aria-pressed") == "false"
    one.to(f"{demo}/-/home")
    assert switch.get_attribute("aria-pressed") == "false"
    assert one.faults == []


def test_sun_works_where_the_browser_keeps_nothing_and_is_not_offered_without_script(browser: Any, demo: str) -> None:
    context = browser.new_context()
    context.add_init_script(
        "Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('kept nowhere'); } })"
    )
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.goto(f"{demo}/-/help")
    switch = page.get_by_role("button", name="Sun: black on white")
    switch.click()
    assert (switch.get_attribute("aria-pressed"), faults) == ("true", [])
    context.close()
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{demo}/-/help")
    assert page.locator("#sun").is_hidden()
    context.close()


def test_a_plan_has_a_car_on_a_screen_and_is_printed_on_two_sheets(
    demo: str, browser: Any, visit: Callable[..., Visit]
) -> None:
    """Of six diffs, two cars and a list to pack; the act is in the largest letters below the title."""
    page = visit(390, "light").to(f"{demo}/-/plan/quay~20race")
    sections = page.locator("section.of-car")
    assert sections.count() == 3
    assert max(one.bounding_box()["height"] for one in sections.all()) <= 844
    size = "one => parseFloat(getComputedStyle(one).fontSize)"
    assert min(one.evaluate(size) for one in page.locator(".plan-lines .act").all()) >= 30
    for paper in ("A4", "Letter"):
        found = printed(browser, page.url, paper)
        assert len(found.sheets) == 2, paper
        assert found.smallest_pt >= 8.9
        assert "To pack" in " ".join(found.texts)
        assert "Print it" not in " ".join(found.texts)
