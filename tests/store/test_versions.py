"""Versions that an import makes: the same sheet gives the same ones in any database."""

from __future__ import annotations

from uuid import UUID

from bevelbook.records import BY_NAME
from bevelbook.store.versions import after, note_version

BUILD, WEIGHING = BY_NAME["build"], BY_NAME["weighing"]


def test_a_version_is_named_by_what_it_follows_and_what_it_is() -> None:
    first = note_version(BUILD, after("a"), {"diff": "d", "dry_mass_g": 9.5})
    assert UUID(first).version == 8
    assert first == note_version(BUILD, after("a"), {"dry_mass_g": 9.5, "diff": "d"})
    others = {
        note_version(BUILD, after("b"), {"diff": "d", "dry_mass_g": 9.5}),
        note_version(BUILD, after("a"), {"diff": "d", "dry_mass_g": 9.500000000000002}),
        note_version(BUILD, after("a"), {"diff": "d", "oil_mass_g": 9.5}),
        note_version(WEIGHING, after("a"), {"mass_g": 9.5}),
    }
    assert len(others | {first}) == 5


def test_empty_values_and_bookkeeping_are_no_content() -> None:
    lean = note_version(BUILD, after("a"), {"diff": "d"})
    assert lean == note_version(BUILD, after("a"), {"diff": "d", "note": None, "note_line": 7, "updated_by": "bo"})


def test_what_follows_from_other_rows_is_no_content() -> None:
    """A label that is counted, and which build a weighing belongs to."""
    assert note_version(BUILD, after("a"), {"diff": "d", "label": "rear-a/1"}) == note_version(
        BUILD, after("a"), {"diff": "d", "label": "rear-a/2"}
    )
    one, other = ({"mass_g": 18.3, "build": build} for build in ("b", "c"))
    assert note_version(WEIGHING, after("a"), one) == note_version(WEIGHING, after("a"), other)


def test_the_order_of_parents_does_not_matter() -> None:
    assert after("b", "a") == after("a", "b") == '["a","b"]'
