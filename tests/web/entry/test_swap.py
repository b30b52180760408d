"""Diffs put into a car from a phone."""

from __future__ import annotations

from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

SWAP = "/team/-/enter/swap"
SITS = "SELECT c.position, d.label, c.instead FROM car_diffs c LEFT JOIN diffs d ON d.id = c.diff ORDER BY c.rowid"


def test_what_goes_where_is_one_entry_and_what_stays_is_not_written_again(paired_site: PairedSite) -> None:
    assert "No car is written down yet" in words(paired_site.page(SWAP))
    paired_site.send("/team/-/enter/record/car", {"key": new_id(), "name": "blue"})
    page = words(paired_site.page(SWAP))
    assert "Put a diff into blue" in page
    assert "At the rear: not known" in page
    form = {"key": new_id(), "car": "blue", "rear": "rear-a", "front": "spool"}
    page = words(paired_site.send(SWAP, form))
    assert "blue, rear: rear-a." in page
    assert "Holds from the first run of" in page
    assert paired_site.rows(SITS) == [("front", None, "spool"), ("rear", "rear-a", None)]
    page = words(paired_site.page(SWAP))
    assert "rear-a, as it is" in page
    paired_site.send(SWAP, {"key": new_id(), "car": "blue", "rear.typed": "rear-b", "front": "spool"})
    assert paired_site.rows(SITS)[2:] == [("rear", "rear-b", None)]
    entries = paired_site.rows("SELECT count(*) FROM entries WHERE asked = 'from the browser: what sits in a car'")
    assert entries == [(2,)]


def test_several_cars_are_asked_about_first_and_an_unknown_diff_is_said_at_its_place(paired_site: PairedSite) -> None:
    for name in ("blue", "red"):
        paired_site.send("/team/-/enter/record/car", {"key": new_id(), "name": name})
    page = paired_site.page(SWAP)
    assert "Into which car? blue red" in words(page)
    assert "/team/-/enter/swap?car=red" in page
    answer = paired_site.post(SWAP, {"key": new_id(), "car": "red", "rear.typed": "rear-x"})
    assert answer.status_code == 400
    assert 'href="#field-rear"' in answer.text
    assert 'There is no diff named "rear-x"' in words(answer.text)
    answer = paired_site.post(SWAP, {"key": new_id(), "car": "red"})
    assert answer.status_code == 400
    assert "Choose what goes where" in words(answer.text)
    assert paired_site.rows(SITS) == []
