"""The page of what is worth a look: what is due is open, what is about the past or was put by is folded."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from browser_team import site_over
from conftest import FIXED_NOW
from constructed import Team, adding

from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.before_next_time_out import MOST_LINES
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages import look


def test_what_is_due_comes_first_and_the_past_and_what_was_put_by_are_folded(db: Path) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana", lambda: FIXED_NOW))
        team = Team(add, "rear-d")
        old = team.build(oil_mass_g=1.86)
        team.weigh(old, (0, 22.35), (6, 22.05))
        team.open(old, "2026-01-02")
        team.weigh(team.build(oil_mass_g=1.86), (0, 22.35), (6, 22.23))
        other = Team(add, "rear-e")
        felt = other.build(oil_mass_g=1.86, hand_feel="gritty")
        other.weigh(felt, (0, 22.35), (6, 22.35))
        words = {"words": "turned gritty by hand", "reason": "it was the bench", "put_by_on": "2026-05-03"}
        add("put_by", code="turns_badly", subject_table="builds", subject_id=felt, **words)
    connection.close()
    with site_over(db, load(entry_points=())) as site:
        page = site.page(f"/{db.stem}/-/look")
    due, _, rest = page.partition("<details")
    assert "1 finding before the next time out: 1 caution" in due
    assert "lost 0.12 g of 1.86 g" in due
    assert "lost 0.30 g" not in due
    past, _, resting = rest.partition("1 put by")
    assert "About the past: 1 finding: 1 caution" in past
    assert "lost 0.30 g" in past
    assert "turned gritty by hand" not in past
    assert "turned gritty by hand" in resting
    assert "Put by 2026-05-03: it was the bench" in resting


def test_the_bundled_checks_answer_where_only_reading_is_allowed(db: Path, registry: Registry) -> None:
    """They close the connection to writing themselves, which the authorizer of a page forbids."""
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana", lambda: FIXED_NOW))
        team = Team(add, "rear-d")
        ring = add("seal", label="shaft ring")
        add("limit", kind="seal uses", value=1.0)
        for _ in range(2):
            add("seal_fitting", build=team.build(oil_mass_g=1.86), place="joint", seal=ring, condition="used")
    connection.close()
    with site_over(db, registry) as site:
        page = site.page(f"/{db.stem}/-/look")
    assert 'role="alert"' not in page
    assert "put new seals in" in page.casefold()


def test_where_the_checks_take_too_long_the_page_says_so_and_what_is_to_be_done(
    db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def endless(connection: sqlite3.Connection, registry: Registry) -> None:
        raise sqlite3.OperationalError("interrupted")

    monkeypatch.setattr(look, "check", endless)
    connection = open_for_writing(db)
    with transaction(connection, db):
        add = adding(Writer(connection, "ana", lambda: FIXED_NOW))
        for number in range(MOST_LINES + 3):
            Team(add, f"rear-{number:02}").build(viscosity_cst=7000.0)
    connection.close()
    with site_over(db, load(entry_points=())) as site:
        page = site.page(f"/{db.stem}/-/look")
    assert page.count("Weigh <a") == MOST_LINES
    assert "And 3 more." in page
    assert look.CHECKS_LEFT_OUT.partition("'")[0] in page
