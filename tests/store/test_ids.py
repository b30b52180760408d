"""Ids: time-ordered by hand, the same for the same content from notes."""

from __future__ import annotations

from uuid import UUID

from bevelbook.store.ids import content_id, id_within, new_id


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


def test_an_id_within_another_record_is_the_same_for_everybody_and_begins_like_its_owner() -> None:
    owner = new_id()
    rear = id_within(owner, "rear", 1)
    assert rear == id_within(owner, "rear", 1)
    assert UUID(rear).version == 8
    assert rear[:13] == owner[:13]
    assert len({rear, id_within(owner, "rear", 2), id_within(owner, "front", 1), id_within(new_id(), "rear", 1)}) == 4
    assert UUID(id_within("made by another program", "rear", 1)).version == 8
