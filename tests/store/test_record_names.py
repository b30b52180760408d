"""The names that people read for records."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

import pytest
from browser_team import Team, make_team
from constructed import Add

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.ids import is_content_id
from bevelbook.store.lookup import find_id, label_of
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.piece_ids import new_piece_id, piece_id
from bevelbook.store.record_names import is_named_by_label, name_of, title_of
from bevelbook.store.writing import Writer


@pytest.fixture(scope="module")
def shown_team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("record_names") / "team.db")


@pytest.fixture
def shown(shown_team: Team) -> Iterator[sqlite3.Connection]:
    opened = open_for_reading(shown_team.path)
    yield opened
    opened.close()


def test_every_kind_of_row_has_a_name_for_people(shown: sqlite3.Connection) -> None:
    for kind in KINDS:
        row = shown.execute(f"SELECT id FROM {kind.table} LIMIT 1").fetchone()
        if row is not None:
            name = name_of(shown, kind, row["id"])
            assert name
            assert row["id"] not in name, kind.name
        assert name_of(shown, kind, "nobody") is None


def test_a_bottle_is_called_by_its_fluid_and_lot(shown: sqlite3.Connection, shown_team: Team) -> None:
    assert name_of(shown, BY_NAME["bottle"], shown_team.ids["own"]) == "7,000, second"
    assert name_of(shown, BY_NAME["bottle"], shown_team.ids["plain"]) == "10,000"


@pytest.fixture
def rear(add: Add) -> dict[str, str]:
    """A diff with two builds and what belongs to them; constructed."""
    ids = {"diff": add("diff", label="rear-a"), "oil": add("fluid", label="house 7k")}
    for number, day in ((1, "2026-05-03"), (2, "2026-05-10")):
        ids[f"build {number}"] = add("build", label=f"rear-a/{number}", diff=ids["diff"], built_on=day)
    first, second = ids["build 1"], ids["build 2"]
    ids["opening"] = add("opening", build=first, opened_on="2026-05-09")
    ids["late"] = add("weighing", build=first, mass_g=14.2, weighed_on="2026-05-08", runs=6)
    ids["early"] = add("weighing", build=first, mass_g=14.3, weighed_on="2026-05-04", runs=2)
    ids["joint"] = add("seal_fitting", build=second, place="joint")
    begun = "2026-05-10T12:10:00.000Z"
    ids["job"] = add("bench_job", diff=ids["diff"], kind="rebuild", way="step by step", begun_at=begun)
    ids["step"] = add("bench_step", job=ids["job"], step="weigh-dry", title="Weigh it dry", begun_at=begun)
    ids["outdrive"] = add("build_part", build=second, part="outdrive", place="lid side")
    ids["other outdrive"] = add("build_part", build=second, part="outdrive", place="case side")
    ids["blended"] = add("blend_part", build=second, fluid=ids["oil"], viscosity_cst=7000, mass_g=1)
    ids["run"] = add("run", label="2026-05-04/2", run_on="2026-05-04")
    ids["in run"] = add("run_diff", run=ids["run"], build=first, position="rear")
    ids["car"] = add("car", name="blue")
    ids["in car"] = add("car_diff", car=ids["car"], position="rear", diff=ids["diff"], from_on="2026-05-03")
    ids["motor"] = add("car_value", car=ids["car"], what="motor", value="long wind", from_on="2026-05-03")
    ids["scale"] = add("scale", name="pocket", step_g=0.01)
    ids["reading"] = add(
        "scale_reading", scale=ids["scale"], thing="closed rear-b", read_on="2026-05-03", place=4, mass_g=22.35
    )
    ids["limit"] = add("limit", kind="seal uses", value=3, diff=ids["diff"])
    ids["limit for all"] = add("limit", kind="seal uses", value=4)
    ids["bottle"] = add("bottle", fluid=ids["oil"], lot="second")
    other = add("bottle", fluid=add("fluid", label="house 5k"))
    ids["comparison"] = add("fluid_comparison", thicker=ids["bottle"], thinner=other)
    sizes = {"width_px": 2000, "height_px": 1500, "thumbnail_width_px": 320, "thumbnail_height_px": 240}
    ids["picture"] = add("picture", came_sha256="a" * 64, **sizes, byte_count=9, kept_at="2026-05-10T12:10:00.000Z")
    of_photo = {"piece": "outdrive", "taken_on": "2026-05-10", "picture": ids["picture"]}
    ids["photo"] = add("photo", build_part=ids["outdrive"], side="lid side", **of_photo)
    ids["photo of opening"] = add("photo", opening=ids["opening"], **of_photo)
    label = {"bottle": ids["bottle"], "piece": "label", "taken_on": "2026-05-10", "picture": ids["picture"]}
    ids["photo of bottle"] = add("photo", **label)
    ids["another of bottle"] = add("photo", **label)
    ids["other diff"] = add("diff", label="rear-A2")
    ids["join"] = add("join", kind="diff", one=ids["diff"], other=ids["other diff"])
    ids["event"] = add("event", name="spring race")
    ids["at event"] = add("event_car", event=ids["event"], car=ids["car"])
    ids["stocked"] = add("stock_part", label="shaft ring", part="seal")
    ids["counted"] = add("stock_change", stock_part=ids["stocked"], what="counted", pieces=6, changed_on="2026-05-03")
    ids["in kit"] = add("kit_part", kit="rebuild kit", stock_part=ids["stocked"])
    ids["checked"] = add("bottle_check", bottle=ids["bottle"], checked_on="2026-05-03", mass_g=41.2)
    ids["plan"] = add("plan", event=ids["event"], made_at="2026-05-03T18:20:00.000Z", said="{}")
    ids["plan line"] = add("plan_line", plan=ids["plan"], place=1, diff=ids["diff"], act="rebuild")
    ids["put by"] = add(
        "put_by", code="oil_lost", subject_table="builds", subject_id=second, words="0.1 g", reason="known"
    )
    return ids


NAMES = (
    ("opening", "opening", "opening of rear-a/1", ("rear-a/1", "Opening of REAR-A/1")),
    ("weighing", "late", "rear-a/1#1", ("weighing rear-a/1#1", "rear-a/1 #1")),
    ("weighing", "early", "rear-a/1#2", ("rear-a/1 #2",)),
    ("seal_fitting", "joint", "rear-a/2 joint", ("rear-a joint", "rear-a", "seal fitting rear-a/2 joint")),
    ("build_part", "outdrive", "rear-a/2 outdrive lid side", ("rear-a outdrive lid",)),
    ("blend_part", "blended", "rear-a/2 house 7k", ("rear-a/2",)),
    ("run_diff", "in run", "2026-05-04/2 rear", ("2026-05-04/2",)),
    ("car_diff", "in car", "blue rear from 2026-05-03", ("blue rear", "Blue")),
    ("car_value", "motor", "blue motor from 2026-05-03", ("blue motor",)),
    ("scale_reading", "reading", "pocket closed rear-b on 2026-05-03 reading 4", ("Pocket closed rear-b", "pocket")),
    ("bench_job", "job", "rear-a rebuild begun 2026-05-10", ("rear-a rebuild", "rear-a")),
    ("bench_step", "step", "rear-a rebuild begun 2026-05-10: Weigh it dry", ()),
    ("limit", "limit", "seal uses for rear-a", ()),
    ("limit", "limit for all", "seal uses", ()),
    ("bottle", "bottle", "house 7k, second", ("second", "house 7k second", "house 7k")),
    ("fluid_comparison", "comparison", "house 7k, second thicker than house 5k", ("house 7k, second",)),
    ("photo", "photo", "rear-a/2 outdrive lid side", ("rear-a/2", "photo rear-a/2 outdrive lid side")),
    ("photo", "photo of opening", "rear-a/1 outdrive", ("rear-a/1",)),
    ("photo", "photo of bottle", "house 7k, second label", ("house 7k, second label#1",)),
    ("photo", "another of bottle", "house 7k, second label#2", ("house 7k second label#2",)),
    ("join", "join", "diff rear-a and rear-A2", ("rear-a and rear-A2", "join diff rear-A2 and rear-a", "rear-A2")),
    ("event_car", "at event", "spring race blue", ("spring race",)),
    ("stock_change", "counted", "shaft ring counted on 2026-05-03", ("shaft ring counted", "shaft ring")),
    ("kit_part", "in kit", "shaft ring in rebuild kit", ("shaft ring in rebuild kit",)),
    ("bottle_check", "checked", "house 7k, second checked on 2026-05-03", ("house 7k, second",)),
    ("plan", "plan", "plan for spring race made 2026-05-03T18:20", ()),
    ("plan_line", "plan line", "plan for spring race made 2026-05-03T18:20 1", ()),
    ("put_by", "put by", "rear-a/2 oil lost", ()),
)


@pytest.mark.parametrize(("kind", "key", "name", "others"), NAMES, ids=lambda value: str(value))
def test_what_has_no_label_is_found_by_the_name_that_is_printed_and_by_shorter_ones(
    connection: sqlite3.Connection, rear: dict[str, str], kind: str, key: str, name: str, others: tuple[str, ...]
) -> None:
    assert name_of(connection, BY_NAME[kind], rear[key]) == name
    assert label_of(connection, BY_NAME[kind], rear[key]) == name
    for typed in (name, *others, rear[key]):
        assert find_id(connection, BY_NAME[kind], typed) == rear[key], typed


def test_a_name_that_may_mean_several_lists_them_by_name(connection: sqlite3.Connection, rear: dict[str, str]) -> None:
    with pytest.raises(InputError, match="rear-a/2 outdrive case side or rear-a/2 outdrive lid side") as fault:
        find_id(connection, BY_NAME["build_part"], "rear-a/2 outdrive")
    assert fault.value.code == "ambiguous_name"
    with pytest.raises(UnknownNameError, match=r"Did you mean rear-a/1#1 or rear-a/1#2\?"):
        find_id(connection, BY_NAME["weighing"], "rear-a/1#3")
    with pytest.raises(UnknownNameError, match='named "rear-a"'):
        find_id(connection, BY_NAME["opening"], "rear-a")


def test_shims_in_one_place_are_counted_and_keep_their_numbers(
    connection: sqlite3.Connection, rear: dict[str, str]
) -> None:
    kind, place = BY_NAME["build_shim"], "behind case-side gear"
    writer = Writer(connection, "ana")
    made = []
    for thickness in (0.1, 0.2, 0.3):
        values = {"build": rear["build 2"], "place": place, "thickness_mm": thickness}
        made.append(writer.insert(kind, values, row_id=new_piece_id(connection, kind, values)))
    assert [name_of(connection, kind, one) for one in made] == [f"rear-a/2 {place}{end}" for end in ("", "#2", "#3")]
    connection.execute("DELETE FROM build_shims WHERE id = ?", (made[0],))
    assert name_of(connection, kind, made[2]) == f"rear-a/2 {place}#3", "a removed one renames no other"
    with pytest.raises(InputError, match=r"#2 or .*#3"):
        find_id(connection, kind, f"rear-a/2 {place}")
    assert new_piece_id(connection, kind, values) == made[0], "the free number is the next"


def test_a_piece_made_on_two_laptops_is_one(rear: dict[str, str], connection: sqlite3.Connection) -> None:
    kind = BY_NAME["seal_fitting"]
    values = {"build": rear["build 1"], "place": "joint", "state": "ok"}
    row_id = new_piece_id(connection, kind, values)
    assert row_id == new_piece_id(connection, kind, {**values, "state": "hard"}) == piece_id(kind, values, 1)
    assert is_content_id(row_id or "")
    assert row_id != piece_id(kind, {**values, "build": rear["build 2"]}, 1)
    assert row_id != piece_id(kind, {**values, "place": "lid-side shaft"}, 1)
    assert new_piece_id(connection, BY_NAME["weighing"], {"build": rear["build 1"]}) is None


def test_a_piece_that_was_moved_leaves_its_id_to_nobody(rear: dict[str, str], connection: sqlite3.Connection) -> None:
    kind = BY_NAME["seal_fitting"]
    values = {"build": rear["build 1"], "place": "joint"}
    writer = Writer(connection, "ana")
    first = writer.insert(kind, values, row_id=new_piece_id(connection, kind, values))
    writer.update(kind, first, {"place": "lid-side shaft"})
    again = new_piece_id(connection, kind, values)
    assert again not in (None, first)
    assert name_of(connection, kind, first) == "rear-a/1 lid-side shaft"


def test_what_two_people_read_of_a_record_says_its_kind_and_day(
    connection: sqlite3.Connection, rear: dict[str, str]
) -> None:
    titles = {
        "opening": "opening of rear-a/1, 2026-05-09",
        "late": "weighing rear-a/1#1, 2026-05-08",
        "joint": "seal fitting rear-a/2 joint",
        "photo": "photo rear-a/2 outdrive lid side",
    }
    for key, kind in (("photo", "photo"), ("opening", "opening"), ("late", "weighing"), ("joint", "seal_fitting")):
        assert title_of(connection, BY_NAME[kind], rear[key]) == titles[key]
    assert title_of(connection, BY_NAME["weighing"], "nobody") is None


def test_every_kind_that_people_write_has_names_they_can_type(
    connection: sqlite3.Connection, rear: dict[str, str]
) -> None:
    named = {kind for kind, *_ in NAMES}
    assert [kind.name for kind in KINDS if kind.own and kind.label is None and kind.name not in named] == [
        "build_shim",
    ]
    assert is_named_by_label(BY_NAME["fluid"])
    assert not is_named_by_label(BY_NAME["limit"])
