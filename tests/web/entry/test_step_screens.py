"""What the bench screens of weighing, opening, finding, seals, parts and shims store. All data are constructed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from conftest import empty_database
from constructed import Add, Team, adding

from bevelbook.card.procedure import Procedure, ProcedureStep, bundled_procedure
from bevelbook.declare.errors import InputError
from bevelbook.declare.vocabulary import SAME_AGAIN, STEP_BY_STEP
from bevelbook.entering.question import Question
from bevelbook.plugin.registry import Registry, load
from bevelbook.reports.bench import JobOnBench, job_on_bench
from bevelbook.reports.shelf import shelf_row, word_and_why
from bevelbook.reports.shelf_findings import shelf_findings
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.taking_back.take_back import take_back
from bevelbook.web.entry.bench_order import screen_of
from bevelbook.web.entry.bench_writing import BenchWriter, JobBegun, StepSent, step_version
from bevelbook.web.entry.sent import NotSureError, Saver
from bevelbook.web.shared.typed_form import TypedForm

STEPS = {step.key: step for step in bundled_procedure().steps}
SHIM = {"thickness_mm": 0.2, "bore_mm": 5.0, "outside_diameter_mm": 7.0}
FIRST_SHIM, SECOND_SHIM = "shim.behind-case-side-gear.0_2.5.7", "shim.behind-lid-side-gear.0_2.5.7"


class Bench:
    """A job at the bench over a small team, one form after the other."""

    def __init__(self, path: Path, registry: Registry, job_id: str) -> None:
        self.path, self._registry, self.job_id = path, registry, job_id
        self.connection = open_for_writing(path)

    def _entry(self) -> AbstractContextManager[None]:
        return transaction(self.connection, self.path, asked="a test", by="ana")

    def _writer(self, form: TypedForm, procedure: Procedure | None = None) -> BenchWriter:
        saver = Saver(self.connection, self._registry, "ana", form)
        return BenchWriter(saver, self._registry, procedure or bundled_procedure(), "ana")

    @property
    def job(self) -> JobOnBench:
        found = job_on_bench(self.connection, self.job_id)
        assert found is not None
        return found

    def send(self, key: str, **texts: str) -> list[str]:
        """Send a form, with dots in names written as two underscores; returns what is said of it."""
        return self.send_form_and_say(key, {name.replace("__", "."): text for name, text in texts.items()})

    def send_form(self, key: str, form: TypedForm) -> None:
        self.send_step(STEPS[key], form, bundled_procedure())

    def send_step(self, step: ProcedureStep, form: TypedForm, procedure: Procedure) -> None:
        """Send the form of a step of a procedure."""
        sent = StepSent(form, self.job.begun_at, step_version(self.connection, self.job, step.key, step))
        with self._entry():
            self._writer(form, procedure).save_step(self.job_id, step.key, sent)

    def send_form_and_say(self, key: str, texts: dict[str, str]) -> list[str]:
        self.send_form(key, form_of(texts))
        return list(screen_of(STEPS[key]).said(self.connection, self.job, STEPS[key]))

    def shown(self, key: str) -> Any:
        return screen_of(STEPS[key]).shown(self.connection, self.job, STEPS[key])

    def rows(self, sql: str) -> list[tuple[Any, ...]]:
        return [tuple(row) for row in self.connection.execute(sql)]


def _team(add: Add, **diff: Any) -> Team:
    """A diff with a build that ran six times: seals, shims and parts noted, weighed dry and closed."""
    joint = add("seal", label="joint ring 18 x 1", inside_diameter_mm=18.0, section_mm=1.0, material="EPDM")
    shaft = add(
        "seal",
        label="shaft ring 5 x 1.5",
        inside_diameter_mm=5.0,
        section_mm=1.5,
        outside_diameter_mm=8.0,
        material="EPDM",
    )
    team = Team(add, joint_seal=joint, shaft_seal=shaft, screw_count=4, screw_size="M2 x 8", **diff)
    build = team.build(
        dry_mass_g=12.42, oil_mass_g=1.86, filled_mass_g=14.28, closed_mass_g=22.42, mass_basis="open half"
    )
    for place, seal in (("joint", joint), ("case-side shaft", shaft), ("lid-side shaft", shaft)):
        add("seal_fitting", build=build, place=place, seal=seal, condition="new")
    for place in ("behind case-side gear", "behind lid-side gear"):
        add("build_shim", build=build, place=place, pieces=1, **SHIM)
    add("build_part", build=build, part="outdrive", place="lid side", condition="new", mark="dot")
    team.run(build, "2026-02-01", 6.0)
    return team


@cache
def _begun(kind: str, way: str, is_new: bool) -> tuple[bytes, str]:
    """The file of a team that has begun a job, and the id of the job; made once for a process."""
    with TemporaryDirectory() as folder:
        path = empty_database(Path(folder) / "begun.db")
        connection = open_for_writing(path)
        with transaction(connection, path, asked="a test", by="ana"):
            add = adding(Writer(connection, "ana"))
            diff = add("diff", label="front-z") if is_new else _team(add).diff
        last = connection.execute("SELECT id FROM builds WHERE diff = ?", (diff,)).fetchone()
        with transaction(connection, path, asked="a test", by="ana"):
            registry = load()
            writer = BenchWriter(Saver(connection, registry, "ana", TypedForm()), registry, bundled_procedure(), "ana")
            job_id = writer.begin(JobBegun(diff, kind, way, last[0] if way == SAME_AGAIN else None))
        connection.close()
        return path.read_bytes(), job_id


@contextmanager
def bench_of(folder: Path, registry: Registry, kind: str, way: str, *, is_new: bool = False) -> Iterator[Bench]:
    held, job_id = _begun(kind, way, is_new)
    path = folder / "team.db"
    path.write_bytes(held)
    made = Bench(path, registry, job_id)
    try:
        yield made
    finally:
        made.connection.close()


@pytest.fixture
def bench(tmp_path: Path, registry: Registry) -> Iterator[Bench]:
    """A rebuild step by step."""
    with bench_of(tmp_path, registry, "rebuild", STEP_BY_STEP) as made:
        yield made


@pytest.fixture
def again(tmp_path: Path, registry: Registry) -> Iterator[Bench]:
    """A rebuild that is the same again, whose build has all pieces of the one before."""
    with bench_of(tmp_path, registry, "rebuild", SAME_AGAIN) as made:
        yield made


@pytest.fixture
def new_one(tmp_path: Path, registry: Registry) -> Iterator[Bench]:
    """The first build of a diff."""
    with bench_of(tmp_path, registry, "new", STEP_BY_STEP, is_new=True) as made:
        yield made


def test_a_closed_weighing_is_stored_once_and_says_what_was_lost(bench: Bench) -> None:
    """22.42 - 22.12 = 0.30 g of 1.86 g, 16 %."""
    (line,) = bench.send("weigh-closed-before", mass_g="22,12")
    assert bench.rows("SELECT mass_g, mass_basis, wiped FROM weighings") == [(22.12, "closed", "yes")]
    assert bench.rows("SELECT closed_mass_g FROM openings WHERE closed_mass_g IS NOT NULL") == []
    assert "lost 0.30 g of 1.86 g (16 %)" in line.replace("16%", "16 %")


def test_a_closed_weighing_that_was_mistyped_is_corrected_and_not_doubled(bench: Bench) -> None:
    bench.send("weigh-closed-before", mass_g="22.12")
    assert bench.shown("weigh-closed-before")["mass"].typed == "22.12"
    bench.send("weigh-closed-before", mass_g="22.21")
    assert bench.rows("SELECT mass_g FROM weighings") == [(22.21,)]


@pytest.mark.parametrize(
    "key",
    ["weigh-closed-before", "look-where-wet", "note-what-is-found", "lay-out-and-count", "seals", "weigh-dry"],
)
def test_a_screen_with_nothing_in_it_is_not_taken_for_an_answer(bench: Bench, key: str) -> None:
    with pytest.raises(InputError) as refused:
        bench.send(key)
    assert "leave the step out" in str(refused.value.remedy)


def test_a_weighing_that_is_typed_after_the_opening_was_before_it(bench: Bench) -> None:
    bench.send("look-where-wet", all="dry")
    (line,) = bench.send("weigh-closed-before", mass_g="22.12")
    assert "lost 0.30 g" in line
    bench.send("weigh-closed-before", mass_g="22.21")
    assert bench.rows("SELECT b.label, mass_g FROM weighings w JOIN builds b ON b.id = w.build") == [
        ("rear-a/1", 22.21)
    ]


def test_a_known_coin_is_a_reading_of_the_scale(bench: Bench) -> None:
    scale = bench.rows("SELECT name FROM scales")[0][0]
    bench.send("weigh-closed-before", mass_g="22.40", scale=scale, coin__mass_g="7.50", coin__thing="coin")
    assert bench.rows("SELECT thing, mass_g, place FROM scale_readings") == [("coin", 7.5, 1)]
    assert bench.shown("weigh-closed-before")["scale"].last_read.startswith("coin read 7.5 g on ")


def test_dry_all_round_is_one_touch(bench: Bench) -> None:
    bench.send("look-where-wet", all="dry")
    assert bench.rows("SELECT count(*) FROM openings") == [(0,)], "the lid is still on"
    bench.send("open", reason="routine", screws="ok")
    assert bench.rows("SELECT leak_place, leak_amount FROM openings") == [(None, "dry")]
    assert bench.shown("look-where-wet")["is_dry"]


def test_a_wet_place_is_the_reason_that_is_offered(bench: Bench) -> None:
    bench.send("look-where-wet", leak_place="lid-side shaft", leak_amount="damp")
    assert bench.shown("open")["reason"].typed == "leak"
    bench.send("open", reason="leak", screws="ok")
    assert bench.rows("SELECT leak_place, leak_amount, reason, screws FROM openings") == [
        ("lid-side shaft", "damp", "leak", "ok")
    ]


def test_a_wet_place_does_not_open_the_diff(bench: Bench) -> None:
    """What was seen before *Open it* is kept, corrected, and gone with the job if the diff is not opened after all."""
    before = shelf_row(bench.connection, bench.job.diff)
    bench.send("look-where-wet", leak_place="lid-side shaft", leak_amount="damp")
    bench.send("look-where-wet", leak_place="joint")
    assert [bench.shown("look-where-wet")[one].typed for one in ("where", "how_wet")] == ["joint", "damp"]
    assert bench.rows("SELECT count(*) FROM openings") == [(0,)]
    after = shelf_row(bench.connection, bench.job.diff)
    assert before is not None and after is not None and after["word"] == before["word"] != "apart"
    with bench._entry():
        bench._writer(TypedForm()).give_up(bench.job_id, "closed as it is")
    given_up = shelf_row(bench.connection, bench.job.diff)
    assert given_up is not None and given_up["word"] == before["word"]
    assert bench.rows("SELECT count(*) FROM openings") == [(0,)]


def test_what_was_seen_before_is_written_when_the_diff_is_opened(bench: Bench) -> None:
    bench.send("look-where-wet", leak_place="joint", leak_amount="drops")
    bench.send("open", reason="leak", screws="ok")
    row = "SELECT leak_place, leak_amount, reason FROM openings"
    assert bench.rows(row) == [("joint", "drops", "leak")]
    bench.send("look-where-wet", all="dry")
    assert bench.rows(row) == [(None, "dry", "leak")]


def test_how_wet_without_where_is_asked(bench: Bench) -> None:
    with pytest.raises(InputError, match="it was drops, but not where"):
        bench.send("look-where-wet", leak_amount="drops")


@pytest.mark.parametrize("oil", ["clear", "grey"])
def test_all_sound_is_one_touch_and_dark_oil_is_explained(bench: Bench, oil: str) -> None:
    said = bench.send("note-what-is-found", all=oil, note="a smell")
    columns = "oil, side_gears, small_gears, shafts, cross_pin, bores, seals, note"
    assert bench.rows(f"SELECT {columns} FROM openings") == [(oil, *("ok",) * 6, "a smell")]
    assert [line.startswith("Dark oil is not thick oil") for line in said] == ([True] if oil == "grey" else [])


def test_the_rest_is_sound(bench: Bench) -> None:
    bench.send("note-what-is-found", rest="yes", side_gears="worn", oil="black")
    assert bench.rows("SELECT oil, side_gears, small_gears, seals FROM openings") == [("black", "worn", "ok", "ok")]


def test_all_sound_leaves_what_was_chosen(bench: Bench) -> None:
    bench.send("note-what-is-found", all="clear", small_gears="pitted")
    assert bench.rows("SELECT oil, side_gears, small_gears FROM openings") == [("clear", "ok", "pitted")]


def test_dry_all_round_beside_a_wet_place_is_asked_about(bench: Bench) -> None:
    typed = {"all": "dry", "leak_place": "joint", "leak_amount": "damp"}
    with pytest.raises(Question) as asked:
        bench.send_form("look-where-wet", form_of(typed))
    wet, dry = (way.key for way in asked.value.answers)
    chosen = {"leak_place": "joint", "leak_amount": "damp"}
    bench.send_form("look-where-wet", form_of({**chosen, "answer.all": wet}))
    bench.send("open", reason="leak", screws="ok")
    assert bench.rows("SELECT leak_place, leak_amount FROM openings") == [("joint", "damp")]
    bench.send_form("look-where-wet", form_of({**chosen, "answer.all": dry}))
    assert bench.rows("SELECT leak_place, leak_amount FROM openings") == [(None, "dry")]


def test_all_seals_as_new_are_one_touch(bench: Bench) -> None:
    bench.send("seals", all="same")
    assert bench.rows(
        "SELECT place, s.label, condition, state FROM seal_fittings n JOIN seals s ON s.id = n.seal "
        f"WHERE build = '{bench.job.build}' ORDER BY place"
    ) == [
        ("case-side shaft", "shaft ring 5 x 1.5", "used", "ok"),
        ("joint", "joint ring 18 x 1", "used", "ok"),
        ("lid-side shaft", "shaft ring 5 x 1.5", "used", "ok"),
    ]
    assert bench.rows("SELECT seals FROM openings") == [("ok",)]


def test_a_bigger_ring_is_measured_and_its_swell_is_said(bench: Bench) -> None:
    """1.62^2 (5.2 + 1.62) / (1.5^2 (5 + 1.5)) - 1 = 17.8986 / 14.625 - 1 = 22.4 %, over 15 % in a shaft."""
    form = {
        "lid-side-shaft.judged": "bigger",
        "lid-side-shaft.goes_in": "used",
        "lid-side-shaft.measured_inside_diameter_mm": "5.2",
        "lid-side-shaft.measured_section_mm": "1.62",
        "joint.judged": "flat",
        "joint.goes_in": "new",
    }
    with pytest.raises(Question) as asked:
        bench.send_form("seals", form_of(form))
    assert asked.value.what.startswith("Lid-side shaft: seal swell: stop: do not put it back; grown 22.4 %")
    (way,) = asked.value.answers
    said = bench.send_form_and_say("seals", {**form, "answer.all": way.key})
    assert bench.rows(
        "SELECT place, condition, state, measured_section_mm FROM seal_fittings "
        f"WHERE build = '{bench.job.build}' ORDER BY place"
    ) == [
        ("joint", "new", None, None),
        ("lid-side shaft", "used", "swollen", 1.62),
    ]
    assert bench.rows("SELECT seals FROM openings") == [("flattened",)]
    assert any(line.startswith("Lid-side shaft: seal swell: stop: ") for line in said), said


def test_seals_are_corrected_in_their_place(bench: Bench) -> None:
    bench.send("seals", all="same")
    bench.send("seals", joint__judged="nicked", joint__goes_in="new")
    assert bench.rows(
        f"SELECT condition, state FROM seal_fittings WHERE build = '{bench.job.build}' AND place = 'joint'"
    ) == [("new", None)]
    assert bench.rows(f"SELECT count(*) FROM seal_fittings WHERE build = '{bench.job.build}'") == [(3,)]
    assert bench.rows("SELECT seals FROM openings") == [("nicked",)]


def test_which_seal_goes_in_is_asked_of_one_that_is_not_as_new(bench: Bench) -> None:
    with pytest.raises(InputError, match="joint: it is hard, but not which one goes in"):
        bench.send("seals", joint__judged="hard")


def test_all_parts_used_again_are_one_touch(bench: Bench) -> None:
    assert bench.shown("lay-out-and-count")["count"] == "4 screws, 3 seals, 2 shims"
    bench.send("lay-out-and-count", all="used")
    found = bench.rows(
        f"SELECT part, place, condition, mark FROM build_parts WHERE build = '{bench.job.build}' ORDER BY part, place"
    )
    assert ("outdrive", "lid side", "used", "dot") in found
    assert ("outdrive", "case side", "used", None) in found
    assert {row[2] for row in found} == {"used"} and len(found) == 7


def test_new_gears_stay_new_where_all_else_is_used_again(bench: Bench) -> None:
    bench.send("lay-out-and-count", all="used", **{"part__side-gear__both__": "new"})
    found = dict(bench.rows(f"SELECT part, condition FROM build_parts WHERE build = '{bench.job.build}'"))
    assert (found.pop("side gear"), set(found.values())) == ("new", {"used"})


def test_new_gears_are_noted_and_another_part_is_added(bench: Bench) -> None:
    bench.send(
        "lay-out-and-count",
        **{"part__side-gear__both__": "new", "more__part": "bearing", "more__condition": "new"},
    )
    bench.send("lay-out-and-count", **{"part__side-gear__both__": "turned over"})
    assert bench.rows(f"SELECT part, condition FROM build_parts WHERE build = '{bench.job.build}' ORDER BY part") == [
        ("bearing", "new"),
        ("side gear", "turned over"),
    ]


def test_the_last_stack_is_kept_with_one_touch(bench: Bench) -> None:
    bench.send("shims", **{line.name: line.field.typed for line in bench.shown("shims")["lines"]})
    found = bench.rows(
        "SELECT place, thickness_mm, pieces, bore_mm, outside_diameter_mm FROM build_shims "
        f"WHERE build = '{bench.job.build}' ORDER BY place"
    )
    assert found == [(place, 0.2, 1, 5.0, 7.0) for place in ("behind case-side gear", "behind lid-side gear")]


def test_shims_are_added_taken_out_and_of_another_size(bench: Bench) -> None:
    more = {"more.thickness_mm": "0,1", "more.place": "small gears", "more.pieces": "4"}
    bench.send_form("shims", form_of({FIRST_SHIM: "2", SECOND_SHIM: "0", **more}))
    assert _stack(bench) == [("behind case-side gear", 0.2, 2), ("small gears", 0.1, 4)]
    assert [(line.name, line.field.typed) for line in bench.shown("shims")["lines"]][:2] == [
        (FIRST_SHIM, "2"),
        (SECOND_SHIM, "0"),
    ]
    bench.send_form("shims", form_of({FIRST_SHIM: "0", SECOND_SHIM: "1"}))
    assert _stack(bench) == [("behind lid-side gear", 0.2, 1), ("small gears", 0.1, 4)]


def test_shims_without_their_number_of_pieces_are_one_shim(bench: Bench) -> None:
    bench.connection.execute("UPDATE build_shims SET pieces = NULL")
    assert [line.pieces for line in bench.shown("shims")["lines"]] == [1, 1]


def form_of(texts: dict[str, str]) -> TypedForm:
    return TypedForm({name: [text] for name, text in texts.items()})


def _stack(bench: Bench) -> list[tuple[Any, ...]]:
    return bench.rows(
        f"SELECT place, thickness_mm, pieces FROM build_shims WHERE build = '{bench.job.build}' "
        "ORDER BY place, thickness_mm"
    )


def test_a_shim_without_its_place_is_asked_about(bench: Bench) -> None:
    with pytest.raises(InputError, match=r"a shim of 0\.1 mm, but not where it goes"):
        bench.send_form("shims", form_of({"more.thickness_mm": "0.1"}))


def test_a_light_dry_mass_is_asked_about_once_and_names_a_shim(bench: Bench) -> None:
    """Two shims 5 x 7 x 0.2 mm of 29.6 mg each were in rear-a/1, which had 12.42 g."""
    shown = bench.shown("weigh-dry")
    assert (shown["last"].mass_g, shown["basis"].typed) == (12.42, "open half")
    with pytest.raises(Question) as asked:
        bench.send("weigh-dry", dry_mass_g="12.39", mass_basis="open half")
    assert asked.value.what.startswith("0.03 g light: a 0.2 mm shim or ")
    assert [way.key for way in asked.value.answers] == ["12.39"]
    (said,) = bench.send_form_and_say("weigh-dry", {"dry_mass_g": "12.39", "answer.dry_mass_g": "12.39"})
    assert said.startswith("Dry mass stored: 0.03 g light: a 0.2 mm shim or ")
    assert bench.rows(f"SELECT dry_mass_g FROM builds WHERE id = '{bench.job.build}'") == [(12.39,)]


def test_the_same_dry_mass_is_not_asked_about(bench: Bench) -> None:
    assert bench.send("weigh-dry", dry_mass_g="12.42", mass_basis="open half") == []
    assert bench.rows(f"SELECT dry_mass_g, mass_basis FROM builds WHERE id = '{bench.job.build}'") == [
        (12.42, "open half")
    ]


def test_a_dry_mass_in_tenths_is_asked_about(bench: Bench) -> None:
    with pytest.raises(NotSureError, match="1242 g"):
        bench.send("weigh-dry", dry_mass_g="1242")


def test_the_closed_mass_after_is_the_builds_own(bench: Bench) -> None:
    bench.send("weigh-dry", dry_mass_g="12.42", mass_basis="open half")
    bench.send("weigh-closed-after", mass_g="22.41")
    assert bench.rows(f"SELECT closed_mass_g FROM builds WHERE id = '{bench.job.build}'") == [(22.41,)]
    assert bench.rows("SELECT count(*) FROM weighings") == [(0,)]


def test_a_paper_that_is_wet_is_a_leak_on_the_shelf(bench: Bench) -> None:
    """22.25 g when it was closed and 22.21 g from the wet paper: 0.04 g."""
    bench.send("weigh-closed-after", mass_g="22.25")
    (line,) = bench.send("rest-on-paper", wet="joint", mass_g="22.21")
    assert line == "Wet at the joint, 0.04 g lost on paper: open it and look at the joint."
    with bench._entry():
        bench._writer(TypedForm(), bundled_procedure()).end(bench.job_id)
    row = shelf_row(bench.connection, bench.job.diff)
    assert row is not None
    assert word_and_why(row).startswith("look at it: the paper under it was wet at the joint after it was closed")
    found = [one for one in shelf_findings(bench.connection) if one.code == "leak_found"]
    assert [one.remedy for one in found] == ["Open it and look at the joint."]
    bench.send("rest-on-paper", wet="joint", mass_g="22,22")
    assert bench.rows("SELECT mass_g FROM weighings") == [(22.22,)]
    with pytest.raises(Question) as asked:
        bench.send("rest-on-paper", wet="joint", dry="yes")
    assert bench.send("rest-on-paper", wet="joint", answer__wet=asked.value.answers[1].key) == []
    row = shelf_row(bench.connection, bench.job.diff)
    assert row is not None and "wet" not in word_and_why(row)


def test_pieces_that_came_along_are_changed_and_not_doubled(again: Bench) -> None:
    again.send("seals", all="same")
    again.send("lay-out-and-count", all="used")
    kept = {line.name: line.field.typed for line in again.shown("shims")["lines"]}
    assert kept == {FIRST_SHIM: "1", SECOND_SHIM: "1"}
    again.send_form("shims", form_of({**kept, SECOND_SHIM: "0"}))
    build = again.job.build
    assert again.rows(f"SELECT condition, state FROM seal_fittings WHERE build = '{build}'") == [("used", "ok")] * 3
    assert again.rows(
        f"SELECT count(*), count(DISTINCT part || coalesce(place, '')) FROM build_parts WHERE build = '{build}'"
    ) == [(7, 7)]
    assert _stack(again) == [("behind case-side gear", 0.2, 1)]


def test_a_shim_that_was_taken_out_comes_back_with_its_entry(again: Bench, registry: Registry) -> None:
    again.send_form("shims", form_of({FIRST_SHIM: "1", SECOND_SHIM: "1"}))
    was = _stack(again)
    again.send_form("shims", form_of({FIRST_SHIM: "0", SECOND_SHIM: "3"}))
    assert _stack(again) == [("behind lid-side gear", 0.2, 3)]
    entries = EntryBook(again.connection)
    last = entries.by_id[again.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")[0][0]]
    take_back(again.connection, again.path, [last], registry, asked="a test", by="ana")
    assert _stack(again) == was


def test_the_first_screen_may_be_the_shims(again: Bench) -> None:
    again.send_form("shims", form_of({FIRST_SHIM: "2", SECOND_SHIM: "1"}))
    assert _stack(again) == [("behind case-side gear", 0.2, 2), ("behind lid-side gear", 0.2, 1)]


def test_a_new_diff_has_nothing_before_and_everything_new(new_one: Bench) -> None:
    assert new_one.shown("seals")["is_first"]
    new_one.send("seals", all="new")
    new_one.send("lay-out-and-count", all="new")
    assert new_one.rows("SELECT DISTINCT condition, state FROM seal_fittings") == [("new", None)]
    assert new_one.rows("SELECT count(*), min(condition) FROM build_parts") == [(7, "new")]
    assert new_one.rows("SELECT count(*) FROM openings") == [(0,)]


def test_a_closed_mass_that_nothing_explains_is_asked_about_once(bench: Bench) -> None:
    """22.42 g closed at the build; no oil is 10.68 g."""
    with pytest.raises(Question, match=r"33\.10 g is 10\.68 g over closed \(22\.42 g at the build\)") as asked:
        bench.send("weigh-closed-before", mass_g="33,10")
    assert bench.rows("SELECT count(*) FROM weighings") == [(0,)]
    (way,) = asked.value.answers
    bench.send("weigh-closed-before", mass_g="33,10", answer__mass_g=way.key)
    assert bench.rows("SELECT mass_g FROM weighings") == [(33.1,)]
    with pytest.raises(Question, match=r"33\.20 g is 10\.78 g over closed"):
        bench.send("weigh-closed-before", mass_g="33.20", answer__mass_g=way.key)


def test_a_closed_mass_after_that_other_parts_do_not_explain_is_asked_about(bench: Bench) -> None:
    with pytest.raises(Question, match=r"33\.10 g is 10\.68 g over the last closed mass \(22\.42 g"):
        bench.send("weigh-closed-after", mass_g="33.10")
    bench.send("weigh-closed-after", mass_g="33.10", answer__mass_g="33.1")
    assert bench.rows(f"SELECT closed_mass_g FROM builds WHERE id = '{bench.job.build}'") == [(33.1,)]


def test_a_weighing_of_the_open_diff_is_asked_about_too(tmp_path: Path, registry: Registry) -> None:
    with bench_of(tmp_path, registry, "top-up", STEP_BY_STEP) as bench:
        with pytest.raises(Question, match=r"18\.30 g is 4\.02 g over open half"):
            bench.send("weigh-open", weighings__mass_g="18.30", weighings__mass_basis="open half")
        bench.send("weigh-open", weighings__mass_g="14.18", weighings__mass_basis="open half")


def test_without_a_noted_basis_none_is_guessed_and_the_dry_mass_is_compared(bench: Bench) -> None:
    """The build before was 12.42 g dry; nobody wrote down on what basis."""
    bench.connection.execute("UPDATE builds SET mass_basis = NULL")
    basis = bench.shown("weigh-dry")["basis"]
    assert (basis.typed, basis.choices[0]) == ("", ("", "as last time"))
    with pytest.raises(Question, match=r"0\.03 g light"):
        bench.send("weigh-dry", dry_mass_g="12.39")
    with pytest.raises(Question, match=r"0\.03 g light"):
        bench.send("weigh-dry", dry_mass_g="12.39", mass_basis="open half")
    bench.send("weigh-dry", dry_mass_g="12.42")
    assert bench.rows(f"SELECT dry_mass_g, mass_basis FROM builds WHERE id = '{bench.job.build}'") == [(12.42, None)]
