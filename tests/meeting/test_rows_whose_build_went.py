"""Rows of notes whose build somebody removed or moved, on laptops that had them on different builds, in all ways of
meeting."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from itertools import permutations
from random import Random

import pytest
from histories_met import take_in
from laptops import Laptop
from meetings import EVERY_WAY, Way, dumped, meet_all_ways
from random_histories import NAMES, PEOPLE, Doing, Player, player
from steered import steered

from bevelbook.notes.importing import import_notes
from bevelbook.notes.settings import Settings
from bevelbook.records import BY_NAME
from bevelbook.saving.imported import AfterImport
from bevelbook.saving.joining import say_of_two
from bevelbook.saving.removal import remove_record
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.opening import transaction
from bevelbook.taking_back.take_back import plans_of, take_back

_WEIGHED = "date,diff,total_mass_g\n2026-04-03,rear-a,14.1\n"


class Team:
    """Three laptops and what is done on them, one act a minute."""

    def __init__(self, player: Player) -> None:
        self.player = player
        self.minute = 600
        for laptop in player.laptops:
            laptop.put(laptop.empty)

    def laptop(self, name: str) -> Laptop:
        return self.player.laptops[NAMES.index(name)]

    @contextmanager
    def on(self, name: str) -> Iterator[Doing]:
        self.minute += 1
        with self.player.at(self.laptop(name), self.minute, self.minute) as random:
            yield Doing(self.laptop(name), PEOPLE[NAMES.index(name)], self.player.registry, random)

    def record(self, on: str, kind: str, row_id: str | None = None, /, **texts: str) -> str:
        with self.on(on) as do, transaction(do.connection, do.path, asked=f"record {kind}", by=do.by):
            return do.record_within(kind, row_id, **texts)

    def build(self, on: str, diff: str) -> str:
        return self.record(on, "build", diff=diff, built_on="2026-04-01", dry_mass_g="12.4")

    def remove(self, on: str, kind: str, row_id: str) -> None:
        with self.on(on) as do, transaction(do.connection, do.path, asked=f"record {kind} --remove", by=do.by) as entry:
            entry.reason = "a slip"
            remove_record(do.connection, do.registry, BY_NAME[kind], row_id, do.by)

    def weigh(self, on: str) -> None:
        """Import the sheet of one weighing."""
        with self.on(on) as do:
            also = AfterImport(do.connection, do.registry, do.by).work_out
            settings = Settings(today="2026-06-01")
            import_notes(io.BytesIO(_WEIGHED.encode()), "a.csv", do.connection, do.path, settings, by=do.by, also=also)

    def join(self, on: str, one: str, other: str, *, is_same: bool) -> None:
        """Say of two diffs that they are one, or two."""
        with self.on(on) as do, transaction(do.connection, do.path, asked="join diff", by=do.by):
            say_of_two(do.connection, do.registry, BY_NAME["diff"], one, other, do.by, is_same=is_same)

    def take_back_last(self, on: str) -> None:
        """Take the last entry back."""
        with self.on(on) as do:
            chosen = [plan.entry for plan in plans_of(do.connection, EntryBook(do.connection).all[-1])]
            take_back(do.connection, do.path, chosen, do.registry, asked="take-back", by=do.by)

    def kept(self, on: str) -> list[str]:
        """The diffs that are kept of rows."""
        found = self.laptop(on).connection.execute("SELECT diff FROM note_diffs ORDER BY id")
        return [row[0] for row in found]

    def takes_in(self, on: str, other: str) -> None:
        with self.on(on):
            take_in(self.laptop(on), self.laptop(other).to_send(self.laptop(on).path.with_name(f"by-{other}.db")))

    def build_weighed(self, on: str) -> list[str]:
        found = self.laptop(on).connection.execute("SELECT build FROM weighings ORDER BY id")
        return [row[0] for row in found]

    def meet(self, ways: Sequence[Way] = EVERY_WAY) -> Laptop:
        """Meet in all ways and twice, as the rule says; gives the one that met last."""
        with steered(self.player.steering):
            meet_all_ways(
                self.player,
                ways,
                contents=(dumped,),
                thorough=False,
                folder=self.laptop("a").path.parent,
                random=Random(3),
            )
        return self.player.laptops[ways[-1].into]


@pytest.fixture(scope="module")
def laptops(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Player]:
    made = player(tmp_path_factory.mktemp("laptops"), take_in)
    yield made
    for laptop in made.laptops:
        laptop.close()


@pytest.mark.parametrize("is_first", [True, False])
@pytest.mark.parametrize("removed", ["both", "here", "there"])
def test_a_row_on_two_diffs_needs_the_same_build_whoever_takes_whom_in(
    laptops: Player, removed: str, is_first: bool
) -> None:
    """Two diffs were renamed on one laptop, so the same sheet lies on one diff here and on the other there; bo removed
    their builds."""
    team = Team(laptops)
    one, other = team.record("a", "diff", label="rear-a"), team.record("a", "diff", label="front-1")
    assert one < other
    builds = {"here": team.build("a", one), "there": team.build("a", other)}
    for name in "bc":
        team.takes_in(name, "a")
    for where, build in builds.items():
        if removed in (where, "both"):
            team.remove("b", "build", build)
    if is_first:
        team.weigh("a")
    team.record("c", "diff", one, label="old")
    team.record("c", "diff", other, label="rear-a")
    team.weigh("c")
    if not is_first:
        team.weigh("a")
    assert (team.build_weighed("a"), team.build_weighed("c")) == ([builds["here"]], [builds["there"]])
    last = team.meet()
    assert team.build_weighed(last.name) == [builds["here"]], "the diff with the lesser id"
    found = [row[0] for row in last.connection.execute("SELECT row_id FROM clashes WHERE why = 'needed'")]
    assert found == ([] if removed == "there" else [builds["here"]])


_ORDERS = list(permutations(("here", "there", "third")))


def half_of_the_ways(number: int) -> list[Way]:
    """Each laptop takes the other two in, apart and after they met, in one of their two orders: for an odd number in
    the one that an even number has not."""
    return [way for way in EVERY_WAY if (way.first > way.second) is (number % 2 == 1)]


@pytest.mark.parametrize("moved", ["here", "both"])
@pytest.mark.parametrize("order", _ORDERS, ids="-".join)
def test_a_row_on_two_diffs_lies_on_one_build_though_that_went_to_a_third_diff(
    laptops: Player, order: tuple[str, ...], moved: str
) -> None:
    """The sheet lies on one diff here and on another there; bo, who has not seen it, writes that the build is of a
    third diff. The row goes to the build that is, or once was, of the diff with the lesser id."""
    team = Team(laptops)
    named = {"here": "rear-a", "there": "front-1", "third": "front-2"}
    diffs = {name: team.record("a", "diff", label=named[name]) for name in order}
    assert [diffs[name] for name in order] == sorted(diffs.values())
    builds = {name: team.build("a", diffs[name]) for name in ("here", "there")}
    for name in "bc":
        team.takes_in(name, "a")
    for name, build in builds.items():
        if moved in (name, "both"):
            team.record("b", "build", build, diff=diffs["third"])
    team.weigh("a")
    team.record("c", "diff", diffs["here"], label="old")
    team.record("c", "diff", diffs["there"], label="rear-a")
    team.weigh("c")
    assert (team.build_weighed("a"), team.build_weighed("c")) == ([builds["here"]], [builds["there"]])
    last = team.meet(half_of_the_ways(_ORDERS.index(order) + (moved == "both")))
    of = next(name for name in order if name != "third")
    last_of_third = builds["there"]
    assert team.build_weighed(last.name) == [last_of_third if moved == "both" else builds[of]]
    assert team.kept(last.name) == ([diffs[of]] if moved in (of, "both") else [])


def test_the_version_of_a_row_that_is_shown_says_its_diff(laptops: Player) -> None:
    """cy, on whose laptop the row is of front-2, typed its build: what anna's laptop said was of the version before."""
    team = Team(laptops)
    rear, third, front = (team.record("a", "diff", label=label) for label in ("rear-a", "front-2", "front-1"))
    of_rear, of_front = team.build("a", rear), team.build("a", front)
    for name in "bc":
        team.takes_in(name, "a")
    team.record("c", "build", of_rear, diff=third)
    team.record("c", "diff", rear, label="old")
    team.record("c", "diff", third, label="rear-a")
    team.weigh("c")
    with team.on("c") as do:
        (weighing,) = do.connection.execute("SELECT id FROM weighings").fetchone()
    team.record("c", "weighing", weighing, build=of_front)
    team.weigh("a")
    last = team.meet()
    assert team.kept(last.name) == [third]


def test_a_row_goes_back_to_its_diff_as_soon_as_that_is_a_diff_of_its_own_again(laptops: Player) -> None:
    """Two diffs were said to be one, and the row went to the later build, which is of the other."""
    team = Team(laptops)
    rear, front = team.record("a", "diff", label="rear-a"), team.record("a", "diff", label="front-1")
    of_rear = team.build("a", rear)
    team.record("a", "build", diff=front, built_on="2026-04-02", dry_mass_g="12.4")
    team.weigh("a")
    assert team.build_weighed("a") == [of_rear]
    team.join("a", rear, front, is_same=True)
    assert team.build_weighed("a") != [of_rear]
    team.join("a", rear, front, is_same=False)
    assert team.build_weighed("a") == [of_rear]
    assert not team.kept("a")


def test_a_row_imported_while_its_diff_is_one_with_another_is_of_the_diff_that_it_names(laptops: Player) -> None:
    """The later build of the two is of the other diff; parted, the row goes to its own."""
    team = Team(laptops)
    for first, second in (("rear-a", "front-1"), ("front-1", "rear-a")):
        for laptop in laptops.laptops:
            laptop.put(laptop.empty)
        diffs = {name: team.record("a", "diff", label=name) for name in (first, second)}
        of_rear = team.build("a", diffs["rear-a"])
        team.record("a", "build", diff=diffs["front-1"], built_on="2026-04-02", dry_mass_g="12.4")
        team.join("a", diffs[first], diffs[second], is_same=True)
        team.weigh("a")
        assert team.build_weighed("a") != [of_rear]
        team.join("a", diffs[first], diffs[second], is_same=False)
        assert team.build_weighed("a") == [of_rear]


def test_a_row_that_is_imported_again_is_of_the_diff_that_has_the_name_now(laptops: Player) -> None:
    """The two names were the wrong way round: the import is taken back, the diffs get each other's name, and the same
    sheet is imported again, on a laptop whose rows the others had."""
    team = Team(laptops)
    one, other = team.record("a", "diff", label="rear-a"), team.record("a", "diff", label="front-1")
    team.build("a", one)
    of_other = team.build("a", other)
    for name in "bc":
        team.takes_in(name, "a")
    team.weigh("a")
    team.takes_in("b", "a")
    team.take_back_last("a")
    team.takes_in("b", "a")
    for diff, label in ((one, "old"), (other, "rear-a")):
        team.record("a", "diff", diff, label=label)
    team.weigh("a")
    assert team.build_weighed("a") == [of_other]
    last = team.meet()
    assert team.build_weighed(last.name) == [of_other]
    assert not team.kept(last.name)


def test_a_build_comes_back_to_the_diff_of_its_rows(laptops: Player) -> None:
    """bo wrote by a slip that the build is of another diff; put right after the meeting, it takes the row along."""
    team = Team(laptops)
    rear, third = team.record("a", "diff", label="rear-a"), team.record("a", "diff", label="front-2")
    build = team.build("a", rear)
    team.takes_in("b", "a")
    team.record("b", "build", build, diff=third)
    team.weigh("a")
    team.takes_in("b", "a")
    assert (team.build_weighed("b"), team.kept("b")) == ([build], [rear])
    team.record("b", "build", build, diff=rear)
    assert team.build_weighed("b") == [build]
    team.takes_in("a", "b")
    assert (team.build_weighed("a"), team.kept("a")) == ([build], [])
