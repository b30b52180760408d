"""A run or a weighing of a diff that lies half built on the bench: which build it was is asked. Invented data."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime

import pytest
from conftest import Outcome
from web.entry.conftest import PairedSite, words
from web.entry.test_run import RUN, TODAY, noted, refused, unseen, with_car, written

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.check import check
from bevelbook.store.ids import now_utc
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

RUNS = (
    "SELECT x.position, b.label FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build "
    "WHERE r.run_on = ? ORDER BY x.position"
)
ASKED = "ear-b is on the bench since"


NOON = datetime.fromisoformat(f"{TODAY}T12:00:00").astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")


def half_built(site: PairedSite, begun_at: str = NOON) -> None:
    """rear-b was in the car, and since noon rear-b/3 is begun and not finished."""
    with_car(site)
    diff, before = site.team.ids["rear-b"], site.rows("SELECT id FROM builds WHERE label = 'rear-b/2'")[0][0]
    opening = written(site, "opening", build=before, opened_on=TODAY)
    work = {"diff": diff, "kind": "top-up"}
    connection = open_for_writing(site.team.path)
    try:
        with transaction(connection, site.team.path, asked="a test", by="bo"):
            writer = Writer(connection, "bo", now_utc)
            build = writer.insert(BY_NAME["build"], {**work, "label": "rear-b/3", "built_on": TODAY})
            job = {**work, "way": "step by step", "begun_at": begun_at, "ends": before}
            writer.insert(BY_NAME["bench_job"], {**job, "opening": opening, "build": build})
    finally:
        connection.close()


@pytest.mark.parametrize(("answer", "label"), [("1", "rear-b/2"), ("2", "rear-b/3")])
def test_a_run_of_a_diff_on_the_bench_asks_which_build_it_was(paired_site: PairedSite, answer: str, label: str) -> None:
    half_built(paired_site)
    page = paired_site.page(RUN)
    assert "on the bench" in words(page)
    form = {**unseen(page), "rear_temp_c": "53"}
    asked = words(refused(paired_site, form))
    assert ASKED in asked
    assert "The run was before it came on the bench, as rear-b/2" in asked
    assert "The run is of rear-b/3: the work is done, it was closed and ran" in asked
    assert "It was not this diff: name another" in asked
    assert paired_site.rows(RUNS, TODAY) == []
    assert paired_site.post(RUN, {**form, "answer.rear": answer}).status_code == 303
    assert paired_site.rows(RUNS, TODAY) == [("front", "front-a/1"), ("rear", label)]


def test_the_check_says_of_a_build_on_the_bench_that_it_is_not_closed_yet(
    paired_site: PairedSite, registry: Registry
) -> None:
    half_built(paired_site)
    with closing(open_for_reading(paired_site.team.path)) as connection:
        lines = [*check(connection, registry).lines()]
    (heading,) = (line for line in lines if line.startswith("rear-b: "))
    assert heading == "rear-b: rear-b/3, on the bench, not closed yet"


def test_a_run_before_the_work_began_is_of_the_build_before_without_a_question(paired_site: PairedSite) -> None:
    half_built(paired_site)
    noted(paired_site, {"rear_temp_c": "53", "started_at": "09:30"})
    assert paired_site.rows(RUNS, TODAY)[-1] == ("rear", "rear-b/2")


def test_a_weighing_of_a_diff_on_the_bench_asks_too(paired_site: PairedSite) -> None:
    half_built(paired_site)
    path = "/team/-/enter/weigh"
    form = {**unseen(paired_site.page(path)), "build": "rear-b", "mass_g": "22.30", "mass_basis": "closed"}
    assert ASKED in words(refused(paired_site, form, path))
    assert paired_site.post(path, {**form, "answer.build": "1"}).status_code == 303
    assert paired_site.rows("SELECT b.label FROM weighings w JOIN builds b ON b.id = w.build WHERE mass_g = 22.3") == [
        ("rear-b/2",)
    ]


def test_a_script_is_given_what_answers(paired_site: PairedSite, bevelbook: Callable[..., Outcome]) -> None:
    half_built(paired_site)
    run = ("--db", paired_site.team.path, "record", "run", "car=blue", "rear_temp=53")
    done = bevelbook(*run)
    assert done.code != 0
    assert ASKED in done.err and "rear=rear-b/2" in done.err and "rear=rear-b/3" in done.err
    done = bevelbook(*run, "rear=rear-b/3")
    assert done.code == 0, done.err


def test_a_finished_build_is_not_asked_about(paired_site: PairedSite) -> None:
    half_built(paired_site, now_utc())
    job = paired_site.rows("SELECT id FROM bench_jobs")[0][0]
    paired_site.send(f"/team/-/enter/bench/{job}", {"key": "a" * 16, "end": "yes"})
    noted(paired_site, {"rear_temp_c": "53"})
    assert paired_site.rows(RUNS, TODAY)[-1] == ("rear", "rear-b/3")
