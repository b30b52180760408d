"""What a phone's script is answered when it hands over an entry: stored, known, asks or refused, always as JSON."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import make_team
from entered import EnteredSite, entered_site
from handing_over import AS_SCRIPT, ask_waiting, hand_over, typed_on
from web.entry.conftest import PairedSite, words

import bevelbook.store.opening as opening
from bevelbook.plugin.registry import Registry
from bevelbook.web.entry.pages import idea
from bevelbook.web.host.entry_gate import MOST_BYTES, NOT_STORED, STALE_FORM
from bevelbook.web.host.errors import UNEXPECTED

RUN = "/team/-/enter/run"
WEIGH = "/team/-/enter/weigh"
IDEA = "/team/-/enter/idea"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[EnteredSite]:
    folder = tmp_path_factory.mktemp("handed")
    with entered_site(make_team(folder / "team.db"), registry, folder / "settings") as made:
        yield made


def ideas(site: EnteredSite, text: str) -> int:
    return len(site.rows("SELECT id FROM ideas WHERE text = ?", text))


def test_an_entry_is_stored_and_then_known_in_words_with_the_page_that_follows(site: EnteredSite) -> None:
    kept = typed_on(site, RUN, {"rear": "rear-a", "rear_temp_c": "38"})
    answer = hand_over(site, RUN, kept)
    assert (answer["status"], answer["key"], answer["done"]) == (200, kept["key"], "stored")
    assert answer["words"].startswith("Stored: added run ")
    assert isinstance(answer["more"], list)
    page = words(site.page(answer["address"]))
    assert answer["words"] in page
    assert all(line in page for line in answer["more"])
    again = hand_over(site, RUN, kept)
    assert (again["key"], again["done"], again["address"]) == (kept["key"], "known", answer["address"])
    assert len(site.rows("SELECT id FROM run_diffs WHERE diff_temp_c = 38")) == 1


@pytest.mark.parametrize(
    ("path", "typed"),
    [(WEIGH, {"build": "rear-a", "mass_g": "22.30"}), (IDEA, {"text": "try it thicker"})],
    ids=["weigh", "idea"],
)
def test_the_other_forms_of_the_pits_answer_alike(site: EnteredSite, path: str, typed: dict[str, str]) -> None:
    kept = typed_on(site, path, typed)
    assert hand_over(site, path, kept)["done"] == "stored"
    assert hand_over(site, path, kept)["done"] == "known"


def test_what_a_person_has_to_say_is_asked_and_nothing_is_stored(site: EnteredSite) -> None:
    kept = typed_on(site, RUN, {"rear": "rear-a", "rear_temp_c": "142"})
    answer = hand_over(site, RUN, kept)
    assert (answer["status"], answer["key"], answer["done"]) == (409, kept["key"], "asks")
    assert "142" in answer["words"]
    assert answer["words"].endswith("Is that right?")
    assert ask_waiting(site, kept["key"])["known"] == []
    looked = site.post(RUN, kept)
    assert looked.status_code == 400
    assert answer["words"] in words(looked.text)
    unreadable = hand_over(site, RUN, typed_on(site, RUN, {"rear": "rear-a", "rear_temp_c": "warm"}))
    assert unreadable["done"] == "asks"
    assert unreadable["words"].startswith("Rear diff: ")


def test_a_form_of_any_page_that_writes_is_answered_as_json(site: EnteredSite) -> None:
    """Also where nothing waits: a page that leads on has stored, and one that is drawn asks."""
    changed = hand_over(site, "/team/-/enter/phone", {"person": "ana", "key": "k"})
    assert (changed["done"], changed["key"]) == ("stored", "k")
    assert changed["address"].endswith("/enter/phone")
    assert hand_over(site, "/team/-/enter/pair", {"code": "12345678", "key": "k"})["done"] == "asks"
    gone = hand_over(site, "/team/-/enter/no-such-page", {"key": "k"})
    assert (gone["done"], gone["code"], gone["status"]) == ("refused", "no_such_page", 404)
    assert hand_over(site, "/team/-/enter/record/nothing", {"key": "k"})["code"] == "no_such_page"


def test_what_the_gate_refuses_has_a_code_and_words(site: EnteredSite) -> None:
    kept = typed_on(site, IDEA, {"text": "refused at the gate"})
    other = site.paired_with(None)
    refused = {
        "not_paired": hand_over(other, IDEA, kept),
        "stale_token": hand_over(site, IDEA, {**kept, "csrftoken": "stale"}),
        "elsewhere": hand_over(site, IDEA, kept, headers={"origin": "http://elsewhere.test"}),
        "other_name": hand_over(site, IDEA, kept, headers={"host": "elsewhere.test"}),
        "no_form": hand_over(site, IDEA, kept, headers={"content-type": "text/plain"}),
        "too_long": hand_over(site, IDEA, {**kept, "text": "x" * MOST_BYTES}),
    }
    assert {name: answer["code"] for name, answer in refused.items()} == {name: name for name in refused}
    assert all(answer["done"] == "refused" and answer["key"] in (None, kept["key"]) for answer in refused.values())
    assert [answer["status"] for answer in refused.values()] == [403, 403, 403, 421, 415, 413]
    assert refused["not_paired"]["words"] == NOT_STORED
    assert refused["stale_token"]["words"] == STALE_FORM
    assert refused["stale_token"]["key"] == kept["key"]
    assert ideas(site, "refused at the gate") == 0
    assert hand_over(site, IDEA, {**kept, "csrftoken": ask_waiting(site)["token"]})["done"] == "stored"


def test_a_fault_of_the_program_is_told_and_nothing_is_stored(
    site: EnteredSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = typed_on(site, IDEA, {"text": "met a fault"})

    async def fail(*given: Any, **more: Any) -> None:
        raise RuntimeError("a fault")

    with monkeypatch.context() as patched:
        patched.setattr(idea, "answer_new", fail)
        answer = hand_over(site, IDEA, kept)
    assert (answer["status"], answer["code"], answer["key"]) == (500, "fault", kept["key"])
    assert answer["words"] == UNEXPECTED
    assert hand_over(site, IDEA, kept)["done"] == "stored"


def test_an_entry_without_an_id_that_can_be_one_gets_one_id(site: EnteredSite) -> None:
    answer = hand_over(site, IDEA, typed_on(site, IDEA, {"text": "without an id", "key": "none"}))
    assert site.rows("SELECT count(*) FROM entries WHERE id = ?", answer["key"]) == [(1,)]
    assert answer["address"].endswith(answer["key"])


def test_a_book_that_another_program_holds_is_busy_and_takes_the_entry_later(
    site: EnteredSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = typed_on(site, IDEA, {"text": "while it was busy"})
    monkeypatch.setattr(opening.open_for_writing, "__kwdefaults__", {
        **opening.open_for_writing.__kwdefaults__, "busy_seconds": 0.0
    })  # fmt: skip
    with closing(sqlite3.connect(site.team.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = hand_over(site, IDEA, kept)
        other.execute("ROLLBACK")
    assert (answer["status"], answer["done"], answer["code"]) == (503, "refused", "busy")
    assert "locked by another program" in answer["words"]
    assert hand_over(site, IDEA, kept)["done"] == "stored"


def test_what_waits_is_asked_for_with_a_fresh_token(site: EnteredSite) -> None:
    kept = typed_on(site, IDEA, {"text": "asked for"})
    nobody = "0b5f5e4e-0000-4000-8000-000000000000"
    before = ask_waiting(site, kept["key"], nobody)
    assert before["known"] == []
    assert before["book"] == site.entry.phones.book[:8]
    assert before["token"]
    assert hand_over(site, IDEA, kept)["done"] == "stored"
    assert ask_waiting(site, nobody, kept["key"])["known"] == [kept["key"]]
    too_many = site.get(f"/team/-/enter/waiting?keys={','.join([nobody] * 201)}", headers=AS_SCRIPT)
    assert too_many.json()["done"] == "refused"
    other = site.paired_with(None).get("/team/-/enter/waiting", headers=AS_SCRIPT)
    assert (other.status_code, other.json()["code"]) == (403, "not_paired")


def test_the_address_at_which_a_phone_asks_is_kept_with_its_pairing(site: EnteredSite) -> None:
    site.get("/", headers={"host": "bench.test:8002"})
    assert [phone.addresses[0].address for phone in site.entry.phones.all()] == ["http://bench.test:8002"]
    site.get("/", headers={"host": "elsewhere.test:8002"})
    assert [phone.addresses[0].address for phone in site.entry.phones.all()] == ["http://bench.test:8002"]
    site.get("/")
    assert [phone.addresses[0].address for phone in site.entry.phones.all()] == ["http://localhost"]


def test_without_a_script_the_page_says_where_waiting_entries_are(site: EnteredSite) -> None:
    page = site.get("/team/-/enter/waiting")
    assert page.headers["content-type"].startswith("text/html")
    assert "nothing waits on this phone" in words(page.text)


def test_an_entry_taken_back_is_still_known(paired_site: PairedSite) -> None:
    kept = typed_on(paired_site, IDEA, {"text": "soon taken back"})
    assert hand_over(paired_site, IDEA, kept)["done"] == "stored"
    answer = paired_site.post("/team/-/enter/take-back", {"entry": kept["key"]})
    assert answer.status_code == 200, "the phone has it as its last entry"
    assert ideas(paired_site, "soon taken back") == 0
    again = hand_over(paired_site, IDEA, kept)
    assert (again["done"], again["words"]) == ("known", "This was stored before, and was taken back since.")
    assert ask_waiting(paired_site, kept["key"])["known"] == [kept["key"]]
    assert ideas(paired_site, "soon taken back") == 0


def test_a_key_that_is_stored_with_other_texts_is_asked_about(paired_site: PairedSite) -> None:
    kept = typed_on(paired_site, IDEA, {"text": "the first text"})
    assert hand_over(paired_site, IDEA, kept)["done"] == "stored"
    answer = hand_over(paired_site, IDEA, {**kept, "text": "another text"})
    assert answer["done"] == "asks"
    assert "stored already" in answer["words"]


def test_another_book_in_the_place_of_this_one_is_refused_as_such(paired_site: PairedSite, tmp_path: Path) -> None:
    kept = typed_on(paired_site, IDEA, {"text": "for the right book"})
    other = make_team(tmp_path / "other.db").path
    other.replace(paired_site.team.path)
    answer = hand_over(paired_site, IDEA, kept)
    assert (answer["done"], answer["code"]) == ("refused", "other_book")
    assert "another database is in the place" in answer["words"]
