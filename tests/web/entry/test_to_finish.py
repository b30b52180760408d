"""The page of what waits for the evening."""

from __future__ import annotations

import html
import re
from datetime import date

from entered import EnteredSite

from bevelbook.reports.to_finish import OF_RUN
from bevelbook.store.ids import new_id

PAGE = "/team/-/enter/to-finish"


def shown(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def note_run(site: EnteredSite, **typed: str) -> str:
    """A run noted today; its id."""
    from contextlib import closing

    from bevelbook.records import BY_NAME
    from bevelbook.store.ids import now_utc
    from bevelbook.store.opening import open_for_writing, transaction
    from bevelbook.store.writing import Writer

    path = site.team.path
    with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="ana"):
        today = date.today().isoformat()
        values = {"label": f"{today}/1", "run_on": today, "venue": site.team.ids["hall"], **typed}
        return Writer(connection, "ana", now_utc).insert(BY_NAME["run"], values)


def test_a_run_waits_until_it_is_left_empty_for_good(paired_site: EnteredSite) -> None:
    assert "Nothing is left open." in shown(paired_site.page(PAGE))
    run = note_run(paired_site, call="keep", grip="low")
    assert "To finish: 1" in shown(paired_site.page("/"))
    page = paired_site.page(PAGE)
    assert "Tannery Hall empty: lap, what was changed, remark Leave it empty" in shown(page)
    assert f'href="/team/-/enter/run/{run}?back=to-finish#field-best_lap_s"' in page
    after = paired_site.send(PAGE, {"key": new_id(), "leave": f"runs/{run}"})
    assert "Stored: left 3 fields empty for good" in shown(after)
    assert "Nothing is left open." in shown(after)
    assert "Take it back" in shown(after)
    assert paired_site.rows("SELECT DISTINCT code, subject_id, reason FROM findings_put_by") == [
        ("left_empty", run, "left empty")
    ]


def test_the_form_has_the_field_that_the_link_leads_to(paired_site: EnteredSite) -> None:
    run = note_run(paired_site)
    page = paired_site.page(f"/team/-/enter/run/{run}")
    assert [field for field in OF_RUN if f'id="field-{field}"' not in page] == []


def test_taking_it_back_has_it_wait_again(paired_site: EnteredSite) -> None:
    run = note_run(paired_site)
    paired_site.send(PAGE, {"key": new_id(), "leave": f"runs/{run}"})
    (entry,) = paired_site.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")[0]
    assert paired_site.post("/team/-/enter/take-back", {"entry": entry}).status_code == 200
    assert "Leave it empty" in shown(paired_site.page(PAGE))


def test_what_is_not_asked_for_any_more_is_said(paired_site: EnteredSite) -> None:
    answer = paired_site.post(PAGE, {"key": new_id(), "leave": "runs/<i>nothing</i>"})
    assert answer.status_code == 400
    assert "Nothing of it is empty any more" in answer.text
    assert "<i>nothing" not in answer.text


def test_it_is_a_page_of_paired_phones_alone(paired_site: EnteredSite) -> None:
    assert paired_site.paired_with(None).get(PAGE).status_code == 403
