"""A build is said to be made like another one: one that was there before it. All figures are constructed."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
LIKE = "SELECT b.label, l.label FROM builds b LEFT JOIN builds l ON l.id = b.like ORDER BY b.label"
BOOK = Path("bevelbook.db")


@pytest.fixture
def garage(bevelbook: Run, begin: Begin) -> Run:
    begin(
        bevelbook,
        BOOK,
        ("new",),
        ("record", "diff", "label=rear-a"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.42", "oil_mass=1.86"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-10", "dry_mass=12.41", "like=rear-a/1"),
    )
    return bevelbook


def likes(db: Path = BOOK) -> list[tuple[str, str | None]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(LIKE).fetchall()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            ("rear-a/1", "like=rear-a/2"),
            "like: rear-a/1 is said to be like rear-a/2, which was built later, on 2026-05-10, and is like rear-a/1 "
            "itself. Name the build before it that it was made like, or leave that empty. Nothing was changed.",
        ),
        (("rear-a/2", "like=rear-a/2"), "like: rear-a/2 is said to be like itself."),
        (
            ("diff=rear-a", "built_on=2026-05-04", "like=rear-a/2"),
            "like: rear-a/3 is said to be like rear-a/2, which was built later, on 2026-05-10.",
        ),
        (
            ("rear-a/2", "built_on=2026-05-01"),
            "built_on: rear-a/2 is said to be like rear-a/1, which was built later, on 2026-05-03. "
            "Correct the day, or first what it is said to be like.",
        ),
    ],
)
def test_no_build_is_like_itself_or_a_later_one(garage: Run, typed: tuple[str, ...], said: str) -> None:
    done = garage("record", "build", *typed)
    assert done.code == 2
    assert said in " ".join(done.err.split())
    assert likes() == [("rear-a/1", None), ("rear-a/2", "rear-a/1")]


def test_a_circle_that_is_in_the_book_is_named_and_mended(garage: Run) -> None:
    with closing(sqlite3.connect(BOOK)) as other, other:
        other.execute("UPDATE builds SET like = (SELECT id FROM builds WHERE label = 'rear-a/2') WHERE like IS NULL")
    checked = " ".join(garage("check").out.split())
    assert "rear-a like not earlier: rear-a/1 is said to be like rear-a/2, which was built later" in checked
    assert "'bevelbook record build rear-a/1 like='" in checked
    for command in (("card", "rear-a/1"), ("compare", "rear-a/1", "rear-a/2"), ("export", "out")):
        assert garage(*command).code == 0, command
    assert garage("record", "build", "rear-a/1", "note=still to be corrected").code == 0
    assert garage("record", "build", "rear-a/1", "like=").code == 0
    assert "like not earlier" not in garage("check").out


def test_two_laptops_that_each_said_one_half_meet_and_check_names_it(garage: Run) -> None:
    """A day that was corrected on one laptop, and what the build is like on the other: each is right alone."""
    garage("new", "--from", "bevelbook.db", "--db", "bo.db")
    garage("--by", "bo", "--db", "bo.db", "record", "build", "diff=rear-a", "built_on=2026-05-12", "like=rear-a/2")
    garage("--by", "ana", "record", "build", "rear-a/2", "like=")
    garage("--by", "ana", "record", "build", "rear-a/2", "built_on=2026-05-17")
    garage("merge", "bo.db")
    checked = " ".join(garage("check").out.split())
    assert "rear-a/3 is said to be like rear-a/2, which was built later, on 2026-05-17." in checked
