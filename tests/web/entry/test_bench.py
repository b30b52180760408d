"""The bench: a job from its first step to the card, the same again, left and taken up, corrected, taken back.

The procedure of these tests is their own, and all of its steps are made of what they write down. Invented data.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from pathlib import Path
from shutil import copyfile

import pytest
from browser_team import Team, make_team
from entered import EnteredSite, entered_site
from web.entry.conftest import words

from bevelbook.card.procedure import Procedure, bundled_procedure, procedure_from, steps_for
from bevelbook.plugin.registry import Registry
from bevelbook.store.ids import new_id

BENCH = "/team/-/enter/bench"
OWN = """
title: "Our way"
steps:
  - key: "closed"
    title: "Weigh it shut"
    for: ["rebuild", "oil change"]
    do: "On the scale."
    write_down: ["weighings.mass_g", "weighings.mass_basis"]
  - key: "look"
    title: "Look at it"
    for: ["rebuild", "oil change"]
    do: "Look."
    write_down: ["openings.opened_on", "openings.oil"]
  - key: "flash"
    title: "Cut"
    for: ["new", "rebuild"]
    when: "gears are new"
    do: "Cut."
  - key: "tray"
    title: "The tray"
    waits: yes
    do: "Take the tray."
    write_down: ["colour of the tray"]
  - key: "dry"
    title: "Weigh it dry"
    screen: "weigh-dry"
    do: "On the scale."
    write_down: ["builds.dry_mass_g"]
  - key: "turn"
    title: "Turn it"
    do: "Turn."
    write_down: ["builds.hand_feel"]
  - key: "filled"
    title: "Weigh it full"
    do: "On the scale."
    write_down: ["builds.filled_mass_g"]
"""


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: pytest.TempPathFactory) -> Team:
    """The team that each test has a copy of."""
    return make_team(tmp_path_factory.mktemp("bench") / "team.db")


def copy_of(drawn: Team, folder: Path) -> Team:
    return drawn._replace(path=Path(copyfile(drawn.path, folder / "team.db")))


@pytest.fixture(scope="module")
def own() -> Procedure:
    return procedure_from(OWN, "ours.yaml")


@pytest.fixture(autouse=True)
def only_generic(monkeypatch: pytest.MonkeyPatch) -> None:
    """The screen that a step of the procedure names is not there, so that it is made of what it writes down."""
    monkeypatch.setattr("bevelbook.web.entry.bench_order.declared_screens", dict)


@pytest.fixture
def site(tmp_path: Path, registry: Registry, own: Procedure, drawn: Team) -> Iterator[EnteredSite]:
    with entered_site(copy_of(drawn, tmp_path), registry, tmp_path / "settings", procedure=own) as site:
        yield site


def begin(site: EnteredSite, kind: str, way: str = "step by step", diff: str = "rear-a", **more: str) -> str:
    """A job begun; the address of its first screen."""
    answer = site.post(BENCH, {"key": new_id(), "diff": diff, "kind": kind, "way": way, **more})
    assert answer.status_code == 303, words(answer.text)
    return str(answer.headers["location"])


def unseen(page: str) -> dict[str, str]:
    """What the form of a screen sends unseen."""
    form = page[page.index('class="entry-form"') :]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form[: form.index("</form>")])
    return {name: unescape(value) for name, value in found}


def next_of(site: EnteredSite, address: str, **typed: str) -> str:
    """The screen at an address sent with what is typed (``__`` for a point); the address that it leads to."""
    given = {name.replace("__", "."): text for name, text in typed.items()}
    answer = site.post(address.partition("?")[0], {**unseen(site.page(address)), **given})
    assert answer.status_code == 303, words(answer.text)
    return str(answer.headers["location"])


def steps(site: EnteredSite) -> list[tuple[str, bool, str | None, str | None]]:
    """Each step with whether it is done, why it was left out, and its note."""
    rows = site.rows("SELECT step, done_at IS NOT NULL, left_out, note FROM bench_steps ORDER BY begun_at, id")
    return [(row[0], bool(row[1]), row[2], row[3]) for row in rows]


def key_in(address: str) -> str:
    return address.partition("?")[0].rpartition("/")[2]


def test_a_rebuild_step_by_step_ends_on_its_card(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    assert key_in(at) == "closed"
    at = next_of(site, at, weighings__mass_g="14,20", weighings__mass_basis="open half")
    assert key_in(at) == "look"
    assert site.rows("SELECT count(*) FROM builds WHERE diff = (SELECT diff FROM bench_jobs)") == [(2,)]
    at = next_of(site, at, openings__oil="grey")
    assert site.rows("SELECT oil, reason FROM openings WHERE id = (SELECT opening FROM bench_jobs)") == [("grey", None)]
    assert key_in(at) == "tray", "gears are not new"
    at = next_of(site, at, **{"words.colour of the tray": "red"})
    assert 'value="red"' in site.page(f"{at.rpartition('/')[0]}/tray")
    at = next_of(site, at, builds__dry_mass_g="12.30")
    at = next_of(site, at, builds__hand_feel="smooth")
    at = next_of(site, at, builds__filled_mass_g="14.16")
    ((build, label, made, done),) = site.rows(
        "SELECT b.id, b.label, b.kind, j.done_at IS NOT NULL FROM bench_jobs j JOIN builds b ON b.id = j.build"
    )
    assert (label, made, done) == ("rear-a/3", "rebuild", 1)
    assert at == f"/team/-/card/{build}"
    card = site.page(at)
    ticked = re.findall(r'type="checkbox" autocomplete="off" checked aria-label="\d+ ([^"]+)"', card)
    assert ticked == ["Weigh it shut", "Look at it", "The tray", "Weigh it dry", "Turn it", "Weigh it full"]
    assert re.search(r"The tray \d\d:\d\d", words(card))
    assert steps(site) == [
        ("closed", True, None, None),
        ("look", True, None, None),
        ("tray", True, None, "colour of the tray: red"),
        ("dry", True, None, None),
        ("turn", True, None, None),
        ("filled", True, None, None),
    ]
    assert site.rows("SELECT dry_mass_g, filled_mass_g, hand_feel FROM builds WHERE id = ?", build) == [
        (12.3, 14.16, "smooth")
    ]
    assert site.rows("SELECT step, waits FROM bench_steps WHERE waits IS NOT 'no'") == [("tray", "yes")]
    chosen = words(site.page(f"{BENCH}?diff=rear-a"))
    assert "rebuild: not timed yet, 0 of 5 builds" in chosen, "written down in one go"
    assert "Write your own figure down" in chosen


def test_the_same_again_asks_for_numbers_and_lists_the_rest(site: EnteredSite) -> None:
    at = begin(site, "oil change", "same again", like="rear-a/1")
    assert key_in(at) == "closed"
    at = next_of(site, at, weighings__mass_g="14.20", weighings__mass_basis="open half")
    assert key_in(at) == "as_usual"
    page = words(site.page(at))
    assert "As rear-a/1" in page
    assert "shaft ring" in page
    at = next_of(site, at, fluid="10,000", target_oil_mass_g="1.80")
    assert key_in(at) == "dry"
    assert site.rows(
        "SELECT f.label, b.target_oil_mass_g, l.label FROM bench_jobs j JOIN builds b ON b.id = j.build "
        "JOIN fluids f ON f.id = b.fluid JOIN builds l ON l.id = b.like"
    ) == [("10,000", 1.8, "rear-a/1")]
    assert site.rows("SELECT bottle, viscosity_cst FROM builds WHERE id = (SELECT build FROM bench_jobs)") == [
        (None, None)
    ], "what was of the other oil"
    assert site.rows("SELECT place FROM seal_fittings WHERE build = (SELECT build FROM bench_jobs)")
    at = next_of(site, at, builds__dry_mass_g="12.30")
    assert key_in(at) == "filled"
    at = next_of(site, at, builds__filled_mass_g="14.10")
    ((job,),) = site.rows("SELECT id FROM bench_jobs")
    assert at.partition("?")[0] == f"{BENCH}/{job}"
    page = site.page(at)
    assert "All done as usual" in page
    answer = site.post(at.partition("?")[0], {**unseen(page), "end": "yes"})
    assert answer.headers["location"].startswith("/team/-/card/")
    assert site.rows("SELECT done_at IS NOT NULL FROM bench_jobs") == [(1,)]
    assert {(step, note) for step, _, _, note in steps(site) if note} == {
        ("look", "as usual"),
        ("tray", "as usual"),
        ("turn", "as usual"),
    }


def test_a_job_is_left_and_taken_up_on_another_phone(site: EnteredSite) -> None:
    begin(site, "rebuild")
    other = site.paired_with(site.entry.phones.add("blue phone", "bo").phone)
    page = other.page(BENCH)
    assert "Go on with rear-a" in words(page)
    assert "at Weigh it shut" in words(page)
    assert page.count("rear-a") == 1, "not to be begun again"
    ((job,),) = site.rows("SELECT id FROM bench_jobs")
    assert f'href="{BENCH}/{job}/go_on"' in other.page(f"{BENCH}?diff=rear-a")
    assert key_in(other.get(f"{BENCH}/{job}/go_on").headers["location"]) == "closed", "one tap to the step"
    listed = other.page(f"{BENCH}/{job}")
    assert "Go on: Weigh it shut" in words(listed)
    next_of(other, f"{BENCH}/{job}/closed", weighings__mass_g="14.20", weighings__mass_basis="open half")
    assert "Go on: Look at it" in words(site.page(f"{BENCH}/{job}"))
    refused = site.post(BENCH, {"key": new_id(), "diff": "rear-a", "kind": "rebuild", "way": "step by step"})
    assert refused.status_code == 400
    assert "is on the bench already" in words(refused.text)


def test_a_step_is_corrected_and_taken_back(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    at = next_of(site, at, weighings__mass_g="14.20", weighings__mass_basis="open half")
    closed = at.partition("?")[0].replace("look", "closed")
    assert 'value="14.2' in site.page(closed)
    next_of(site, closed, weighings__mass_g="14.21", weighings__mass_basis="open half")
    assert site.rows("SELECT mass_g FROM weighings ORDER BY created_at DESC LIMIT 1") == [(14.21,)]
    next_of(site, at, openings__oil="black")
    assert site.rows("SELECT count(*) FROM openings WHERE oil = 'black'") == [(1,)]
    ((entry,),) = site.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")
    answer = site.post("/team/-/enter/take-back", {"entry": entry})
    assert answer.status_code in (200, 303), words(answer.text)
    assert site.rows("SELECT count(*) FROM openings WHERE oil = 'black'") == [(0,)]
    assert site.rows("SELECT opening, at_step FROM bench_jobs") == [(None, "Look at it")]
    assert [step for step, *_ in steps(site)] == ["closed"]


def test_two_phones_at_one_step_are_shown_both_and_asked(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    drawn = unseen(site.page(at))
    next_of(site, at, weighings__mass_g="14.20", weighings__mass_basis="open half")
    late = {**drawn, "weighings.mass_g": "14.25", "weighings.mass_basis": "open half", "key": new_id()}
    answer = site.post(at, late)
    assert answer.status_code == 400
    page = words(answer.text)
    assert "was changed meanwhile by ana" in page
    assert "14.20 g" in page
    assert 'value="14.25"' in answer.text
    assert site.post(at, {**late, "over_theirs": "yes"}).status_code == 303
    assert site.rows("SELECT count(*), max(mass_g) FROM weighings WHERE mass_g BETWEEN 14.19 AND 14.26")[0][1] == 14.25


def test_two_phones_at_the_list_of_the_same_again_are_asked_where_they_differ(site: EnteredSite) -> None:
    (like,) = site.rows("SELECT b.label FROM builds b JOIN diffs d ON d.id = b.diff WHERE d.label = 'rear-a' LIMIT 1")
    listed = f"{begin(site, 'rebuild', 'same again', like=like[0]).rpartition('/')[0]}/as_usual"
    drawn = unseen(site.page(listed))
    for amount, status in (("1.80", 303), ("1.80", 303), ("1.95", 400)):
        answer = site.post(listed, {**drawn, "key": new_id(), "target_oil_mass_g": amount})
        assert answer.status_code == status, (amount, words(answer.text))
    assert "was changed meanwhile by ana" in words(answer.text)


def test_a_diff_on_the_bench_is_apart_on_the_shelf_and_says_where_it_is(site: EnteredSite) -> None:
    shelf = "SELECT word, reasons FROM diff_facts WHERE diff = (SELECT diff FROM bench_jobs)"
    at = begin(site, "rebuild")
    at = next_of(site, at, weighings__mass_g="14.20", weighings__mass_basis="open half")
    assert site.rows(shelf) != [("apart", "on the bench")], "nothing is open yet"
    at = next_of(site, at, openings__oil="grey")
    assert site.rows(shelf) == [("apart", "on the bench")]
    at = next_of(site, next_of(site, at), builds__dry_mass_g="12.30")
    assert site.rows(shelf) == [("apart", "on the bench")], "half a build"
    assert re.search(r"on the bench since \d\d:\d\d, at Turn it", words(site.page(f"{BENCH}?diff=rear-a")))
    next_of(site, next_of(site, at), builds__filled_mass_g="14.16")
    assert site.rows(shelf) == [("ready", None)]


def test_what_another_page_changed_meanwhile_is_shown_and_not_written_over(site: EnteredSite) -> None:
    job = begin(site, "rebuild").rpartition("/")[0]
    next_of(site, f"{job}/dry", builds__dry_mass_g="12.30")
    old = {**unseen(site.page(f"{job}/dry")), "builds.dry_mass_g": "12.31"}
    with closing(sqlite3.connect(site.team.path)) as connection, connection:
        connection.execute("UPDATE builds SET dry_mass_g = 12.35 WHERE label = 'rear-a/3'")
    answer = site.post(f"{job}/dry", old)
    assert answer.status_code == 400
    assert "12.35 g" in words(answer.text)
    assert 'value="12.31"' in answer.text
    assert site.rows("SELECT dry_mass_g FROM builds WHERE label = 'rear-a/3'") == [(12.35,)]


def test_a_form_of_a_job_that_was_taken_back_keeps_what_was_typed(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    form = {**unseen(site.page(at)), "weighings.mass_g": "14.20"}
    ((entry,),) = site.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")
    assert site.post("/team/-/enter/take-back", {"entry": entry}).status_code in (200, 303)
    answer = site.post(at, form)
    assert answer.status_code == 400
    assert "is not there any more" in words(answer.text)
    assert "14.20" in words(answer.text)


def test_a_form_sent_twice_stores_one_step(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    form = {**unseen(site.page(at)), "weighings.mass_g": "14.20", "weighings.mass_basis": "open half"}
    first, second = site.post(at, form), site.post(at, form)
    assert first.headers["location"].partition("?")[0] == second.headers["location"].partition("?")[0]
    assert "nothing was stored a second time" in words(site.page(second.headers["location"]))
    assert len(steps(site)) == 1


def test_a_step_gone_back_to_and_changed_shows_what_is_stored_and_asks(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    form = {**unseen(site.page(at)), "weighings.mass_g": "14.20", "weighings.mass_basis": "open half"}
    assert site.post(at, form).status_code == 303
    answer = site.post(at, {**form, "weighings.mass_g": "14.25"})
    assert answer.status_code == 400
    assert "14.20 g" in words(answer.text)
    assert 'value="14.25"' in answer.text
    over = {**unseen(answer.text), "weighings.mass_g": "14.25", "weighings.mass_basis": "open half"}
    for _ in range(2):
        assert site.post(at, {**over, "over_theirs": "yes"}).status_code == 303
        assert site.rows("SELECT mass_g FROM weighings WHERE mass_g BETWEEN 14.19 AND 14.26") == [(14.25,)]


def test_a_step_stored_again_unchanged_has_words_in_its_line(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    typed = {"weighings.mass_g": "14.20", "weighings.mass_basis": "open half"}
    for _ in range(2):
        answer = site.post(at, {**unseen(site.page(at)), **typed})
        assert answer.status_code == 303
        assert re.search(r"Stored: \w.* Take it back", words(site.page(answer.headers["location"])))
        assert "Stored: Take it back" not in words(site.page(answer.headers["location"]))


def test_gears_that_are_noted_as_new_bring_their_step(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    job = at.rpartition("/")[0]
    next_of(site, f"{job}/dry", builds__dry_mass_g="12.30")
    assert f"{job}/flash" not in site.page(job)
    part = {"key": new_id(), "build": "rear-a/3", "part": "small gear", "condition": "new"}
    site.send("/team/-/enter/record/build_part", part)
    assert f"{job}/flash" in site.page(job)


def test_what_was_done_at_the_bench_is_ticked_on_the_card_with_its_time(site: EnteredSite) -> None:
    at = begin(site, "new", diff="front-a")
    at = next_of(site, next_of(site, at, leave_out="cast without"))
    next_of(site, at, builds__dry_mass_g="12.30")
    ((build,),) = site.rows("SELECT build FROM bench_jobs")
    card = words(site.page(f"/team/-/card/{build}"))
    assert "1 Cut when gears are new left out: cast without" in card
    assert re.search(r"3 Weigh it dry \d\d:\d\d", card)
    assert not re.search(r"4 Turn it \d\d:\d\d", card)


def test_a_step_is_left_out_with_why(site: EnteredSite) -> None:
    at = begin(site, "new", diff="front-a")
    assert key_in(at) == "flash"
    at = next_of(site, at, leave_out="cast without")
    assert key_in(at) == "tray"
    assert steps(site) == [("flash", False, "cast without", None)]
    assert site.rows("SELECT asked FROM entries ORDER BY rowid DESC LIMIT 1") == [
        ("from the browser: front-a at the bench, Cut",)
    ]
    ((job,),) = site.rows("SELECT id FROM bench_jobs")
    assert "left out: cast without" in words(site.page(f"{BENCH}/{job}"))
    ((left_out_at,),) = site.rows("SELECT begun_at FROM bench_steps")
    next_of(site, f"{BENCH}/{job}/flash")
    ((begun_at, done_at),) = site.rows("SELECT begun_at, done_at FROM bench_steps WHERE left_out IS NULL")
    assert left_out_at < begun_at <= done_at, "what is done after all takes its own time"


def test_a_job_is_given_up_with_why(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    listed = at.rpartition("/")[0]
    refused = site.post(listed, {**unseen(site.page(listed)), "give_up": ""})
    assert refused.status_code == 400
    page = site.send(listed, {"key": new_id(), "give_up": "no gasket here"})
    assert "given up: no gasket here" in words(page), "done lately"
    late = site.post(at, {**unseen(site.page(at)), "weighings.mass_g": "14.2", "weighings.mass_basis": "open half"})
    assert late.status_code == 400
    assert "was given up" in words(late.text)
    assert site.rows("SELECT given_up FROM bench_jobs") == [("no gasket here",)]
    assert "Go on with" not in words(site.page(BENCH))


def test_a_job_that_was_given_up_is_not_ended_and_keeps_its_first_reason(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    listed = at.rpartition("/")[0]
    site.post(f"{listed}/turn", {**unseen(site.page(f"{listed}/turn")), "builds.hand_feel": "smooth"})
    site.send(listed, {"key": new_id(), "give_up": "wrong diff"})
    for typed in ({"end": "yes"}, {"give_up": "lost a screw"}, {"leave_out": "no scale"}):
        address = at.partition("?")[0] if "leave_out" in typed else listed
        late = site.post(address, {"key": new_id(), **typed})
        assert late.status_code == 400, typed
        assert re.search(r"was given up by ana at \d\d:\d\d: wrong diff", words(late.text)), typed
    assert "lost a screw" in words(site.post(listed, {"key": new_id(), "give_up": "lost a screw"}).text)
    assert site.rows("SELECT given_up, done_at FROM bench_jobs") == [("wrong diff", None)]


def test_a_job_that_is_done_is_neither_ended_again_nor_given_up(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    listed = at.rpartition("/")[0]
    site.post(f"{listed}/turn", {**unseen(site.page(f"{listed}/turn")), "builds.hand_feel": "smooth"})
    assert site.post(listed, {"key": new_id(), "end": "yes"}).status_code == 303
    ended = site.rows("SELECT done_at, given_up FROM bench_jobs")
    for typed in ({"end": "yes"}, {"give_up": "lost a screw"}):
        late = site.post(listed, {"key": new_id(), **typed})
        assert late.status_code == 400, typed
        assert "was ended by ana at " in words(late.text), typed
    assert "lost a screw" in words(late.text)
    assert site.rows("SELECT done_at, given_up FROM bench_jobs") == ended
    assert [done for done, _ in ended] != [None]


def test_half_a_build_that_was_given_up_is_apart_until_it_is_weighed(site: EnteredSite) -> None:
    job = begin(site, "rebuild").rpartition("/")[0]
    next_of(site, f"{job}/dry", builds__dry_mass_g="12.30")
    site.send(job, {"key": new_id(), "give_up": "no gasket here"})
    page = words(site.page(f"{BENCH}?diff=rear-a"))
    assert "apart: given up on the bench: no gasket here" in page
    weighing = {"key": new_id(), "build": "rear-a/3", "mass_g": "14.20", "mass_basis": "open half"}
    site.send("/team/-/enter/record/weighing", weighing)
    assert site.rows("SELECT word FROM diff_facts WHERE diff = (SELECT diff FROM bench_jobs)") != [("apart",)]


def test_what_cannot_be_stored_comes_back_with_what_was_typed(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    hostile = '<script>alert("x")</script>'
    answer = site.post(at, {**unseen(site.page(at)), "weighings.mass_g": hostile})
    assert answer.status_code == 400
    assert "&lt;script&gt;" in answer.text
    assert hostile not in answer.text
    odd = site.post(at, {**unseen(site.page(at)), "weighings.mass_g": "1420", "weighings.mass_basis": "open half"})
    assert "Is that right?" in words(odd.text)
    assert steps(site) == []


def test_a_clock_that_is_behind_stores_nothing(site: EnteredSite) -> None:
    at = begin(site, "rebuild")
    with closing(sqlite3.connect(site.team.path)) as connection, connection:
        connection.execute("UPDATE bench_jobs SET begun_at = '2999-01-01T00:00:00.000Z'")
    answer = site.post(at, {**unseen(site.page(at)), "weighings.mass_g": "14.2", "weighings.mass_basis": "open half"})
    assert answer.status_code == 400
    assert "Set the laptop's clock right" in words(answer.text)


SCREENS_OF = {
    "new": ("cut-flash", "rest-on-paper"),
    "rebuild": ("shims", "outdrives", "lid-on"),
    "oil change": ("note-what-is-found", "clean"),
    "top-up": ("weigh-open", "fill"),
}


@pytest.mark.parametrize("kind", SCREENS_OF)
def test_each_kind_of_work_has_its_steps_and_their_screens_open(
    tmp_path: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch, drawn: Team, kind: str
) -> None:
    """With the bundled procedure and all screens, on a diff that was never built where the kind is new."""
    monkeypatch.undo()
    with entered_site(copy_of(drawn, tmp_path), registry, tmp_path / "settings") as site:
        at = begin(site, kind, diff="front-a" if kind == "new" else "rear-a")
        job = at.rpartition("/")[0]
        listed = site.page(job)
        keys = re.findall(rf'href="{job}/([a-z-]+)"', listed)
        steps_of_kind = steps_for(bundled_procedure(), kind, gears_are_new=False)
        assert list(dict.fromkeys(keys)) == [step.key for step in steps_of_kind]
        assert set(SCREENS_OF[kind]) <= set(keys)
        titles = {step.key: step.heading for step in steps_of_kind}
        for key in SCREENS_OF[kind]:
            page = words(site.page(f"{job}/{key}"))
            assert titles[key] in page
            assert "Leave it out" in page
        assert site.get(f"{job}/no-such-step").status_code == 404
