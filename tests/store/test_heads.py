"""What follows from the versions of a record, against a model that asks every version about every other one.

The rule is the project's own: a version that nobody followed is a head, of several living ones the latest is shown.
"""

from __future__ import annotations

from collections.abc import Collection
from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from bevelbook.records import BY_NAME
from bevelbook.store.heads import Version, comparable, heads_of, in_order, last_living, standing

PERSON = BY_NAME["person"]
BUILD = BY_NAME["build"]


@st.composite
def histories(draw: st.DrawFn) -> list[Version]:
    """Versions of which each follows some of those before it, as they come about."""
    made: list[Version] = []
    for place in range(draw(st.integers(1, 7))):
        names = [one.version for one in made]
        parents = draw(st.sets(st.sampled_from(names), max_size=3)) if names else set()
        name = draw(st.sampled_from(("anna", "bo", None)))
        at = f"2026-05-0{draw(st.integers(1, 3))}"
        version = f"{draw(st.sampled_from('abc'))}{place}"
        content = None if name is None else {"name": name, "updated_at": at}
        made.append(Version(version, frozenset(parents), content))
    return made


@given(histories(), st.randoms(use_true_random=False))
@settings(max_examples=120, deadline=None)
def test_what_follows_is_the_same_in_whatever_order_the_versions_are_met(made: list[Version], random: object) -> None:
    shuffled = list(made)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert standing(PERSON, shuffled) == standing(PERSON, made)
    assert in_order(shuffled) == in_order(made)
    stands = standing(PERSON, made)
    plain = [one for one in made if not any(one.version in other.parents for other in made)]
    assert {one.version for one in stands.heads} == {one.version for one in plain}
    living = [one for one in plain if one.content is not None]
    shown = sorted(living, key=lambda one: (one.content["updated_at"], one.version))[-1:] if living else []
    assert [one for one in (stands.shown,) if one] == shown
    said = {None if one.content is None else one.content["name"] for one in plain}
    assert (stands.why is not None) == (len(said) > 1)
    assert (stands.why == "removed") == (len(said) > 1 and None in said)


def descendants(versions: Collection[Version], version: str) -> set[str]:
    """The versions that followed one, directly or by way of others."""
    followers: dict[str, list[str]] = {}
    for one in versions:
        for parent in one.parents:
            followers.setdefault(parent, []).append(one.version)
    found: set[str] = set()
    waiting = [version]
    while waiting:
        for follower in followers.get(waiting.pop(), ()):
            if follower not in found and follower != version:
                found.add(follower)
                waiting.append(follower)
    return found


@given(histories())
@settings(max_examples=120, deadline=None)
def test_the_order_has_each_version_after_those_that_it_followed_and_is_kept_by_a_part(made: list[Version]) -> None:
    order = in_order(made)
    places = {one.version: place for place, one in enumerate(order)}
    assert sorted(places.values()) == list(range(len(made)))
    for one in made:
        assert all(places[parent] < places[one.version] for parent in one.parents)
    part = made[: len(made) // 2]
    assert in_order(part) == [one for one in order if one in part]
    for one in made:
        after = descendants(made, one.version)
        assert after == {other.version for other in made if one.version in _before(made, other)}


def _before(made: list[Version], one: Version) -> set[str]:
    by_id = {each.version: each for each in made}
    return set(one.parents) | {before for parent in one.parents for before in _before(made, by_id[parent])}


def test_a_removal_loses_to_what_lives_and_two_equal_heads_are_no_clash() -> None:
    first = Version("a", frozenset(), {"name": "bo", "updated_at": "1"})
    removed = Version("b", frozenset({"a"}), None)
    changed = Version("c", frozenset({"a"}), {"name": "Bo", "updated_at": "2"})
    alike = Version("d", frozenset({"a"}), {"name": "Bo", "updated_at": "3", "note": None})
    found = standing(PERSON, [first, removed, changed])
    assert (found.shown, found.why, found.differing) == (changed, "removed", ())
    found = standing(PERSON, [first, alike, changed])
    assert (found.shown, found.why) == (alike, None)
    assert standing(PERSON, [first, removed]).shown is None
    assert last_living([first, removed]) == first
    assert [one.version for one in heads_of([first, removed, alike])] == ["b", "d"]


def test_versions_that_follow_each_other_in_a_ring_are_shown_all_the_same() -> None:
    """Nothing that this program writes does; a file from outside may."""
    ring = [Version(name, frozenset({other}), {"updated_at": name}) for name, other in (("a", "b"), ("b", "a"))]
    for order in permutations(ring):
        assert [one.version for one in in_order(order)] == ["a", "b"]
        shown = standing(PERSON, list(order)).shown
        assert shown is not None and shown.version == "b"


def test_what_placing_and_counting_set_is_not_compared_but_what_a_person_typed_is() -> None:
    counted = {"label": "rear-a/3", "day_order": 2, "dry_mass_g": 46.3, "note_file": "f", "entered": None}
    other = counted | {"label": "rear-a/4", "day_order": 1, "note_line": 7, "updated_at": "2"}
    assert comparable(BUILD, counted) == comparable(BUILD, other) == {"dry_mass_g": 46.3}
    typed = counted | {"entered": '{"label":"rear-a/9"}', "label": "rear-a/9"}
    assert comparable(BUILD, typed) == {"label": "rear-a/9", "dry_mass_g": 46.3}
    by_hand = counted | {"note_file": None}
    assert comparable(BUILD, by_hand) == {"label": "rear-a/3", "day_order": 2, "dry_mass_g": 46.3}
