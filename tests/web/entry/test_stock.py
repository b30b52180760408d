"""The stock counted from a phone: parts, a kit and a bottle in one entry, and what stops it."""

from __future__ import annotations

import re
from contextlib import closing

from web.entry.conftest import PairedSite, words

from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

ENTER, PAGE = "/team/-/enter/stock", "/team/-/stock"


def test_all_that_was_counted_is_one_entry_and_is_shown(paired_site: PairedSite) -> None:
    """6 rings, then a kit with 4: 10. A bottle of 41.2 g, empty 11.2 g: 30.0 g."""
    assert "There is nothing to count yet" not in paired_site.page(ENTER), "the team has bottles"
    assert ">Stock</a>" not in paired_site.page("/team/-/home"), "nothing was counted: no word of it on the first page"
    assert "Nothing was counted yet" in paired_site.page(PAGE)
    ids = add(
        paired_site,
        stock_part={"label": "shaft rings", "part": "seal", "least": 12},
        bottle={
            "fluid": paired_site.rows("SELECT id FROM fluids ORDER BY label")[0][0],
            "lot": "Z",
            "empty_mass_g": 11.2,
        },
    )
    add(paired_site, kit_part={"kit": "rebuild kit", "stock_part": ids["stock_part"], "pieces": 4})
    form = paired_site.page(ENTER)
    assert 'data-step="1"' in form and "not counted yet, at least 12 wanted" in words(form)
    part, kit, mass = f"part.{ids['stock_part']}", "kit.rebuild kit", f"mass.{ids['bottle']}"
    assert re.search(rf'name="{mass}"[^>]*data-mass="g"', form), "a scale that speaks writes into it"

    (before,) = paired_site.rows("SELECT count(*) FROM entries")
    typed = {"key": new_id(), "what": "counted", part: "6", kit: "1", mass: "41,2"}
    for _ in range(2):
        answer = paired_site.post(ENTER, typed)
        assert (answer.status_code, answer.headers["location"]) == (303, ENTER)
    assert paired_site.rows("SELECT count(*) FROM entries") == [(before[0] + 1,)], "sent twice, stored once"
    assert paired_site.rows("SELECT what, pieces FROM stock_changes ORDER BY what") == [
        ("counted", 6),
        ("delivered", 4),
    ]

    shown = words(paired_site.page(PAGE))
    assert "shaft rings 10 left you want at least 12" in shown
    assert "Z 30.0 g left 41.2 g on the scale" in shown
    home = words(paired_site.page("/team/-/home"))
    assert "Stock : only 10 shaft rings left." in home
    row = words(paired_site.page(f"/team/bottles/{ids['bottle']}"))
    assert "30.0 g left: 41.2 g on the scale" in row and "put it on the scale" in row
    fluid = paired_site.rows("SELECT fluid FROM bottles WHERE lot = 'Z'")[0][0]
    assert "30.0 g left" in words(paired_site.page(f"/team/-/fluid/{fluid}"))
    what_stops_it_is_said_and_nothing_is_stored(paired_site)


def what_stops_it_is_said_and_nothing_is_stored(paired_site: PairedSite) -> None:
    count = "SELECT count(*) FROM stock_changes"
    before = paired_site.rows(count)
    part = f"part.{add(paired_site, stock_part={'label': 'pins', 'part': 'cross pin'})['stock_part']}"
    for typed, said in (
        ({}, "nothing was counted"),
        ({part: "some"}, "some"),
        ({part: "3", "kit.no such kit": "1"}, "there is no kit named"),
    ):
        answer = paired_site.post(ENTER, {"key": new_id(), "what": "counted", **typed})
        assert answer.status_code == 400 and said in words(answer.text).lower(), typed
    assert paired_site.rows(count) == before
    twice = {"what": "taken out", part: "1"}
    assert paired_site.post(ENTER, {"key": new_id(), **twice}).status_code == 303
    again = paired_site.post(ENTER, {"key": new_id(), **twice})
    assert again.status_code == 400 and "Store it once more: it happened twice" in again.text
    assert paired_site.post(ENTER, {"key": new_id(), "another": "yes", **twice}).status_code == 303
    assert paired_site.rows(count) == [(before[0][0] + 2,)]


def add(site: PairedSite, **records: dict[str, object]) -> dict[str, str]:
    """Records written as another program's entry would be, by kind; their ids."""
    with (
        closing(open_for_writing(site.team.path, while_served=True)) as connection,
        transaction(connection, site.team.path, asked="a test", by="ana"),
    ):
        writer = Writer(connection, "ana", now_utc)
        return {kind: writer.insert(BY_NAME[kind], values) for kind, values in records.items()}
