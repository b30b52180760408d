"""The photographs of a record, a build, a diff and a bottle: found where they belong, newest first, at a flat cost."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add

from bevelbook.reports.photographs import (
    Photograph,
    photograph,
    photographs_of_bottle,
    photographs_of_build,
    photographs_of_diff,
    photographs_of_record,
    same_piece,
)


@pytest.fixture
def ids(add: Add) -> dict[str, str]:
    """Two builds of a diff with a photograph on each thing that may carry one; another diff; a bottle. Constructed."""
    sizes = {"width_px": 2000, "height_px": 1500, "thumbnail_width_px": 320, "thumbnail_height_px": 240}
    shown = {"picture": add("picture", came_sha256="a" * 64, **sizes, byte_count=9, kept_at="2026-05-10T12:10:00.000Z")}
    diff, other = add("diff", label="rear-a"), add("diff", label="rear-b")
    first = add("build", label="rear-a/1", diff=diff, built_on="2026-05-03")
    second = add("build", label="rear-a/2", diff=diff, built_on="2026-05-10")
    third = add("build", label="rear-b/1", diff=other, built_on="2026-05-03")
    ana = add("person", name="ana")
    opening = add("opening", build=first, opened_on="2026-05-09")
    part = add("build_part", build=first, part="outdrive", place="lid side")
    seal = add("seal_fitting", build=first, place="joint")
    bottle = add("bottle", fluid=add("fluid", label="house 7k"), lot="second")
    outdrive = {"piece": "outdrive", "side": "lid side", **shown}
    return {
        "diff": diff,
        "first": first,
        "second": second,
        "opening": opening,
        "part": part,
        "bottle": bottle,
        "of part": add("photo", build_part=part, taken_on="2026-05-03", person=ana, note="new", **outdrive),
        "of opening": add("photo", opening=opening, taken_on="2026-05-09", **outdrive),
        "of seal": add("photo", seal_fitting=seal, taken_on="2026-05-04", piece="seal", side="joint", **shown),
        "of second": add("photo", build=second, taken_on="2026-05-12", **outdrive),
        "other side": add("photo", build=second, taken_on="2026-05-11", piece="outdrive", side="case side", **shown),
        "other diff": add("photo", build=third, taken_on="2026-05-12", **outdrive),
        "of bottle": add("photo", bottle=bottle, taken_on="2026-05-02", piece="label", **shown),
    }


def found(ids: dict[str, str], photos: list[Photograph]) -> list[str]:
    names = {row_id: name for name, row_id in ids.items()}
    return [names[one.id] for one in photos]


def test_each_is_found_where_it_belongs_the_newest_first(connection: sqlite3.Connection, ids: dict[str, str]) -> None:
    of_first = ["of opening", "of seal", "of part"]
    assert found(ids, photographs_of_build(connection, ids["first"])) == of_first
    assert found(ids, photographs_of_diff(connection, ids["diff"])) == ["of second", "other side", *of_first]
    assert found(ids, photographs_of_diff(connection, ids["diff"], 2)) == ["of second", "other side"]
    assert found(ids, photographs_of_bottle(connection, ids["bottle"])) == ["of bottle"]
    assert found(ids, photographs_of_record(connection, "opening", ids["opening"])) == ["of opening"]
    assert found(ids, photographs_of_record(connection, "build_part", ids["part"])) == ["of part"]
    assert photographs_of_record(connection, "build", ids["first"]) == []
    assert photographs_of_record(connection, "run", ids["first"]) == []
    assert photograph(connection, "nobody") is None


def test_a_groove_is_compared_with_the_same_piece_over_the_builds(
    connection: sqlite3.Connection, ids: dict[str, str]
) -> None:
    photo = photograph(connection, ids["of opening"])
    assert photo is not None
    assert found(ids, same_piece(connection, photo)) == ["of second", "of opening", "of part"]
    label = photograph(connection, ids["of bottle"])
    assert label is not None
    assert found(ids, same_piece(connection, label)) == ["of bottle"]


def test_it_says_what_it_is_of_in_words(connection: sqlite3.Connection, ids: dict[str, str]) -> None:
    photo = photograph(connection, ids["of part"])
    assert photo is not None
    assert (photo.hung_on, photo.hung_on_id, photo.build_label, photo.diff_label) == (
        "build_part",
        ids["part"],
        "rear-a/1",
        "rear-a",
    )
    assert (photo.taken_by, photo.note, photo.width_px, photo.thumbnail_height_px) == ("ana", "new", 2000, 240)
    assert photo.words == "outdrive, lid side"
    assert photo.alt == "outdrive, lid side, rear-a/1, 2026-05-03"
    bottle = photograph(connection, ids["of bottle"])
    assert bottle is not None
    assert (bottle.build, bottle.diff, bottle.alt) == (None, None, "label, house 7k, second, 2026-05-02")


def test_one_query_whatever_their_number_and_each_by_an_index(
    connection: sqlite3.Connection, ids: dict[str, str]
) -> None:
    asked: list[str] = []
    connection.set_trace_callback(asked.append)
    photographs_of_diff(connection, ids["diff"])
    connection.set_trace_callback(None)
    assert len(asked) == 1
    plan = [row[3] for row in connection.execute(f"EXPLAIN QUERY PLAN {asked[0]}")]
    once = ("SCAN h", "SCAN main.erasures")  # what was erased is a handful, read once a query
    assert [line for line in plan if line.startswith("SCAN") and "json_each" not in line and line not in once] == []
