"""Units that a plugin brings: read, shown, exported and documented like those of the program; and the words for what is
not one, has the wrong name, or contradicts another."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path

import pytest
from browser_team import Site, Team, make_team, site_over
from conftest import Outcome

from bevelbook.declare.fields import fields_of, quantity, record
from bevelbook.declare.known_units import KNOWN, OF_CORE
from bevelbook.declare.units import Unit, fault_of_unit
from bevelbook.plugin.registry import Registry, load
from bevelbook.reading import ReadingError, read

Run = Callable[..., Outcome]

PLUGIN = '''"""Corners of an invented track. A dash is 0.5 m/s; the dial of an oven is at 0 at -10 °C."""

from bevelbook import Calculator, Judgement, Source, Unit, Worked, hookimpl, quantity, record

ARITHMETIC = Source("computed", "speeds by hand")


@record
class Given:
    speed_km_h: float = quantity("km/h", "Speed on the straight", minimum=0, plausible=(1, 90))
    pace_dash: float | None = quantity("dash", "Speed in the corner", default=None)
    oven_dial: float | None = quantity("dial", "What the oven shows", default=None)
    gear: float = quantity("1", "Turns of the motor for one of the wheel", default=3.1)
    grip: float = quantity("1", "Of the grip that is used", default=0.5, minimum=0, maximum=1)


@record
class Found:
    speed_m_s: float = quantity("m/s", "The same speed")
    turns_per_min: float = quantity("1/min", "Of a wheel of 0.06 m across")
    warm_c: float | None = quantity("°C", "Of the oven")


def compute(given):
    speed_m_s = given.speed_km_h / 3.6
    warm_c = None if given.oven_dial is None else 2.5 * given.oven_dial - 10
    return Found(speed_m_s=speed_m_s, turns_per_min=speed_m_s * 60 / (0.06 * 3.141592653589793), warm_c=warm_c)


CORNER = Calculator(
    name="corner",
    title="Corner",
    question="How fast is that?",
    purpose="a speed in other units",
    version=1,
    given=Given,
    found=Found,
    compute=compute,
    judge=lambda given, found: Judgement("ok", (f"{found.speed_m_s:.3g} m/s",)),
    working=lambda given, found: (f"{given.speed_km_h:g} km/h / 3.6 = {found.speed_m_s:.4g} m/s",),
    valid=("any speed",),
    sources=(ARITHMETIC,),
    worked=(Worked({"speed_km_h": "36 km/h"}, {"speed_m_s": 10.0}, 1e-9, ARITHMETIC),),
    answer="speed_m_s",
)


@hookimpl
def bevelbook_units():
    return (
        Unit("dash", "a speed", 0.5, "_dash", any_case="dashes", ucum="{dash}", decimals=1),
        Unit("dial", "a temperature", 2.5, "_dial", offset=-10.0, ucum="{dial}"),
    )


@hookimpl
def bevelbook_calculators():
    return (CORNER,)
'''


def in_words(page: str) -> str:
    """What a page says, without its tags and with plain blanks."""
    return " ".join(re.sub(r"<[^>]*>", " ", unescape(page)).split())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plugins")
    (folder / "corner.py").write_text(PLUGIN, encoding="utf-8")
    return folder


@pytest.fixture
def corner(bevelbook: Run, folder: Path) -> Run:
    """The command with the plugin, which is examined before the first of them."""
    return lambda *said: bevelbook("--plugins", folder, *said)


@pytest.fixture(scope="module")
def loaded(folder: Path) -> Registry:
    return load(folder=folder)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, loaded: Registry) -> Iterator[tuple[Site, Team]]:
    team = make_team(tmp_path_factory.mktemp("site") / "team.db", "short")
    from_here, loaded.loaded_from = loaded.loaded_from, None
    with site_over(team.path, loaded) as site:
        yield site, team
    loaded.loaded_from = from_here


@pytest.mark.parametrize(
    ("typed", "m_s"),
    [("36", "10.00 m/s"), ("36 km/h", "10.00 m/s"), ("10 m/s", "10.00 m/s"), ("22 mph", "9.83 m/s"),
     ("20 dashes", "10.00 m/s"), ("36 +/- 3.6 km/h (k = 2)", "10.0 ± 1.0 m/s (k = 2)")],
)  # fmt: skip
def test_the_command_reads_a_speed_in_any_unit_of_speed(corner: Run, typed: str, m_s: str) -> None:
    assert m_s in corner("calc", "corner", "--speed", typed).out


def test_the_page_reads_them_too_and_names_the_unit(site: tuple[Site, Team]) -> None:
    page, _ = site
    form = page.page("/team/-/calc/corner")
    assert '<span class="unit" id="speed_km_h-unit">km/h</span>' in form
    assert '<span class="unit" id="pace_dash-unit">dash</span>' in form
    for typed in ("36", "36+km/h", "10+m/s", "20+dashes"):
        answer = in_words(page.page(f"/team/-/calc/corner?speed_km_h={typed}"))
        assert "10.00 m/s" in answer and "3,183 1/min" in answer
    assert "a speed is needed" in in_words(page.page("/team/-/calc/corner?speed_km_h=36+grams", status=400))


def test_a_unit_with_a_zero_of_its_own_converts_with_it_and_its_uncertainty_without(corner: Run) -> None:
    """12 on the dial is 12 x 2.5 - 10 = 20 °C, or 68 °F; 1.8 °F are 1 °C, 0.4 on the dial."""
    out = corner("calc", "corner", "--speed", "36", "--oven", "68 °F +/- 1.8 °F (k = 2)").out
    assert "20.0 ± 1.0 °C (k = 2)" in out and "oven 12 ± 0.4 dial (k = 2)" in out
    assert "oven 12 dial" in corner("calc", "corner", "--speed", "36", "--oven", "20 °C").out


def test_programs_get_its_code_and_people_its_page(corner: Run) -> None:
    (said,) = [one for one in corner("calculators", "--json").json["calculators"] if one["name"] == "corner"]
    assert {one["unit"]: one["ucum"] for one in said["inputs"]}["dash"] == "{dash}"
    assert [one["ucum"] for one in said["outputs"][:2]] == ["m/s", "/min"]
    units = corner("help", "units").out
    assert "Speed, kept in m/s, km/h, mph or dash, as its field says" in units and "dash  also dashes" in units
    assert "--pace [dash]" in corner("calc", "corner", "--help").out


def test_kept_rows_say_it_in_their_view_and_its_export(corner: Run, bevelbook: Run, tmp_path: Path) -> None:
    assert bevelbook("--db", "team.db", "--by", "ana", "new").code == 0
    assert corner("--db", "team.db", "--by", "ana", "calc", "corner", "--speed", "36", "--keep").code == 0
    assert corner("--db", "team.db", "export", "--table", "calc_corner", "--parquet", "rows.parquet").code == 0
    from pyarrow.parquet import read_schema

    said = {field.name: field.metadata or {} for field in read_schema("rows.parquet")}
    assert said["speed_km_h"][b"ucum"] == b"km/h" and said["speed_m_s"][b"ucum"] == b"m/s", said


@pytest.mark.parametrize(
    ("option", "typed", "answer"),
    [
        ("--gear", "36%", "Write 36, or 0.36 if a share is meant."),
        ("--gear", "3 km/h", "a plain number without a unit is needed"),
        ("--grip", "50 km/h", "a share is needed"),
        ("--speed", "36 kmhh", "Did you mean kmh"),
        ("--speed", "50%", "a speed is needed"),
    ],
)
def test_what_does_not_fit_is_refused_with_what_to_write(corner: Run, option: str, typed: str, answer: str) -> None:
    refused = corner("calc", "corner", "--speed", "36", option, typed)
    assert refused.code == 2 and answer in refused.err


def test_only_a_share_takes_a_percent_sign(registry: Registry) -> None:
    """A share by its name or by its upper bound; of all bundled inputs and of the records' fields."""
    calculators = [one.calculator for one in registry.calculators.values()]
    listed = [(one.name, field) for one in calculators for field in one.inputs]
    listed += [(name, part) for name, field in listed for part in fields_of(field.item)]
    inputs = [(name, field) for name, field in listed if field.unit == "1"]
    assert len(inputs) > 5
    for calculator, field in inputs:
        is_share = field.name.endswith(("fraction", "share")) or 0 < min(field.maximum or 9, field.below or 9) <= 1
        assert field.is_fraction == is_share, (calculator, field.name)
        if is_share:
            assert read(field, "50 %") == 0.5
        else:
            with pytest.raises(ReadingError, match="a plain number is needed"):
                read(field, "50 %")


def test_the_unit_of_a_calculator_in_the_same_file_is_known_when_the_calculator_is_taken(loaded: Registry) -> None:
    assert loaded.failures == [] and "corner" in loaded.calculators
    assert (KNOWN.said_by("pace_dash"), OF_CORE.said_by("pace_dash")) == ("dash", None)


def unit_file(units: str, before: str = "") -> str:
    return f"from bevelbook import Unit, hookimpl\n{before}\n@hookimpl\ndef bevelbook_units():\n    return ({units},)\n"


@pytest.mark.parametrize(
    ("unit", "reason"),
    [
        ('Unit("fur", "a speed", 0.0, "_fur", ucum="fur")', "its factor is 0.0, where a number more than 0 is wanted"),
        ('Unit("fur", "a speed", float("nan"), "_fur", ucum="fur")', "its factor is nan"),
        ('Unit("fur", "a speed", 2.0, "_fur", offset=float("inf"), ucum="fur")', "its offset is inf"),
        ('Unit("fur", "a speed", "2", "_fur", ucum="fur")', "its factor is '2'"),
        ('Unit("fur", "speed", 2.0, "_fur", ucum="fur")', "say what it measures with its article, as in 'a speed'"),
        ('Unit("fur", "a speed", 2.0, "fur", ucum="fur")', "its suffix is 'fur', where small letters after a _"),
        ('Unit("fur", "a speed", 2.0, "_fur")', "it has no ucum"),
        ('Unit("fur long", "a speed", 2.0, "_fur", ucum="fur")', "a short word without blanks"),
        ('Unit("fur", "a speed", 2.0, "_fur", ucum="fur long")', "its ucum is 'fur long'"),
        ('"fur"', "it is not a Unit"),
        ('Unit("fur", "a mass", 2.0, "_g", ucum="fur")', "its suffix _g is that of g (of the program)"),
        ('Unit("g", "a force", 2.0, "_gf", ucum="gf")', "there is a unit g already, a mass with the suffix _g"),
        ('Unit("fur", "a mass", 2.0, exact="kg")', "kg is one of kg already, which is another size of mass"),
        ('Unit("fur", "a mass", 2.0, any_case="GR")', "gr has two meanings and is always refused"),
        ('Unit("fur", "a grip", 2.0, "_mass_g", ucum="fur")', "ends in its suffix _mass_g"),
        (r'Unit("da\nsh", "a speed", 1.0, "_dash")', r"returned da\nsh: its name has signs that cannot be printed"),
    ],
)  # fmt: skip
def test_a_unit_that_is_none_or_contradicts_the_program_is_named_and_left_out(
    tmp_path: Path, unit: str, reason: str
) -> None:
    sound = 'Unit("bolt", "a bolt", 2.0, "_bolt", ucum="{bolt}")'
    (tmp_path / "own.py").write_text(unit_file(f"{unit}, {sound}"), encoding="utf-8")
    registry = load(entry_points=(), folder=tmp_path)
    (failure,) = registry.failures
    assert failure.reason.startswith("bevelbook_units returned ") and reason in failure.reason
    assert failure.origin.file.endswith("own.py") and "bolt" in KNOWN.by_name


def test_of_two_plugins_that_contradict_each_other_the_later_one_is_named(tmp_path: Path) -> None:
    first = 'Unit("stride", "a stride", 0.7, "_stride", ucum="{stride}")'
    (tmp_path / "a_first.py").write_text(unit_file(first), encoding="utf-8")
    (tmp_path / "b_same.py").write_text(unit_file(first), encoding="utf-8")
    (tmp_path / "c_other.py").write_text(unit_file(first.replace("0.7", "0.8")), encoding="utf-8")
    registry = load(entry_points=(), folder=tmp_path)
    (failure,) = registry.failures
    assert (
        failure.origin.plugin == "c_other" and "a_first" in failure.reason and "a unit stride already" in failure.reason
    )
    assert KNOWN.by_name["stride"].factor == 0.7


def test_a_hook_that_fails_leaves_the_rest(tmp_path: Path) -> None:
    (tmp_path / "own.py").write_text(unit_file("1 / 0"), encoding="utf-8")
    (failure,) = load(entry_points=(), folder=tmp_path).failures
    assert "bevelbook_units raised ZeroDivisionError" in failure.reason and "own.py, line 5" in failure.reason


@pytest.mark.parametrize(
    ("declared", "reason"),
    [
        ('speed_km_h: float = quantity("m/s", "x")',
         "declared in m/s, but its name says km/h: call it speed_m_s, or declare it in km/h"),
        ('speed: float = quantity("km/h", "x")', "its name says no unit: call it speed_km_h"),
        ('speed_km_h: float = quantity("1", "x")', "declared in 1, but its name says km/h: call it speed"),
        ('mass_g: float = quantity("gramms", "x")',
         "there is no unit of that name. Did you mean g (its name would end in _g)? Known are g, cSt"),
        ('mass_g: float = quantity("grammes", "x")', "but its name says g: declare it in g"),
        ('speed: float = quantity("kmh", "x")', "Declare it in km/h: call it speed_km_h"),
        ('wear: float = quantity("mg", "x")', "which is a way to type a mass, and no field is declared in it"),
        ('pull_ohm: float = quantity("ohm", "x")', "a plugin adds its own by the hook bevelbook_units"),
    ],
)  # fmt: skip
def test_a_field_whose_unit_is_none_or_is_not_in_its_name_is_answered_with_what_to_write(
    tmp_path: Path, declared: str, reason: str
) -> None:
    text = PLUGIN.replace('speed_km_h: float = quantity("km/h", "Speed on the straight", minimum=0, plausible=(1, 90))',
                          declared).replace("Corner", "Bend").replace("corner", "bend")  # fmt: skip
    text = text.replace("bevelbook_units", "units").replace("@hookimpl\ndef units", "def units")
    text = text.replace('    pace_dash: float | None = quantity("dash", "Speed in the bend", default=None)\n', "")
    text = text.replace('    oven_dial: float | None = quantity("dial", "What the oven shows", default=None)\n', "")
    (tmp_path / "bend.py").write_text(text, encoding="utf-8")
    registry = load(folder=tmp_path)
    assert "bend" not in registry.calculators
    (failure,) = registry.failures
    assert reason in failure.reason


def test_a_unit_by_itself_is_judged_in_words() -> None:
    assert fault_of_unit(Unit("km/h", "a speed", 1 / 3.6, "_km_h", ucum="km/h")) is None
    assert "decimals" in (fault_of_unit(Unit("km/h", "a speed", 1.0, decimals=-1)) or "")


def test_a_later_units_suffix_does_not_change_a_record_of_the_program() -> None:
    """A record of core is judged by core's units, whatever plugins add."""
    KNOWN.take("a test", (Unit("span", "a span", 1.0, "_span", ucum="{span}"),))
    try:
        body = {"__annotations__": {"wing_span": float}, "wing_span": quantity("1", "x")}
        record(type("Wing", (), {**body, "__module__": "bevelbook.records.wing"}))
    finally:
        KNOWN.take("a test", ())
