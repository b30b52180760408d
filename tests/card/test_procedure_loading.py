"""The steps of a build: the bundled ones, a team's own file, and every fault named with file, line and key."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome
from hypothesis import given
from hypothesis import strategies as st

from bevelbook.card.procedure import bundled_procedure, procedure_from, read_procedure, steps_for
from bevelbook.declare.errors import InputError
from bevelbook.plugin.registry import Registry
from bevelbook.reference import citations

Run = Callable[..., Outcome]

OWN = """
title: "Our way"
cautions: ["scope"]
steps:
  - key: "weigh-dry"
    title: "Weigh"
    do: "Put it on the scale."
    write_down: ["builds.dry_mass_g", "colour of the tray"]
    calculators: ["fill-target"]
    cautions: ["knife", "Mind the cat."]
"""


def test_the_bundled_steps_follow_the_build() -> None:
    """In the order of the work: common practice, no source."""
    procedure = bundled_procedure()
    keys = [step.key for step in procedure.steps]
    wanted = ["weigh-closed-before", "open", "clean", "seals", "shims", "weigh-dry", "fill", "draw-bubbles", "lid-on"]
    wanted += ["screws", "turn-by-hand", "weigh-closed-after"]
    assert [key for key in keys if key in wanted] == wanted
    assert all(step.check for step in procedure.steps)
    assert procedure.source in citations()


def test_the_bundled_steps_name_calculators_that_are_offered(registry: Registry) -> None:
    named = {name for step in bundled_procedure().steps for name in step.calculators}
    assert named <= set(registry.calculators)
    assert {"fill-target", "headspace", "degas", "shims", "seal-swell", "tightening"} <= named


def test_a_teams_own_file_is_taken_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "ours.yaml"
    path.write_text("\ufeff" + OWN, encoding="utf-8")
    procedure = read_procedure(path)
    (step,) = procedure.steps
    assert (procedure.title, procedure.cautions) == ("Our way", ("scope",))
    assert (step.title, step.check) == ("Weigh", "")
    assert step.write_down == ("builds.dry_mass_g", "colour of the tray")
    assert step.cautions == ("knife", "Mind the cat.")


def test_a_step_says_for_which_builds_it_is_and_which_screen_takes_it() -> None:
    own = OWN.replace(
        '    do: "P', '    for: ["new", "rebuild"]\n    when: "gears are new"\n    screen: "weigh-dry"\n    do: "P'
    )
    procedure = procedure_from(own, "ours.yaml")
    (step,) = procedure.steps
    assert (step.kinds, step.when, step.screen) == (("new", "rebuild"), "gears are new", "weigh-dry")
    assert step.heading == "Weigh when gears are new"
    assert steps_for(procedure, "rebuild") == steps_for(procedure, "new", gears_are_new=False) == (step,)
    assert steps_for(procedure, None) == (step,)
    assert steps_for(procedure, "oil change") == steps_for(procedure, "rebuild", gears_are_new=False) == ()


@pytest.mark.parametrize(("typed", "waits"), [("yes", True), ("no", False), ('"yes"', True), ('"no"', False)])
def test_a_step_says_whether_it_waits(typed: str, waits: bool) -> None:
    (step,) = procedure_from(OWN.replace('    do: "P', f'    waits: {typed}\n    do: "P'), "ours.yaml").steps
    assert step.waits == waits


FAULTS = {
    "not YAML": ("title: [", 1, "not valid YAML"),
    "a list": ("- title", 1, "a title and steps"),
    "nothing": ("", 1, "a title and steps"),
    "misspelt key": (OWN.replace('title: "Our', 'titel: "Our'), 2, "Did you mean title?"),
    "misspelt key of a step": (OWN.replace('cautions: ["kn', 'caution: ["kn'), 10, "Did you mean cautions?"),
    "key of a step missing": (OWN.replace('    do: "Put it on the scale."\n', ""), 5, "step weigh-dry has no do"),
    "title missing": (OWN.replace('title: "Our way"\n', ""), 2, "the procedure has no title"),
    "key twice": (OWN.replace('    do: "P', '    title: "Again"\n    do: "P'), 7, "twice"),
    "no for a text": (OWN.replace('"Our way"', "no"), 2, 'found "no", wanted text in quotes'),
    "a time for a text": (OWN.replace('"Our way"', "13:37"), 2, 'found "13:37"'),
    "a day for a text": (OWN.replace('"Put it on the scale."', "2026-05-03"), 7, "step weigh-dry, do"),
    "an empty text": (OWN.replace('"Weigh"', '" "'), 6, "empty"),
    "a number in a list": (OWN.replace('"Mind the cat."', "7"), 10, "step weigh-dry, cautions"),
    "a text for a list": (OWN.replace('["fill-target"]', '"fill-target"'), 9, "not a list"),
    "unknown caution": (OWN.replace('"knife"', '"knive"'), 10, "Did you mean knife?"),
    "unknown caution of all": (OWN.replace('"scope"', '"scoop"'), 3, "Did you mean scope?"),
    "unknown column": (OWN.replace("dry_mass_g", "dry_mas_g"), 8, "Did you mean builds.dry_mass_g"),
    "unknown table": (OWN.replace("builds.dry_mass_g", "tray"), 8, "no column"),
    "unknown kind of build": (
        OWN.replace('    do: "P', '    for: ["rebiuld"]\n    do: "P'),
        7,
        "Did you mean rebuild?",
    ),
    "unknown screen": (OWN.replace('    do: "P', '    screen: "poor"\n    do: "P'), 7, "Did you mean pour?"),
    "neither yes nor no": (
        OWN.replace('    do: "P', '    waits: 10\n    do: "P'),
        7,
        'step weigh-dry, waits: this is neither yes nor no, found "10", wanted yes or no.',
    ),
    "no steps": (OWN[: OWN.index("steps:")] + "steps: []", 4, "no steps"),
    "steps are not a list": (OWN[: OWN.index("steps:")] + 'steps: "all"', 4, "no steps"),
    "a step is a text": (OWN[: OWN.index("steps:")] + 'steps: ["weigh"]', 4, "a list of keys"),
    "one key for two": (OWN + OWN[OWN.index("  - key") :], 11, "two steps share a key"),
    "a list as a key's value": (
        OWN.replace('"weigh-dry"', '["dry"]'),
        5,
        'step, key: this is not text, found "a list", wanted one text.',
    ),
    "no value of a key": (OWN.replace('"weigh-dry"', ""), 5, "line 5, step, key: this is not text"),
    "capital key": (OWN.replace('"weigh-dry"', '"Weigh Dry"'), 5, "lower-case"),
    "an object of Python": (OWN.replace('"Our way"', "!!python/object/apply:os.system ['true']"), 2, "is not allowed"),
    "two documents": (OWN + "---\n" + OWN, 11, "not valid YAML"),
    "a key that is a list": ("? [a]\n: b\n", 1, "a key is a list"),
    "a merged key": ("a: &a\n  title: x\n<<: *a\n", 1, "no key"),
}


@pytest.mark.parametrize(("text", "line", "said"), FAULTS.values(), ids=FAULTS)
def test_a_fault_names_file_and_line(text: str, line: int, said: str) -> None:
    with pytest.raises(InputError) as raised:
        procedure_from(text, "ours.yaml")
    assert raised.value.place.file == "ours.yaml"
    assert raised.value.place.line == line, str(raised.value)
    assert said in str(raised.value)


@pytest.mark.parametrize("text", ["[" * 5000, "a: " * 3000, "\x00", "\ud800"], ids=["deep", "colons", "nul", "half"])
def test_text_that_no_reader_can_take_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        procedure_from(text, "ours.yaml")


@given(st.text(max_size=80) | st.text('abt:[]{}"-\n &*?!|>#%@', max_size=60))
def test_any_text_at_all_ends_in_words(text: str) -> None:
    with pytest.raises(InputError) as raised:
        procedure_from(text, "ours.yaml")
    assert str(raised.value)


@given(st.data())
def test_any_value_in_any_place_is_read_or_refused_in_words(data: st.DataObject) -> None:
    """The own file with one of its values put out for something else of YAML's."""
    import yaml

    found = yaml.safe_load(OWN)
    odd = data.draw(st.none() | st.booleans() | st.integers() | st.text(max_size=9) | st.lists(st.text(max_size=5)))
    place = data.draw(st.sampled_from([found, found["steps"][0]]))
    place[data.draw(st.sampled_from(sorted(place)))] = odd
    try:
        assert procedure_from(yaml.safe_dump(found), "ours.yaml").steps
    except InputError as fault:
        assert fault.place.file == "ours.yaml"


def test_the_command_prints_a_fault_of_the_file(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    path = tmp_path / "ours.yaml"
    path.write_text(OWN.replace('"knife"', '"knive"'), encoding="utf-8")
    done = bevelbook("--db", db, "card", "rear-a", "--procedure", path)
    assert done.code == 2
    assert f'{path}, line 10, step weigh-dry, cautions: there is no caution named "knive"' in done.err
