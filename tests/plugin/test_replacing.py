"""What is bundled keeps its names whatever other plugins are called; one that replaces a calculator says so."""

from __future__ import annotations

from collections.abc import Callable
from importlib.metadata import entry_points
from pathlib import Path
from typing import Final

import pytest
from browser_team import site_over
from conftest import Outcome

from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.fields import fields_of
from bevelbook.plugin.registry import GROUP, Registry, load

_LOADED: Final = ("charts", "headspace", "reference_tables", "seal_swell")
BUNDLED: Final = [one for one in entry_points(group=GROUP) if one.name in _LOADED]
OWN: Final = """
from bevelbook import Calculator, Chart, Judgement, Source, Worked, hookimpl, quantity, record
from bevelbook.reference import DataSet

ARITHMETIC = Source("computed", "arithmetic")

@record
class Given:
    mass_g: float = quantity("g", "Mass", same_as="builds.dry_mass_g")

@record
class Found:
    double_g: float = quantity("g", "Twice the mass")

@hookimpl
def bevelbook_calculators():
    return [Calculator(
        name="{name}", title="Doubling", question="What is twice that?", purpose="twice a mass", version={version},
        given=Given, found=Found, compute=lambda given: Found(double_g=2 * given.mass_g),
        judge=lambda given, found: Judgement("ok", ("twice",)), working=lambda given, found: ("2 m",),
        valid=("any mass",), sources=(ARITHMETIC,),
        worked=(Worked({{"mass_g": "1"}}, {{"double_g": 2.0}}, 0, ARITHMETIC),),
        answer="double_g", of="{of}", replaces={replaces},
    )]

@hookimpl
def bevelbook_charts():
    return [Chart("fills", "Mine", "Points.", (("x", "X"),), {{"mark": "point"}}, points=lambda given: [])]

@hookimpl
def bevelbook_datasets():
    return [DataSet("oring_sizes", "Mine", "bevelbook_datasets", "cautions.csv")]
"""


def own(name: str, replaces: str | None = None, version: int = 1, of: str = "seal_fitting") -> str:
    return OWN.format(name=name, version=version, replaces=repr(replaces), of=of)


@pytest.fixture
def loaded(tmp_path: Path) -> Callable[..., Registry]:
    """The bundled calculator of seals, and files of a folder."""

    def load_with(**files: str) -> Registry:
        for name, text in files.items():
            (tmp_path / f"{name}.py").write_text(text, encoding="utf-8")
        return load(entry_points=BUNDLED, folder=tmp_path)

    return load_with


def test_what_is_bundled_keeps_its_names_whatever_an_entry_point_is_called(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "early_bird.py").write_text(own("seal-swell"), encoding="utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    early = type(BUNDLED[0])("aaa", "early_bird", GROUP)
    registry = load(entry_points=[early, *BUNDLED])
    before = load(entry_points=BUNDLED)
    assert registry.calculator("seal-swell").origin.is_bundled
    assert registry.calculator("seal-swell").calculator.card is not None
    assert registry.charts() == before.charts()
    assert registry.datasets() == before.datasets()
    reasons = {one.reason for one in registry.failures if one.origin.plugin == "aaa"}
    assert len(reasons) == len(registry.failures) == 3
    (of_name,) = (one for one in reasons if "say replaces='seal-swell' too" in one)
    assert "is offered by plugin seal_swell (bevelbook" in of_name
    assert any("reference table 'oring_sizes' is there already" in one for one in reasons)
    assert any("chart 'fills' is offered by plugin charts (bevelbook" in one for one in reasons)


def test_one_that_replaces_another_takes_its_place_under_a_name_of_its_own(loaded: Callable[..., Registry]) -> None:
    registry = loaded(ours=own("our-swell", "seal-swell"))
    assert registry.failures == []
    found = registry.calculator("seal-swell")
    assert found is registry.calculator("our-swell")
    assert found.calculator.replacing == "replaces the bundled seal-swell, by plugin ours"
    before = registry.declared("seal-swell")
    assert before is not None
    assert before.origin.is_bundled, "its kept results are still read by its own declaration"
    assert [one.calculator.name for one in registry.with_rows()] == ["headspace", "our-swell", "seal-swell"]
    assert list(registry.calculators) == ["headspace", "our-swell"]
    assert [one.calculator.name for one in registry.kept_after()] == ["our-swell"]
    assert [one.name for one in registry.on_card("seals")] == ["our-swell"]
    assert found.calculator.kept_after == before.calculator.kept_after


def test_a_curve_of_the_replaced_one_is_drawn_where_the_other_has_its_inputs(loaded: Callable[..., Registry]) -> None:
    assert "heat-room" in {one.name for one in load(entry_points=BUNDLED).charts()}
    registry = loaded(ours=own("our-room", "headspace", of="build"))
    assert "heat-room" not in {one.name for one in registry.charts()}
    why = str(registry.why_left_out("heat-room"))
    assert "which our-room does not have, and that replaces the bundled headspace, by plugin ours" in why
    assert [one.origin.plugin for one in registry.failures] == ["ours"], "of its own chart alone"


def test_under_the_same_name_its_version_has_to_be_higher(loaded: Callable[..., Registry]) -> None:
    version = load(entry_points=BUNDLED).calculator("seal-swell").calculator.version
    registry = loaded(ours=own("seal-swell", "seal-swell", version))
    assert registry.calculator("seal-swell").origin.is_bundled
    (failure,) = (one for one in registry.failures if one.origin.plugin == "ours")
    assert f"raise its version above {version}, or give it a name of its own" in failure.reason
    registry = loaded(ours=f"{own('seal-swell', 'seal-swell', version + 1)}# another size for Python's cache")
    assert registry.failures == []
    assert registry.calculator("seal-swell").origin.plugin == "ours"
    assert [field.name for field in fields_of(registry.calculator("seal-swell").calculator.given)] == ["mass_g"]


def test_of_two_that_replace_the_same_one_the_first_is_kept_and_both_are_named(
    loaded: Callable[..., Registry],
) -> None:
    registry = loaded(a_first=own("our-swell", "seal-swell"), b_second=own("their-swell", "seal-swell"))
    assert registry.calculator("seal-swell").origin.plugin == "a_first"
    (failure,) = registry.failures
    assert failure.origin.plugin == "b_second"
    assert "'their-swell' replaces seal-swell, which the calculator our-swell of plugin a_first" in failure.reason


def test_whatever_the_order_of_names_and_in_a_row(loaded: Callable[..., Registry]) -> None:
    registry = loaded(a=own("third", "second"), b=own("second", "first"), c=own("first", of="build"))
    assert registry.failures == []
    assert {registry.calculator(name).calculator.name for name in ("first", "second", "third")} == {"third"}


@pytest.mark.parametrize("replaces", ["seal-swel", "ours"])
def test_one_that_replaces_nothing_is_left_out_with_near_misses(loaded: Callable[..., Registry], replaces: str) -> None:
    registry = loaded(ours=own("ours", replaces))
    assert list(registry.calculators) == ["headspace", "seal-swell"]
    (failure,) = registry.failures
    assert f"'ours' replaces {replaces!r}, which no plugin offers." in failure.reason
    assert ("Did you mean seal-swell?" in failure.reason) == (replaces == "seal-swel")


def test_a_calculator_that_was_left_out_says_so_where_it_is_asked_for(
    loaded: Callable[..., Registry], db: Path
) -> None:
    registry = loaded(ours=own("ours", "nothing-there"))
    with pytest.raises(UnknownNameError, match="It was left out: calculator 'ours' replaces 'nothing-there', which no"):
        registry.calculator("ours")
    with site_over(db, registry) as site:
        answer = site.get("/team/-/calc/ours?mass_g=3")
        assert (answer.status_code, site.get("/team/-/calc/ours.json?mass_g=3").status_code) == (404, 404)
    assert "It was left out: calculator" in answer.text


def test_command_and_list_say_what_it_replaces(bevelbook: Callable[..., Outcome], tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "ours.py").write_text(own("our-fill", "fill-target", of="build"), encoding="utf-8")
    words = "replaces the bundled fill-target, by plugin ours"
    computed = bevelbook("--plugins", "mine", "calc", "fill-target", "--mass", "3 g", "--json")
    assert (computed.json["calculator"], computed.json["replaces"]) == ("our-fill", "fill-target")
    assert computed.json["outputs"] == {"double_g": 6.0}
    assert words in bevelbook("--plugins", "mine", "calc", "our-fill", "--mass", "3 g").out
    listed = bevelbook("--plugins", "mine", "calculators")
    assert words in listed.out
    assert "\nfill-target" not in listed.out
    plugins = {one["name"]: one for one in bevelbook("--plugins", "mine", "plugin", "list", "--json").json["plugins"]}
    assert plugins["ours"]["replaces"] == [f"our-fill {words}"]
    assert plugins["fill_target"]["replaces"] == ["fill-target is replaced by our-fill, of plugin ours"]
    assert plugins["fill_target"]["calculators"] == ["fill-target"]
