"""Ids: time-ordered by hand, the same for the same content from notes."""

from __future__ import annotations

from uuid import UUID

from bevelbook.store.ids import content_id, new_id


def test_ids_by_hand_are_version_7_and_rise() -> None:
    first, second = UUID(new_id()), UUID(new_id())
    assert first.version == second.version == 7
    assert first < second


def test_ids_by_content_are_version_8_sort_by_day_and_count_occurrences() -> None:
    first = content_id("2024-02-14", "a")
    assert first == content_id("2024-02-14", "a")
    assert UUID(first).version == 8
    assert UUID(first).variant == "specified in RFC 4122"
    assert first < content_id("2024-02-15", "a")
    assert len({first, content_id("2024-02-14", "a", 1), content_id("2024-02-14", "b")}) == 3
