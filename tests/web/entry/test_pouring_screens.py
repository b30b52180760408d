"""The screens from pouring to the rest on paper: what each shows, what it wants stored, and how it goes on."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Mapping
from datetime import datetime
from typing import Any

import pytest
from card_team import make_full_build

from bevelbook.card.build_card import card_of
from bevelbook.card.procedure import ProcedureStep, bundled_procedure
from bevelbook.declare.errors import InputError
from bevelbook.entering.question import Question
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.bench import JobOnBench, job_on_bench
from bevelbook.reports.bench_waits import open_waits
from bevelbook.store.ids import now_utc
from bevelbook.store.writing import Writer
from bevelbook.web.entry.found_screens import declared_screens
from bevelbook.web.entry.steps import wait
from bevelbook.web.entry.steps.step_screen import StepCourse
from bevelbook.web.shared.typed_form import TypedForm
from bevelbook.web.shared.waiting import after_minutes, wait_line

BEGUN = "2026-05-03T12:10:00.000Z"


class Bench:
    """A job on a rebuild whose dry mass (9.52 g) and oil (1.50 g) are known: it stops at 11.02 g."""

    def __init__(self, connection: sqlite3.Connection, registry: Registry, writer: Writer) -> None:
        self.connection, self.registry, self.writer = connection, registry, writer
        self.build = make_full_build(writer)
        diff = connection.execute("SELECT diff FROM builds WHERE id = ?", (self.build,)).fetchone()[0]
        values = {"diff": diff, "kind": "rebuild", "way": "step by step", "begun_at": BEGUN, "build": self.build}
        self.job_id = writer.insert(BY_NAME["bench_job"], values)

    @property
    def job(self) -> JobOnBench:
        found = job_on_bench(self.connection, self.job_id)
        assert found is not None
        return found

    def step(self, screen: str) -> ProcedureStep:
        return next(one for one in bundled_procedure().steps if one.screen == screen)

    def shown(self, screen: str, **typed: str) -> Mapping[str, Any]:
        declared, step = declared_screens()[screen], self.step(screen)
        numbers = declared.numbers
        form = TypedForm({name: [text] for name, text in typed.items()})
        given = declared.shown(self.connection, self.job, step)
        return {**given, **(numbers(self.connection, self.registry, self.job, step, form) if numbers else {})}

    def send(self, screen: str, typed: Mapping[str, str]) -> tuple[list[Mapping[str, str]], StepCourse]:
        """What a form wants stored, and how the step goes on; the step is noted as it goes on."""
        declared, step = declared_screens()[screen], self.step(screen)
        form = TypedForm({name: [text] for name, text in typed.items()})
        assert declared.course is not None
        course = declared.course(self.connection, self.registry, self.job, step, form)
        wanted = [one.texts for one in declared.wanted(self.connection, self.job, step, form) if hasattr(one, "texts")]
        noted = self.job.steps.get(step.key)
        values = {"until_at": course.until_at, "note": course.note, "done_at": BEGUN if course.is_over else None}
        if noted is None:
            given = {"job": self.job_id, "step": step.key, "title": step.title, "begun_at": BEGUN}
            self.writer.insert(BY_NAME["bench_step"], {**given, **values})
        else:
            self.writer.update(BY_NAME["bench_step"], noted.id, values)
        return wanted, course


@pytest.fixture
def bench(connection: sqlite3.Connection, registry: Registry, writer: Writer) -> Bench:
    return Bench(connection, registry, writer)


def test_the_stop_mass_is_that_of_the_card_with_its_oil_above(bench: Bench) -> None:
    shown = bench.shown("pour")
    assert (shown["stop_at"], shown["window"]) == ("11.02", "anything from 11.00 to 11.04 g is fine")
    assert shown["above"].startswith("1.50 g, 7k own label, ")
    assert "on the scale: open half" in shown["above"]
    assert shown["needed"] == []
    assert shown["goal"]["words-to-go"] == "{} g to go"
    assert shown["strip"] == card_of(bench.connection, bench.registry, bench.build).pouring.lines
    assert shown["room"] == ""


def test_too_little_room_for_heat_is_said_before_it_is_poured(bench: Bench) -> None:
    """1.75 g of an oil of about 0.97 g/cm3 in a room of 1.82 cm3 is over 95 % of it, the limit of fill-target."""
    bench.writer.update(BY_NAME["build"], bench.build, {"oil_mass_g": 1.75})
    room = bench.shown("pour")["room"]
    assert "of the room" in room
    assert not {"ok", "caution", "stop", "unclear"} & set(room.replace(":", " ").split())


def test_a_reading_in_the_window_is_the_filled_mass(bench: Bench) -> None:
    assert bench.send("pour", {"reading": "11,02"}) == ([{"filled_mass_g": "11,02"}], StepCourse())


@pytest.mark.parametrize(
    ("reading", "said"),
    [("10.60", "0.42 g to go"), ("11.07", "0.05 g over: draw off"), ("1102", "do you mean 11.02 g?")],
    ids=str,
)
def test_a_reading_outside_it_is_asked_back_without_a_verdict(bench: Bench, reading: str, said: str) -> None:
    with pytest.raises(Question) as asked:
        bench.send("pour", {"reading": reading})
    assert asked.value.what == said
    assert not {"ok", "caution", "stop", "unclear"} & set(said.split())
    kept = asked.value.answers[-1]
    assert kept.words == f"Store {reading} g as it is"
    assert bench.send("pour", {"reading": reading, "answer.reading": kept.key})[0] == [{"filled_mass_g": reading}]
    with pytest.raises(Question):
        bench.send("pour", {"reading": "10.50", "answer.reading": kept.key})


def test_a_decimal_point_that_slipped_is_put_right_by_one_answer(bench: Bench) -> None:
    wanted, course = bench.send("pour", {"reading": "1102", "answer.reading": "11.02 in place of 1102"})
    assert (wanted, course.is_over) == ([{"filled_mass_g": "11.02"}], True)


def test_pouring_needs_its_reading_and_weighing_again_may_leave_it(bench: Bench) -> None:
    with pytest.raises(InputError, match="the reading at the end is still needed"):
        bench.send("pour", {})
    bench.writer.update(BY_NAME["build"], bench.build, {"filled_mass_g": 11.02})
    assert bench.send("weigh-again", {}) == ([], StepCourse())
    assert bench.shown("weigh-again")["goes_on"] == "Next: 11.02 g, or as typed"
    assert bench.send("weigh-again", {"reading": "11.03"})[0] == [{"filled_mass_g": "11.03"}]


def test_another_oil_takes_its_viscosity_along(bench: Bench) -> None:
    bench.writer.insert(BY_NAME["fluid"], {"label": "5k own label", "medium": "oil", "viscosity_cst": 5000.0})
    bench.writer.update(BY_NAME["build"], bench.build, {"viscosity_cst": 7000.0})
    wanted, course = bench.send("pour", {"fluid": "5k own label", "set": "yes"})
    assert not course.is_over
    assert wanted == [{"viscosity_cst": "", "bottle": "", "fluid": "5k own label"}]


def test_without_a_dry_mass_there_is_no_stop_mass_and_the_reading_is_taken(bench: Bench) -> None:
    bench.writer.update(BY_NAME["build"], bench.build, {"dry_mass_g": None, "oil_mass_g": None})
    shown = bench.shown("pour")
    assert (shown["goal"], shown["lacking"]) == (None, "There is no stop mass yet: it was not weighed dry.")
    assert [one.name for one in shown["needed"]] == ["target_oil_mass_g"]
    assert bench.send("pour", {"reading": "11.02"})[0] == [{"filled_mass_g": "11.02"}]


def test_what_is_not_chosen_yet_is_offered_as_last_time(bench: Bench) -> None:
    before = bench.connection.execute("SELECT id FROM builds WHERE label = 'rear-a/1'").fetchone()[0]
    fluid = bench.connection.execute("SELECT id FROM fluids").fetchone()[0]
    bench.writer.update(BY_NAME["build"], before, {"fluid": fluid, "oil_mass_g": 1.48})
    bench.writer.update(BY_NAME["build"], bench.build, {"fluid": None, "bottle": None, "oil_mass_g": None})
    bench.writer.update(BY_NAME["bench_job"], bench.job_id, {"ends": before})
    shown = bench.shown("pour")
    assert shown["needed"] == [], "the stop mass comes first"
    assert [(one.name, one.typed, one.origin) for one in shown["folded"]] == [
        ("fluid", "7k own label", "as rear-a/1"),
        ("bottle", "", ""),
        ("target_oil_mass_g", "1.48", "as rear-a/1"),
    ]
    assert shown["above"].startswith("7k own label, 1.48 g, as rear-a/1; ")
    assert shown["stop_at"] == "11.00", "9.52 + 1.48 g, as offered"
    assert bench.shown("pour", target_oil_mass_g="1.40")["stop_at"] == "10.92"
    with pytest.raises(Question, match=re.escape("0.08 g over")):
        bench.send("pour", {"target_oil_mass_g": "1.40", "reading": "11.00"})


def test_a_bottle_is_emptied_again_and_another_name_is_typed(bench: Bench) -> None:
    assert bench.shown("pour")["folded"][1].choices[-1] == ("", "none")
    assert bench.send("pour", {"bottle": "", "set": "yes"})[0] == [{"bottle": ""}]
    assert bench.send("pour", {"bottle": "", "bottle.typed": "7k own label, B9", "set": "yes"})[0] == [
        {"bottle": "7k own label, B9"}
    ]
    assert bench.send("pour", {"reading": "11.02", "set": "yes"}) == ([{"filled_mass_g": "11.02"}], StepCourse(False))


def later(monkeypatch: pytest.MonkeyPatch, minutes: float) -> None:
    """Have the wait be looked at so many minutes from now."""
    monkeypatch.setattr(wait, "now_utc", lambda: after_minutes(now_utc(), minutes))


def test_a_wait_ends_at_the_same_time_on_every_device(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """Standing, 7,000 cSt and a bubble of 1 mm: 128.6 s at 25 °C at most (degas), so 3 minutes at 20 °C too."""
    how = bench.shown("wait")["how"].choices
    assert how[0] == ("stand: standing open", "standing open: 3 minutes")
    assert how[1][0].startswith("pump: pumped to ")
    assert bench.shown("wait")["wait"] is None
    _, course = bench.send("wait", {"how": "stand: standing open"})
    assert (course.is_over, course.note) == (False, "standing open, 3 min")
    going_on = bench.shown("wait")["wait"]
    assert going_on.until_at == course.until_at
    assert 170 < going_on.left_s <= 180
    assert [(one.diff_label, one.step) for one in open_waits(bench.connection)] == [("rear-a", "draw-bubbles")]
    later(monkeypatch, 3.5)
    assert bench.send("wait", {"over": "yes"})[0] == [{"degassing": "standing open, 3 min"}]
    assert open_waits(bench.connection) == []


@pytest.mark.parametrize(("minutes", "lasted"), [(0.1, "less than a minute"), (1.5, "1 min"), (2.9, "2 min")], ids=str)
def test_a_wait_that_ends_before_its_time_lasted_as_long_as_it_did(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, minutes: float, lasted: str
) -> None:
    bench.send("wait", {"how": "stand: standing open"})
    later(monkeypatch, minutes)
    assert bench.send("wait", {"over": "yes"})[0] == [{"degassing": f"standing open, {lasted}"}]
    assert bench.send("wait", {"over": "yes"})[0] == [{"degassing": f"standing open, {lasted}"}], "sent twice"


def test_the_gauge_counts_for_the_pump_that_was_chosen_before_it_was_read(bench: Bench) -> None:
    """-81.325 kPa below 101.325 kPa outside is 20 kPa absolute."""
    pumped = bench.shown("wait")["how"].choices[1][0]
    assert pumped == "pump: pumped to 40 kPa absolute"
    _, course = bench.send("wait", {"how": pumped, "gauge_kpa": "-81.325", "minutes": "5"})
    assert course.note == "pumped to 20 kPa absolute, 5 min"


def test_minutes_may_be_typed(bench: Bench) -> None:
    _, course = bench.send("wait", {"how": "stand: standing open", "minutes": "1 h"})
    assert course.note == "standing open, 60 min"
    with pytest.raises(InputError):
        bench.send("wait", {"how": "stand: standing open", "minutes": "soon"})
    with pytest.raises(InputError, match="not chosen yet"):
        bench.send("wait", {"minutes": "5"})


def test_minutes_typed_as_the_bubbles_end_are_how_long_it_took(bench: Bench) -> None:
    bench.send("wait", {"how": "stand: standing open"})
    how = bench.shown("wait")["how"].typed
    wanted, course = bench.send("wait", {"how": how, "minutes": "40", "over": "yes"})
    assert (wanted, course.note) == ([{"degassing": "standing open, 40 min"}], "standing open, 40 min")


def test_screws_are_passes_and_another_torque_shows_them_again(bench: Bench) -> None:
    passes = bench.shown("screws")["passes"]
    assert [one.order for one in passes][-1] == "1-2-3-4"
    wanted, course = bench.send("screws", {"screw_torque_nm": "0.35", "set": "yes"})
    assert (wanted, course.is_over) == ([{"screw_torque_nm": "0.35"}], False)
    assert bench.send("screws", {}) == ([], StepCourse())


def test_the_screws_of_a_diff_are_asked_for_where_they_are_not_known(bench: Bench) -> None:
    bench.writer.update(BY_NAME["diff"], bench.job.diff, {"screw_count": None})
    assert bench.shown("screws")["lacking"] == "needs screw count"
    assert bench.send("screws", {"screw_count": "6", "set": "yes"})[0] == [{"screw_count": "6"}]


def test_a_rest_on_paper_is_an_hour_on_each_side(bench: Bench) -> None:
    assert declared_screens()["rest"].may_stay_open
    _, up = bench.send("rest", {"side": "lid up"})
    assert (up.is_over, up.note) == (False, "lid up")
    assert bench.shown("rest")["wait"].minutes_left == 60
    _, down = bench.send("rest", {"side": "lid down"})
    assert datetime.fromisoformat(down.until_at or "") >= datetime.fromisoformat(up.until_at or "")
    assert bench.send("rest", {"dry": "yes"}) == ([], StepCourse(note="dry"))


def test_a_rest_is_past_once_the_diff_is_on_the_bench_again(bench: Bench) -> None:
    bench.send("rest", {"side": "lid down"})
    assert next(wait_line(one, one.until_at) for one in open_waits(bench.connection)).startswith("rear-a: look at the")
    later = {"diff": bench.job.diff, "kind": "top-up", "way": "step by step", "begun_at": "2026-05-10T12:00:00.000Z"}
    bench.writer.insert(BY_NAME["bench_job"], later)
    assert open_waits(bench.connection) == []


def test_a_wet_paper_is_a_weighing_if_it_was_weighed_again(bench: Bench) -> None:
    assert bench.send("rest", {"wet": "joint"}) == ([{"paper_wet_at": "joint"}], StepCourse(note="wet: joint"))
    wanted, _ = bench.send("rest", {"wet": "joint", "mass_g": "18.30"})
    assert wanted[0] == {"paper_wet_at": "joint"}
    assert (wanted[1]["mass_g"], wanted[1]["mass_basis"]) == ("18.30", "closed")
    for without_place in ({}, {"mass_g": "18.30", "is_wet": "yes"}):
        with pytest.raises(InputError, match="what the paper shows"):
            bench.send("rest", without_place)


def test_dry_beside_a_wet_place_is_asked_about_and_the_mass_is_kept(bench: Bench) -> None:
    chosen = {"wet": "joint", "mass_g": "18.30"}
    for button in ({"dry": "yes"}, {"side": "lid down"}):
        with pytest.raises(Question) as asked:
            bench.send("rest", {**chosen, **button})
        wet, _ = (way.key for way in asked.value.answers)
        wanted, course = bench.send("rest", {**chosen, "answer.wet": wet})
        assert (course.note, wanted[0]) == ("wet: joint", {"paper_wet_at": "joint"})
    with pytest.raises(Question) as asked:
        bench.send("rest", {**chosen, "dry": "yes"})
    wanted, course = bench.send("rest", {**chosen, "answer.wet": asked.value.answers[1].key})
    assert (course.note, [one["mass_g"] for one in wanted]) == ("dry", ["18.30"])


def test_minutes_pass_midnight() -> None:
    assert after_minutes("2026-05-03T23:30:00.000Z", 60) == "2026-05-04T00:30:00.000Z"
