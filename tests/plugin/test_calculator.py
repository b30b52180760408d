"""The calculator contract, and every worked example of every bundled calculator."""

from __future__ import annotations

from typing import Any

import pytest
from declared_calculator import Found, Given, declared, example

from bevelbook.calculating.binding import check_same_as
from bevelbook.calculating.calculate import bind, plain, run
from bevelbook.calculating.result_text import result_lines
from bevelbook.calculating.rows import RowWriter
from bevelbook.declare.errors import DeclarationError, InputError, PluginFault
from bevelbook.declare.fields import choice, listing, quantity, record, record_from, whole
from bevelbook.plugin.calculator import Calculator, OneOf, Worked
from bevelbook.plugin.on_bench import OnBench
from bevelbook.plugin.registry import Offered, Origin, Registry, load
from bevelbook.plugin.returned_values import Judgement
from bevelbook.plugin.where_shown import ForConditions, ForForecast, OnCard, ShownInput, Supplied, Where
from bevelbook.reference import RULES_FIRST, rows

ALL = [offered.calculator for offered in load().calculators.values()]
EXAMPLES = [
    pytest.param(calculator, worked, id=f"{calculator.name}-{number}")
    for calculator in ALL
    for number, worked in enumerate(calculator.worked, start=1)
]


@record
class WithWord:
    word: str = choice(("even", "\ud800"), "A word")


@record
class WithDefault:
    count: int = whole("Pieces", default=2**63)


@record
class Piece:
    mass_g: float = quantity("g", "Mass of a piece", default=float("inf"))


@record
class OfPieces:
    double_g: float = quantity("g", "Twice the mass")
    pieces: tuple[Piece, ...] = listing(Piece, "Pieces", default=())


@pytest.mark.parametrize(("calculator", "worked"), EXAMPLES)
def test_a_worked_example_comes_out_as_its_source_prints_it(calculator: Calculator[Any, Any], worked: Worked) -> None:
    result = run(calculator, bind(calculator, worked.given))
    for name, expected in worked.expected.items():
        found = result.outputs[name]
        if isinstance(expected, float | int):
            assert found == pytest.approx(expected, abs=worked.tolerance), (name, worked.source.cite())
        else:
            assert found == expected, (name, worked.source.cite())
    if worked.verdict:
        assert result.verdict == worked.verdict, result.judgement


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_a_bundled_calculator_takes_its_cautions_from_the_table(calculator: Calculator[Any, Any]) -> None:
    assert set(calculator.declared_cautions) <= {row["key"] for row in rows("cautions.csv")}
    assert len(calculator.cautions) == len(calculator.declared_cautions)


def test_a_plugin_may_give_a_caution_in_words_of_its_own() -> None:
    assert declared(cautions=("Mind the gap.", "hot-parts")).cautions == (
        "Mind the gap.",
        "Let motor, diff and pack cool before you touch them.",
    )


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_cautions_end_with_one_line_and_no_cautions_say_nothing(calculator: Calculator[Any, Any]) -> None:
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    for explain in (False, True):
        lines = list(result_lines(result, explain=explain))
        last = max((place for place, line in enumerate(lines) if line.startswith("Caution: ")), default=None)
        assert lines.count(RULES_FIRST) == bool(calculator.cautions)
        assert (last is None) is not bool(calculator.cautions)
        if last is not None:
            assert all(line.startswith("  ") for line in lines[last + 1 : lines.index(RULES_FIRST)])
            said = calculator.cautions if explain else calculator.short_cautions
            printed = " ".join(" ".join(lines).split())
            assert all(f"Caution: {one}" in printed for one in said)
            is_shorter = calculator.short_cautions != calculator.cautions
            assert (lines[-1] == f"The cautions in full: bevelbook help {calculator.name}") is (
                is_shorter and not explain
            )


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_every_bundled_calculator_is_whole(calculator: Calculator[Any, Any]) -> None:
    assert calculator.question.endswith("?")
    assert calculator.valid
    assert all(source.cite() for source in calculator.sources)
    for field in (*calculator.inputs, *calculator.outputs):
        assert field.about, field.name
    for field in calculator.inputs:
        if field.same_as:
            check_same_as(field.same_as)
    calculator.check_records()
    options = [field.option for field in calculator.inputs]
    assert len(options) == len(set(options))
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    assert result.judgement.reasons
    assert result.working()


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"name": "Not A Name"}, "lower-case"),
        *(({"version": wrong}, "the version is a whole number from 1 to 9,2") for wrong in (0, 2**63, True, 1.0, "1")),
        ({"given": WithWord}, "word: its words have .*ud800', which cannot be written as UTF-8"),
        (
            {"given": WithDefault},
            "count: it is 9223372036854775808, not a whole number up to 9,2.* where nothing is given",
        ),
        ({"found": OfPieces}, "mass_g: it is inf, not a number, where nothing is given"),
        ({"valid": (3,)}, "valid has to be a tuple of str"),
        ({"valid": ("\ud800",)}, "valid has .*which cannot be written as UTF-8"),
        ({"worked": (example(given={"mass_g": object()}),)}, "worked example 1: the input 'mass_g' has <object"),
        ({"worked": (example(given={"mass_g": ["1", 2]}),)}, "the input 'mass_g' has 2 where words are wanted"),
        ({"worked": (example(given=None),)}, "given is None, where a dict of texts is wanted"),
        (
            {"worked": (example(expected={"double_g": [2]}),)},
            "'double_g' is expected to be .2., where a number or a word",
        ),
        ({"worked": (example(expected=3),)}, "expected is 3, where a dict is wanted"),
        ({"worked": (example(tolerance="0.1"),)}, "the tolerance is '0.1', where a number is wanted"),
        ({"worked": (example(source="a book"),)}, "the source is 'a book', where a Source is wanted"),
        ({"worked": (example(verdict="fine"),)}, "the verdict is 'fine', which is none of ok, caution"),
        ({"worked": ()}, "no worked example"),
        ({"sources": ()}, "no source"),
        ({"given": object}, "not a record"),
        ({"given": type("Below", (WithWord,), {})}, "not a record: it has to be made by @record, and no subclass"),
        ({"answer": "x"}, "is not an output"),
        ({"one_of": (OneOf((("nothing",),)),)}, "is not an input"),
        ({"read_now": ("nothing",)}, "read_now names nothing, which is not an input"),
        ({"read_now": "mass_g"}, "read_now has to be a tuple of str"),
        ({"seen_first": ("nothing",)}, "seen_first names nothing, which is not an input"),
        ({"page": ("weighing",)}, "pages that offer calculators: build, diff, fluid, venue"),
        ({"for_forecast": ForForecast(hotter_by_c="nothing")}, "for_forecast names nothing, which is not an input"),
        ({"for_conditions": ForConditions("mass_g", "nothing")}, "for_conditions names nothing, which is not an input"),
        ({"bench": OnBench(asks=("nothing",))}, "bench names nothing, which is not an input"),
        ({"bench": "slowly"}, "bench has to be an OnBench"),
        ({"card": OnCard("wheels")}, "names the part 'wheels'"),  # type: ignore[arg-type]
        ({"card": OnCard("seals"), "of": "weighing"}, "is not about a weighing"),
        ({"card": OnCard("heat"), "of": "seal_fitting"}, "is not about a seal_fitting"),
        ({"card": OnCard("heat", inputs=(ShownInput("nothing", "Hot"),))}, "card names nothing, which is not an input"),
        ({"card": OnCard("heat", never_default=("nothing",))}, "card names nothing, which is not an input"),
    ],
)
def test_a_wrong_declaration_is_refused(changes: dict[str, Any], why: str) -> None:
    with pytest.raises(DeclarationError, match=why):
        declared(**changes)


RECORDS_THAT_ARE_NOT = [
    ({"of": "nothing"}, "is not a record of the team"),
    ({"of": "calculation"}, "is not a record of the team"),
    ({"kept_after": ("nothing",)}, "is not a record of the team"),
    ({"kept_after": ("venue",)}, "no reference leads to a build or back"),
    ({"card": OnCard("heat", supplied=(Supplied("mass_g", "nothing"),))}, "nothing, which is not a field of build"),
    ({"card": OnCard("heat", asks=Where("nothing", ("x",)))}, "nothing, which is not a field of build"),
    ({"card": OnCard(), "of": "weighing"}, "a build, which names no weighing; it names bottle, diff, fluid, idea"),
]


@pytest.mark.parametrize(("changes", "why"), RECORDS_THAT_ARE_NOT)
def test_a_record_or_field_that_is_not_there_is_refused_and_named(changes: dict[str, Any], why: str) -> None:
    calculator = declared(**changes)
    with pytest.raises(DeclarationError, match=why):
        calculator.check_records()
    registry = Registry()
    registry.calculators["doubling"] = Offered(calculator, Origin("own", "own.py"))
    for _ in range(2):
        assert registry.on_card("heat") == registry.on_card("more") == registry.kept_after() == []
    assert len(registry.failures) == (1 if calculator.card or calculator.kept_after else 0)


def test_of_several_listings_that_go_in_only_the_first_may_be_needed() -> None:
    @record
    class Both:
        a: tuple[Given, ...] = listing(Given, "a")
        b: tuple[Given, ...] = listing(Given, "b")

    with pytest.raises(DeclarationError, match="only the first may be needed"):
        declared(given=Both)


def test_two_listings_that_come_out_are_refused() -> None:
    @record
    class Two:
        double_g: float = quantity("g", "Twice that mass")
        a: tuple[Given, ...] = listing(Given, "a", default=())
        b: tuple[Given, ...] = listing(Given, "b", default=())

    with pytest.raises(DeclarationError, match="more than one listing"):
        declared(found=Two)


def test_alternatives_are_checked_and_named() -> None:
    calculator = declared(one_of=(OneOf((("mass_g",), ("volume_cm3",)), exclusive=True),))
    with pytest.raises(InputError, match="mass_g or volume_cm3"):
        calculator.check_alternatives(set())
    with pytest.raises(InputError, match="only one of"):
        calculator.check_alternatives({"mass_g", "volume_cm3"})
    calculator.check_alternatives({"mass_g"})


@pytest.mark.parametrize(
    ("present", "said", "remedy"),
    [
        (set(), "doubling needs mass_g; or volume_cm3, side_mm and height_mm", "Give one of these."),
        ({"side_mm"}, "doubling needs volume_cm3 and height_mm", "Give them."),
        ({"side_mm", "height_mm"}, "doubling needs volume_cm3", "Give it."),
    ],
)
def test_of_alternatives_that_are_begun_only_what_the_nearest_lacks_is_asked_for(
    present: set[str], said: str, remedy: str
) -> None:
    @record
    class Sized:
        mass_g: float | None = quantity("g", "Mass", default=None)
        volume_cm3: float | None = quantity("cm3", "Volume", default=None)
        side_mm: float | None = quantity("mm", "Side", default=None)
        height_mm: float | None = quantity("mm", "Height", default=None)

    calculator = declared(given=Sized, one_of=(OneOf((("mass_g",), ("volume_cm3", "side_mm", "height_mm"))),))
    with pytest.raises(InputError) as lacking:
        calculator.check_alternatives(present)
    assert (lacking.value.what, lacking.value.remedy) == (said, remedy)


def test_a_judgement_in_words_only_stays_one_and_has_to_say_so_plainly() -> None:
    silent = declared(judge=lambda given, found: Judgement("ok", ("full",), in_words_only=True))
    assert silent.judge(Given(), Found(double_g=2.0)).in_words_only
    odd = declared(judge=lambda given, found: Judgement("ok", ("full",), in_words_only="yes"))  # type: ignore[arg-type]
    with pytest.raises(PluginFault, match="in_words_only='yes', which has to be True or False"):
        odd.judge(Given(), Found(double_g=2.0))


@pytest.mark.parametrize("wrong", ["builds.nothing", "nothing.dry_mass_g", "listings.nothing"])
def test_same_as_has_to_name_a_column_or_a_listing(wrong: str) -> None:
    with pytest.raises(DeclarationError, match="neither a column nor a listing"):
        check_same_as(wrong)


@pytest.mark.parametrize("calculator", ALL, ids=lambda calculator: calculator.name)
def test_what_was_kept_comes_back_as_the_records_it_was(calculator: Calculator[Any, Any]) -> None:
    result = run(calculator, bind(calculator, calculator.worked[0].given))
    row = RowWriter(Offered(calculator, Origin("own", "own.py")), None, "now").tell(result)
    given, found = calculator.given_from(row.given), calculator.found_from(row.found, row.rows)
    assert given is not None
    assert found is not None
    assert plain(given) == result.inputs
    assert {name: value for name, value in plain(found).items() if name in result.outputs} == result.outputs
    if calculator.listing_out:
        assert plain(found)[calculator.listing_out.name] == result.rows


@record
class Kept:
    mass_g: float = quantity("g", "Mass")
    pieces: int = whole("Pieces")
    rest_g: float | None = quantity("g", "Rest")
    word: str = choice(("ok", "odd"), "Word", default="ok")


@pytest.mark.parametrize(
    ("kept", "fits"),
    [
        ('{"mass_g": 1, "pieces": 2, "rest_g": null}', True),
        ('{"mass_g": 1.5, "pieces": 2, "rest_g": 0.5, "word": "odd"}', True),
        ('{"mass_g": null, "pieces": 2, "rest_g": null}', False),
        ('{"mass_g": "1", "pieces": 2, "rest_g": null}', False),
        ('{"mass_g": true, "pieces": 2, "rest_g": null}', False),
        ('{"mass_g": 1, "pieces": 2.5, "rest_g": null}', False),
        ('{"mass_g": 1, "pieces": 2}', False),
        ('{"mass_g": 1, "pieces": 2, "rest_g": null, "more": 1}', False),
        ('{"mass_g": 1, "pieces": 2, "rest_g": null, "word": "else"}', False),
        ("[1]", False),
        ("not JSON", False),
    ],
)
def test_only_what_fits_the_record_of_today_comes_back(kept: str, fits: bool) -> None:
    assert (record_from(Kept, kept) is not None) == fits
