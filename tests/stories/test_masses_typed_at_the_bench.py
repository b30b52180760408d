"""Masses of a build as a mechanic types them at the bench: slips, a zeroed scale, a forgotten shim. All constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import Begin

Run = Callable[..., Any]


@pytest.fixture
def bench(bevelbook: Run, begin: Begin) -> Run:
    """A diff with one build, weighed on a scale of 0.01 g."""
    masses = ("dry_mass=12.40", "filled_mass=14.26", "mass_basis=open half", "scale=bench")
    begin(
        bevelbook,
        Path("bevelbook.db"),
        ("new",),
        ("record", "scale", "name=bench", "step_g=0.01", "repeatability=0.005", "day_to_day=0"),
        ("record", "diff", "label=rear-a", "housing_material=aluminium"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-03", *masses),
    )
    return bevelbook


def test_a_dry_mass_of_95_g_beside_a_stored_filled_mass_is_refused(bench: Run) -> None:
    done = bench("record", "build", "rear-a/1", "dry_mass=95.1", "--yes")
    assert done.code == 2
    assert "the filled mass of 14.26 g is less than the dry mass of 95.1 g" in done.err
    assert "filled_mass is as written down before. Nothing was changed." in done.err
    assert "dry_mass_g: 12.4" in bench("record", "build", "rear-a/1", "hand_feel=smooth").out


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("filled_mass=12.10",), "total_below_dry"),
        (("oil_mass=2.30",), "mass_mismatch"),
        (("dry_mass=12.90", "oil_mass=1.86"), "mass_mismatch"),
    ],
)
def test_what_an_import_rejects_record_refuses(bench: Run, words: tuple[str, ...], code: str) -> None:
    assert bench("record", "build", "rear-a/1", *words, "--json").json["code"] == code
    notes = "date,diff,dry_mass_g,oil_mass_g,total_mass_g\n2026-05-04,rear-a,{},{},{}\n"
    values = {"dry_mass": "12.40", "oil_mass": "", "filled_mass": "14.26"}
    values |= dict(word.split("=") for word in words)
    Path("notes.csv").write_text(notes.format(*values.values()), encoding="utf-8")
    assert bench("import", "notes.csv", "--json").json["rejects"][0]["reason"] == code


def test_a_small_difference_is_taken_and_said(bench: Run) -> None:
    done = bench("record", "build", "rear-a/1", "oil_mass=1.90")
    assert done.code == 0
    said = " ".join(done.out.split())
    assert "12.40 g dry and 1.90 g of oil make 14.30 g, but 14.26 g was weighed: 0.04 g too little" in said
    assert "make" not in bench("record", "build", "rear-a/1", "oil_mass=1.85").out


def test_two_wrong_masses_are_corrected_together(bench: Run) -> None:
    done = bench("record", "build", "rear-a/1", "dry_mass=13.40", "filled_mass=15.26")
    assert done.code == 0


def test_the_oil_need_not_be_typed_beside_dry_and_filled_mass(bench: Run) -> None:
    said = bench("record", "weighing", "build=rear-a", "mass=14.10", "runs=3", "mass_basis=open half").out
    assert "lost 0.16 g of 1.86 g" in said


def test_a_filled_mass_read_with_the_scale_zeroed_on_the_diff(bench: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-12", "dry_mass=12.41", "target_oil_mass=1.86")
    done = bench(*words, "filled_mass=1.84g", "scale=bench", "--json")
    assert done.code == 0, done.err
    assert done.json["values"]["filled_mass_g"] == 14.25
    assert done.json["taken"] == {"filled_mass_g": "scale zeroed on the diff: 1.84 of 1.86 g"}


def test_a_slip_over_a_mass_of_the_whole_diff_is_not_taken_for_the_oil_alone_unasked(bench: Run) -> None:
    """12.41 + 1.20 = 13.61 and 12.41 + 1.25 = 13.66 by hand."""
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-12", "dry_mass=12.41", "target_oil_mass=1.86")
    assert bench(*words, "filled_mass=14.27g").code == 0
    slip = ("record", "build", "rear-a/2", "filled_mass=1.2g")
    said = bench(*slip)
    assert said.code == 2
    assert "filled_mass: the oil alone, with the scale zeroed on the diff: that makes 13.61 g" in said.err
    assert "where 14.27 g stood" in said.err
    assert bench(*slip, "--yes", "--json").json["values"]["filled_mass_g"] == 13.61
    again = bench("record", "build", "rear-a/2", "filled_mass=1.25g", "--json")
    assert again.json["values"]["filled_mass_g"] == 13.66, "what stood was of a zeroed scale too"


def test_a_filled_mass_that_is_the_same_on_a_zeroed_scale_is_not_asked_about(bench: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-12", "dry_mass=12.41", "target_oil_mass=1.86")
    assert bench(*words, "filled_mass=14.27g").code == 0
    assert bench("record", "build", "rear-a/2", "filled_mass=1.86g").code == 0


def test_a_filled_mass_far_from_the_oil_is_refused(bench: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-05-12", "dry_mass=12.41", "target_oil_mass=1.86")
    assert bench(*words, "filled_mass=0.4g", "--json").json["code"] == "total_below_dry"


def test_a_dry_mass_that_changed_is_said_when_it_is_weighed(bench: Run) -> None:
    done = bench("record", "build", "diff=rear-a", "built_on=2026-06-01", "dry_mass=12.43", "like=rear-a/1")
    said = " ".join(done.out.split())
    assert "12.43 g dry is 0.03 g heavier than on 3 May (rear-a/1: 12.40 g), with nothing noted as changed." in said
    assert "Count shims" in said
    assert "heavier" not in bench("record", "build", "rear-a/2", "hand_feel=smooth").out


def test_an_opened_diff_has_no_dry_mass(bench: Run) -> None:
    bench("record", "opening", "build=rear-a", "opened_on=2026-06-02")
    done = bench("calc", "fill-target", "--for", "rear-a", "--oil-mass", "1.86")
    assert done.code == 2
    assert "There is no dry mass since rear-a/1 was opened on 2 Jun." in done.err
    assert "no dry mass since rear-a/1 was opened on 2 Jun" in " ".join(bench("card", "rear-a").out.split())


def test_after_a_top_up_the_dry_mass_goes_on_holding_and_it_is_said(bench: Run) -> None:
    done = bench("record", "build", "diff=rear-a", "built_on=2026-06-03", "kind=top-up", "like=rear-a/1")
    assert "Dry 12.40 g: dry mass of 3 May, same parts; old oil left inside counts as oil" in " ".join(done.out.split())
    found = bench("calc", "fill-target", "--for", "rear-a", "--oil-mass", "1.86", "--json").json
    assert found["outputs"]["stop_mass_g"] == pytest.approx(14.26)
    assert found["origins"]["dry_mass_g"].endswith(", build rear-a/1"), "it was weighed for that one"


def test_after_a_rebuild_there_is_no_dry_mass_until_one_is_weighed(bench: Run) -> None:
    bench("record", "build", "diff=rear-a", "built_on=2026-06-03", "kind=rebuild", "like=rear-a/1")
    done = bench("calc", "fill-target", "--for", "rear-a", "--oil-mass", "1.86")
    assert "There is no dry mass since rear-a/2 was built on 3 Jun." in done.err


def test_an_oil_change_without_washing_counts_the_old_oil_left_inside(bench: Run) -> None:
    """14.28 g filled less 12.40 g dry of 3 May is 1.88 g."""
    words = ("record", "build", "diff=rear-a", "built_on=2026-06-03", "kind=oil change", "scale=bench")
    done = bench(*words, "filled_mass=14.28")
    assert "oil_mass_g: 1.88" in done.out
    assert "Dry 12.40 g: dry mass of 3 May, same parts; old oil left inside counts as oil" in " ".join(done.out.split())
    assert bench("record", "build", "rear-a/2", "filled_mass=14.27", "--json").json["values"]["oil_mass_g"] == 1.87


def test_an_oil_change_with_washing_has_no_oil_until_it_is_weighed_dry(bench: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-06-03", "kind=oil change", "washed=yes")
    assert "oil_mass_g" not in bench(*words, "filled_mass=14.28", "--json").json["values"]


def test_room_for_heat_takes_the_oil_that_follows_from_two_masses(bench: Run) -> None:
    bench("record", "diff", "rear-a", "free_volume=2.30")
    found = bench("calc", "headspace", "--for", "rear-a", "--viscosity", "7000", "--json").json
    assert found["inputs"]["oil_mass_g"] == 1.86


def test_a_closed_mass_under_the_dry_mass_is_asked_about(bench: Run) -> None:
    refused = bench("record", "build", "rear-a/1", "closed_mass=12.36", "--json")
    assert (refused.code, refused.json["code"], refused.json["field"]) == (2, "implausible", "closed_mass_g")
    assert refused.json["error"] == "less than the dry mass of 12.4 g"
    assert bench("record", "build", "rear-a/1", "closed_mass=12.36", "--yes").code == 0


def test_a_dry_mass_weighed_on_an_opened_diff_is_compared_with_the_last_one(bench: Run) -> None:
    bench("record", "opening", "build=rear-a", "opened_on=2026-06-02")
    words = ("calc", "fill-target", "--for", "rear-a", "--oil-mass", "1.86", "--dry-mass")
    said = " ".join(bench(*words, "12.43").out.split())
    assert "the dry mass is 0.03 g heavier than the last one" in said
    assert "last dry mass 12.4 g (weighed before it was opened, build rear-a/1)" in said
    assert "heavier" not in bench(*words, "12.41").out


def test_an_origin_names_its_record_once_and_no_build_for_the_usual_dry_mass_of_the_diff(bench: Run) -> None:
    bench("record", "diff", "rear-a", "usual_dry_mass=12.45")
    said = " ".join(bench("calc", "fill-target", "--for", "rear-a").out.split())
    assert "dry mass 12.4 g (build rear-a/1);" in said
    assert "last dry mass 12.45 g (the usual dry mass of rear-a);" in said
    of_diff = bench("calc", "fill-target", "--for", "diff:rear-a", "--dry-mass", "12.4", "--oil-mass", "1.86", "--json")
    assert of_diff.json["origins"]["last_dry_mass_g"] == "the usual dry mass of rear-a"


@pytest.mark.parametrize("noted", [(), ("like=front-a/1",)], ids=["nothing noted", "parts of another diff"])
def test_a_dry_mass_far_from_the_last_one_is_asked_about_whatever_was_changed(
    bench: Run, noted: tuple[str, ...]
) -> None:
    """95.1 g less 12.40 g is 82.70 g; other parts explain 2.48 g."""
    bench("record", "diff", "label=front-a", "housing_material=aluminium")
    basis = "mass_basis=open half"
    bench("record", "build", "diff=front-a", "built_on=2026-05-01", "dry_mass=90.0", basis)
    bench("record", "build-shim", "build=front-a/1", "place=behind case-side gear", "thickness=0.3")
    words = ("record", "build", "diff=rear-a", "built_on=2026-06-01", "dry_mass=95.1", basis, *noted)
    refused = bench(*words)
    assert refused.code == 2
    assert "82.70 g more than the last dry mass of this diff (12.40 g, rear-a/1)" in " ".join(refused.err.split())
    assert "--yes" in refused.err
    kept = " ".join(bench(*words, "--yes").out.split())
    assert "82.70 g heavier than on 3 May" in kept
    assert ("more than other shims explains" in kept) is bool(noted)


def test_the_next_dry_mass_of_a_diff_that_is_apart_is_asked_about_too(bench: Run) -> None:
    bench("record", "opening", "build=rear-a", "opened_on=2026-06-02")
    refused = bench("record", "weighing", "build=rear-a", "weighed_on=2026-06-03", "mass=95.1", "--as-dry-mass")
    assert "more than other parts explain" in " ".join(refused.err.split())


def test_a_gram_of_other_parts_is_not_asked_about(bench: Run) -> None:
    words = ("record", "build", "diff=rear-a", "built_on=2026-06-01", "dry_mass=13.60", "parts_on_pan=with the lid")
    assert bench(*words).code == 0
