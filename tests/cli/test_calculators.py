"""``bevelbook calculators --json``: all that a program needs to call a calculator."""

from __future__ import annotations

from collections.abc import Callable

from conftest import Outcome


def test_a_program_reads_what_a_calculator_takes_and_gives(bevelbook: Callable[..., Outcome]) -> None:
    listed = bevelbook("calculators", "--json").json
    assert listed["format"] == 1
    assert listed["left_out"] == []
    (one,) = [one for one in listed["calculators"] if one["name"] == "fill-target"]
    assert (one["package"], one["question"][-1], one["answer"]) == ("bevelbook", "?", "stop_mass_g")
    dry = one["inputs"][0]
    assert (dry["name"], dry["unit"], dry["ucum"], dry["option"]) == ("dry_mass_g", "g", "g", "--dry-mass")
    assert (dry["above"], dry["from"], dry["required"]) == (0, "the build", True)
    assert dry["plausible"][0] < dry["plausible"][1]
    assert {"stop_mass_g", "oil_mass_g"} <= {field["name"] for field in one["outputs"]}
    assert one["one_of"][0]["groups"]
    assert one["worked"][0]["expected"]["stop_mass_g"]
    assert one["schema"]["inputs"]["properties"].keys() == {field["name"] for field in one["inputs"]}
    assert one["sources"] and one["valid"] and one["cautions"]
    assert (one["of"], type(one["kept_after"]), type(one["page"])) == ("build", list, list)
    (shims,) = [one for one in listed["calculators"] if one["name"] == "run-comparison"]
    assert [column["name"] for column in shims["inputs"][0]["items"]]
