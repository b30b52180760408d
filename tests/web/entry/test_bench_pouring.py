"""From the dry mass to the card through the pages of the bench: a reading asked back, a wait, a rest left open."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from html import unescape
from itertools import cycle
from pathlib import Path

import pytest
from browser_team import Team
from entered import EnteredSite, entered_site
from entry_team import make_entry_team
from web.entry.conftest import words

from bevelbook.card.procedure import bundled_procedure
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reference import caution_in_words
from bevelbook.store.ids import new_id
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.entry.found_screens import declared_screens

BENCH = "/team/-/enter/bench"


@pytest.fixture
def site(tmp_path: Path, registry: Registry) -> Iterator[EnteredSite]:
    team = Team(make_entry_team(tmp_path / "team.db"), {})
    with entered_site(team, registry, tmp_path / "settings") as site:
        yield site


def begin(site: EnteredSite, kind: str) -> str:
    """The address of a job on rear-b, begun."""
    answer = site.post(BENCH, {"key": new_id(), "diff": "rear-b", "kind": kind, "way": "step by step"})
    assert answer.status_code == 303, words(answer.text)
    return "/".join(str(answer.headers["location"]).partition("?")[0].split("/")[:6])


def send(site: EnteredSite, address: str, **typed: str) -> tuple[int, str, str]:
    """The status of a screen sent with what is typed, where it leads, and the page itself if nothing was stored."""
    page = site.page(address)
    form = page[page.index('class="entry-form"') :]
    unseen = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form[: form.index("</form>")])
    given = {name.replace("__", "."): text for name, text in typed.items()}
    answer = site.post(address, {**{name: unescape(text) for name, text in unseen}, **given})
    return answer.status_code, str(answer.headers.get("location", "")), answer.text


def test_a_fill_from_the_dry_mass_to_the_card(site: EnteredSite) -> None:
    job = begin(site, "oil change")
    assert send(site, f"{job}/weigh-closed-before", mass_g="22.30")[0] == 303
    assert send(site, f"{job}/open")[0] == 303
    assert send(site, f"{job}/weigh-dry", dry_mass_g="12.38")[0] == 303
    pour = f"{job}/fill"
    shown = words(site.page(pour))
    assert "Stop at 14.24 g" in shown
    assert "anything from 14.22 to 14.26 g is fine" in shown
    status, _, page = send(site, pour, reading="13.82")
    assert status == 400
    assert "0.42 g to go" in words(page)
    assert "Store 13.82 g as it is" in words(page)
    assert site.rows("SELECT filled_mass_g FROM builds WHERE label = 'rear-b/3'") == [(None,)]
    assert send(site, pour, reading="14,24")[1].partition("?")[0] == f"{job}/draw-bubbles"
    stored = (
        "SELECT filled_mass_g, round(oil_in_g, 6) FROM builds JOIN build_facts ON build = id WHERE label = 'rear-b/3'"
    )
    assert site.rows(stored) == [(14.24, 1.86)]

    bubbles = f"{job}/draw-bubbles"
    assert send(site, bubbles, how="stand: standing open", minutes="15")[1].partition("?")[0] == bubbles
    until = site.rows("SELECT until_at FROM bench_steps WHERE step = 'draw-bubbles'")[0][0]
    for _ in range(2):
        assert f'datetime="{until}"' in site.page(bubbles), "the same end for each reload and each device"
    assert send(site, bubbles, over="yes")[0] == 303
    assert site.rows("SELECT degassing FROM builds WHERE label = 'rear-b/3'") == [
        ("standing open, less than a minute",)
    ]
    assert send(site, f"{job}/weigh-again")[0] == 303
    send(site, pour, reading="14.23")
    assert site.rows("SELECT label, filled_mass_g FROM builds WHERE built_on = date('now', 'localtime')") == [
        ("rear-b/3", 14.23)
    ], "a step gone back to is corrected"
    assert words(site.page(f"{job}/screws")).count("Pass 1 of") == 1
    for step in ("screws", "lid-seal", "lid-on", "turn-by-hand", "wipe", "gasket", "clean", "dry", "seals"):
        send(site, f"{job}/{step}", leave_out="as ever")
    for step in ("look-where-wet", "note-what-is-found"):
        send(site, f"{job}/{step}", leave_out="as ever")
    assert send(site, f"{job}/weigh-closed-after", mass_g="22.31")[1].partition("?")[0] == f"{job}/rest-on-paper"
    assert site.rows("SELECT done_at IS NOT NULL FROM bench_jobs") == [(1,)], "the rest may stay open"
    status, leads_to, _ = send(site, f"{job}/rest-on-paper", side="lid up")
    build = site.rows("SELECT id FROM builds WHERE label = 'rear-b/3'")[0][0]
    assert (status, leads_to) == (303, f"/team/-/card/{build}")
    card = words(site.page(leads_to))
    assert "Take it back" in card
    assert "rear-b: turn it over at " in card
    assert "rear-b: turn it over at " in words(site.page("/"))
    assert send(site, f"{job}/rest-on-paper", side="lid down")[0] == 303
    assert "rear-b: look at the paper at " in words(site.page("/"))
    assert send(site, f"{job}/rest-on-paper", wet="joint", mass_g="22.30")[0] == 303
    assert site.rows("SELECT paper_wet_at FROM builds WHERE label = 'rear-b/3'") == [("joint",)]
    assert site.rows("SELECT mass_g FROM weighings ORDER BY created_at DESC, id LIMIT 1") == [(22.30,)]
    assert "look at the paper at" not in words(site.page("/"))
    assert "wet on paper at the joint" in words(site.page("/"))
    assert "Wet on paper at joint" in words(site.page(f"/team/-/card/{build}"))
    assert "joint" in words(site.page(f"/team/builds/{build}"))


def test_a_dash_in_any_field_is_as_good_as_nothing(site: EnteredSite) -> None:
    """One dash after the other, from field to field and from step to step: what reads them knows no field."""
    dashes = cycle(("-", "\u2014", "nan"))
    job = begin(site, "rebuild")
    assert send(site, f"{job}/weigh-dry", dry_mass_g="12.38")[0] == 303
    for dash in ("-", "\u2014", "nan"):
        assert send(site, f"{job}/fill", reading=dash)[0] == 400, dash
    for key in dict.fromkeys(re.findall(rf'{job}/([^"/?]+)"', site.page(job))):
        page = site.page(f"{job}/{key}")
        form = page[page.index('class="entry-form"') :].partition("</form>")[0]
        typed = re.findall(r'<input(?![^>]* type="(?:hidden|radio|checkbox)")[^>]* name="([^"]+)"', form)
        dashed = {name: next(dashes) for name in typed}
        assert send(site, f"{job}/{key}", **dashed)[0] in (303, 400), (key, dashed)
        assert site.get(f"{job}/{key}").status_code == 200, key
    shim = {"more.thickness_mm": "0,2", "more.place": "behind case-side gear", "more.pieces": next(dashes)}
    assert send(site, f"{job}/shims", **shim)[0] == 303
    assert site.get(f"{job}/shims").status_code == 200
    assert site.rows(
        "SELECT pieces FROM build_shims WHERE thickness_mm = 0.2 AND version = (SELECT id FROM entries "
        "ORDER BY made_at DESC, id DESC LIMIT 1)"
    ) == [(1,)]
    assert site.rows("SELECT dry_mass_g, filled_mass_g FROM builds WHERE label = 'rear-b/3'") == [(12.38, None)]


def test_a_top_up_stops_at_the_last_fill(site: EnteredSite) -> None:
    """rear-b/2 was 14.24 g full, and lost 0.10 g."""
    job = begin(site, "top-up")
    assert send(site, f"{job}/weigh-closed-before", mass_g="22.21")[0] == 303
    assert send(site, f"{job}/open")[0] == 303
    assert send(site, f"{job}/weigh-open", weighings__mass_g="14,14", weighings__mass_basis="open half")[0] == 303
    shown = words(site.page(f"{job}/fill"))
    assert "Stop at 14.24 g" in shown
    assert "on the scale: open half; full, rear-b/2 was 14.24 g; open 14.14 g" in shown
    status, _, page = send(site, f"{job}/fill", reading="14.14")
    assert (status, "0.10 g to go" in words(page)) == (400, True)
    assert send(site, f"{job}/fill", reading="14.24")[1].partition("?")[0] == f"{job}/weigh-again"
    stored = "SELECT f.label, filled_mass_g FROM builds b JOIN fluids f ON f.id = b.fluid WHERE b.label = 'rear-b/3'"
    assert site.rows(stored) == [("house 7k", 14.24)]
    assert "Stop at 14.24 g" in words(site.page(f"{job}/weigh-again"))


def test_a_top_up_of_an_unknown_fill_stops_at_the_open_mass_and_the_oil_added(site: EnteredSite) -> None:
    """13.83 g open, and 0.10 g added."""
    with closing(open_for_writing(site.team.path)) as connection, transaction(connection, site.team.path, by="ana"):
        row = connection.execute("SELECT id FROM builds WHERE label = 'rear-b/2'").fetchone()[0]
        values = {"filled_mass_g": None, "oil_mass_g": None}
        Writer(connection, "ana").update(BY_NAME["build"], row, values)
    job = begin(site, "top-up")
    pour = f"{job}/fill"
    assert "Weigh it open first" in words(site.page(pour))
    assert send(site, f"{job}/weigh-open", weighings__mass_g="13.83", weighings__mass_basis="open half")[0] == 303
    assert "Type how much oil you add" in words(site.page(pour))
    assert send(site, pour, target_oil_mass_g="0,10", set="yes")[1].partition("?")[0] == pour
    assert "Stop at 13.93 g" in words(site.page(pour))


SENT: dict[str, tuple[dict[str, str], dict[str, str]]] = {
    "weigh-closed-before": ({"mass_g": "22.30"}, {"mass_g": "22.34"}),
    "look-where-wet": ({"all": "dry"}, {"leak_place": "joint", "leak_amount": "damp"}),
    "open": ({"reason": "leak", "screws": "ok"}, {"reason": "routine", "screws": "ok"}),
    "note-what-is-found": ({"all": "clear"}, {"all": "grey"}),
    "lay-out-and-count": ({"all": "used"}, {"all": "new"}),
    "seals": ({"all": "new"}, {"all": "same"}),
    "shims": (
        {"more.thickness_mm": "0.2", "more.place": "behind case-side gear"},
        {"more.thickness_mm": "0.3", "more.place": "behind case-side gear"},
    ),
    "weigh-dry": ({"dry_mass_g": "12.38"}, {"dry_mass_g": "12.40"}),
    "fill": ({"reading": "14.24"}, {"reading": "14.25"}),
    "weigh-again": ({"reading": "14.24"}, {"reading": "14.23"}),
    "screws": ({"screw_torque_nm": "0.2"}, {"screw_count": "6"}),
    "turn-by-hand": ({"builds.hand_feel": "smooth"}, {"builds.hand_feel": "gritty"}),
    "weigh-closed-after": ({"mass_g": "22.31"}, {"mass_g": "22.32"}),
    "rest-on-paper": ({"side": "lid up"}, {"dry": "yes"}),
}
"""What two phones send from each screen: the first twice over, then something else."""
ADDS = frozenset({"shims"})
"""Screens that add another piece each time, and so ask about an equal one too."""


def test_two_phones_with_equal_values_are_not_asked_and_with_others_they_are(site: EnteredSite) -> None:
    job = begin(site, "rebuild")
    for key, (first, other) in SENT.items():
        page = site.page(f"{job}/{key}")
        form = page[page.index('class="entry-form"') :].partition("</form>")[0]
        unseen = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))
        for number, typed in enumerate((first, first, other, {"leave_out": "not needed"})):
            answer = site.post(f"{job}/{key}", {**unseen, "key": new_id(), **typed})
            is_stored = number == 0 or (number == 1 and key not in ADDS)
            assert answer.status_code == (303 if is_stored else 400), (key, typed, words(answer.text)[:600])
            if number > 1:
                assert "changed meanwhile by ana" in words(answer.text), (key, typed)
        left_out = answer.text[answer.text.index("Leave it out</summary>") :]
        hidden = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', left_out))
        assert 'value="not needed"' in left_out
        assert site.post(f"{job}/{key}", {**hidden, "leave_out": "after all"}).status_code == 303, key


def test_what_another_page_changes_in_the_oil_or_the_screws_is_noticed(site: EnteredSite) -> None:
    job = begin(site, "rebuild")
    assert send(site, f"{job}/weigh-dry", dry_mass_g="12.38")[0] == 303
    assert send(site, f"{job}/fill", reading="14.24")[0] == 303
    assert send(site, f"{job}/screws", screw_torque_nm="0.2")[0] == 303
    drawn = {key: site.page(f"{job}/{key}") for key in ("fill", "screws")}
    with closing(sqlite3.connect(site.team.path)) as connection, connection:
        connection.execute("UPDATE builds SET target_oil_mass_g = 1.9 WHERE id = (SELECT build FROM bench_jobs)")
        connection.execute("UPDATE diffs SET screw_count = 6 WHERE id = (SELECT diff FROM bench_jobs)")
    for key, typed in (("fill", {"reading": "14.23"}), ("screws", {"screw_count": "5"})):
        unseen = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', drawn[key]))
        late = site.post(f"{job}/{key}", {**unseen, "key": new_id(), **typed})
        assert late.status_code == 400, key
        assert "changed meanwhile" in words(late.text), key


@pytest.mark.parametrize("what", ["shown", "said"])
def test_a_fault_in_one_screen_leaves_the_list_and_the_other_steps(
    site: EnteredSite, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    def fails(*given: object) -> None:
        raise ZeroDivisionError

    job = begin(site, "rebuild")
    screens = declared_screens()
    for step in bundled_procedure().steps:
        if step.screen:
            broken = {**screens, step.screen: screens[step.screen]._replace(**{what: fails})}
            monkeypatch.setattr("bevelbook.web.entry.bench_order.declared_screens", broken.copy)
            assert site.get(job).status_code == 200, step.key
            assert site.get(f"{job}/turn-by-hand").status_code == 200, step.key


def test_before_there_is_a_build_the_screens_say_so(site: EnteredSite) -> None:
    job = begin(site, "oil change")
    assert "The order is not known: the build is not begun yet." in words(site.page(f"{job}/screws"))
    assert "How long it takes is not known: the build is not begun yet." in words(site.page(f"{job}/draw-bubbles"))
    assert "it was not weighed dry" in words(site.page(f"{job}/fill"))


def test_hostile_words_are_shown_as_text(site: EnteredSite) -> None:
    pour = f"{begin(site, 'top-up')}/fill"
    status, _, page = send(site, pour, reading='"><script>alert(1)</script>', fluid="<b>x</b>")
    assert status == 400
    assert "<script>alert(1)" not in page
    assert "<b>x</b>" not in page


def test_what_a_step_stored_is_said_by_its_title(site: EnteredSite) -> None:
    job = begin(site, "rebuild")
    assert send(site, f"{job}/weigh-dry", dry_mass_g="12.38", mass_basis="open half")[0] == 303
    assert "Stored: Weigh it dry: added build rear-b/3" in words(site.page(job))
    assert send(site, f"{job}/screws")[0] == 303
    assert "Stored: Screws: done Take it back" in words(site.page(job))
    assert send(site, f"{job}/wipe", leave_out="not needed")[0] == 303
    assert "Stored: Wipe it: left out, not needed" in words(site.page(job))


def test_what_is_kept_until_the_lid_is_off_is_said_in_words(site: EnteredSite) -> None:
    job = begin(site, "rebuild")
    assert send(site, f"{job}/look-where-wet", leak_place="joint", leak_amount="drops")[0] == 303
    page = words(site.page(job))
    assert "Stored: Where it was wet: joint; how wet: drops Take it back" in page
    assert "leak_" not in page


@pytest.mark.parametrize(
    ("step", "ways"),
    [
        ("seals", "Touch 'All as new ones: back in, oiled', or a word for each"),
        ("lay-out-and-count", "Touch 'All used again as they were', or a word for each part"),
        ("look-where-wet", "Touch 'Dry all round', or the wet place"),
        ("note-what-is-found", "Touch 'All sound, oil clear' or 'All sound, oil grey', or a word for each part"),
    ],
)
def test_a_sentence_quotes_the_names_of_the_buttons_on_its_page(site: EnteredSite, step: str, ways: str) -> None:
    address = f"{begin(site, 'rebuild')}/{step}"
    status, _, page = send(site, address)
    assert status == 400
    assert ways in words(page)
    assert all(re.search(f"<button[^>]*>{button}</button>", unescape(page)) for button in re.findall("'(.+?)'", ways))


def test_cautions_of_an_earlier_step_are_behind_one_line(site: EnteredSite) -> None:
    """Oil in the eye is a caution of looking inside and of pouring."""
    job = begin(site, "rebuild")
    assert "Cautions as before" not in words(site.page(f"{job}/fill"))
    assert send(site, f"{job}/note-what-is-found", all="clear")[0] == 303
    page = site.page(f"{job}/fill")
    caution = words(caution_in_words("oil-in-eye"))
    assert caution in words(page)
    assert caution not in words(page.partition("Cautions as before")[0])
    assert "Go on when: the reading is in the window" in words(page)


def test_a_job_is_at_its_bubbles_while_they_rise(site: EnteredSite) -> None:
    job = begin(site, "oil change")
    for step in ("weigh-closed-before", "look-where-wet", "note-what-is-found", "clean", "dry", "seals", "gasket"):
        send(site, f"{job}/{step}", leave_out="as ever")
    send(site, f"{job}/open")
    send(site, f"{job}/weigh-dry", dry_mass_g="12.38")
    at = "SELECT at_step FROM bench_jobs"
    send(site, f"{job}/fill", target_oil_mass_g="1.80", set="yes")
    assert site.rows(at) == [("Fill to the stop mass",)], "nothing is poured yet"
    send(site, f"{job}/fill", reading="14.18")
    send(site, f"{job}/draw-bubbles", how="stand: standing open", minutes="15")
    assert site.rows(at) == [("Draw the bubbles",)]
    send(site, f"{job}/draw-bubbles", over="yes")
    assert site.rows(at) == [("Weigh again",)]


def test_the_same_again_lays_the_diff_on_paper_when_all_is_done(site: EnteredSite) -> None:
    form = {"key": new_id(), "diff": "rear-b", "kind": "oil change", "way": "same again"}
    answer = site.post(BENCH, {**form, "like": "rear-b/2"})
    job = "/".join(str(answer.headers["location"]).partition("?")[0].split("/")[:6])
    for step, typed in (
        ("open", {}),
        ("as_usual", {}),
        ("weigh-dry", {"dry_mass_g": "12.38"}),
        ("fill", {"reading": "14.24"}),
    ):
        assert send(site, f"{job}/{step}", **typed)[0] == 303, step
    assert site.post(job, {"key": new_id(), "end": "yes"}).status_code == 303
    assert site.rows("SELECT note, done_at, until_at IS NOT NULL FROM bench_steps WHERE step = 'rest-on-paper'") == [
        ("lid up", None, 1)
    ]
    assert "rear-b: turn it over at " in words(site.page("/"))


def test_a_diff_that_can_only_be_new_has_nothing_to_choose(site: EnteredSite) -> None:
    with closing(open_for_writing(site.team.path)) as connection, transaction(connection, site.team.path, by="ana"):
        Writer(connection, "ana").insert(BY_NAME["diff"], {"label": "front-z"})
    page = site.page(f"{BENCH}?diff=front-z")
    assert '<input type="hidden" name="kind" value="new">' in page
    assert 'type="radio" name="kind"' not in page


@pytest.mark.parametrize("basis", [{}, {"mass_basis": "open half"}])
def test_a_closed_mass_unlike_the_one_before_is_said_at_the_bench(site: EnteredSite, basis: dict[str, str]) -> None:
    """22.31 - 14.24 = 8.07 and 23.31 - 14.24 = 9.07 by hand: 1.00 g, far more than other screws and any scale."""
    job = begin(site, "oil change")
    send(site, f"{job}/weigh-dry", dry_mass_g="12.38", **basis)
    assert send(site, f"{job}/fill", reading="14.24", target_oil_mass_g="1.86")[0] == 303
    weigh = f"{job}/weigh-closed-after"
    said = "is 9.07 g, and for rear-b/2 it was 8.07 g (22.31 g less 14.24 g): 1.00 g more for the same lid and screws"
    assert said in words(site.page(send(site, weigh, mass_g="23.31")[1]))
    assert said not in words(site.page(send(site, weigh, mass_g="22.31")[1]))


def test_the_page_of_what_any_entry_stored_opens_also_where_the_bench_wrote_as_it_went(site: EnteredSite) -> None:
    job = begin(site, "oil change")
    send(site, f"{job}/weigh-closed-before", mass_g="22.30")
    send(site, f"{job}/open", leave_out="as ever")
    entries = site.rows("SELECT id FROM entries ORDER BY id")
    pages = [site.page(f"/team/-/enter/stored/{entry}") for (entry,) in entries]
    steps = [page for page in pages if "look-where-wet" in page or "bench" in words(page).lower()]
    assert len(entries) > 3
    assert steps
    for page in pages:
        for address in set(re.findall(r'href="(/team/-/enter/[^"#]+)"', page)):
            site.page(unescape(address))
