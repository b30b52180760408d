"""What an error calls a field and an option: each reader finds only names that he can use. All data are invented."""

from __future__ import annotations

import ast
import html
import re
import shlex
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import click
import pytest
from browser_team import NO_BREAK, Site, Team, make_team, site_over
from conftest import Outcome

from bevelbook import InputError, Named, Place, Sentence
from bevelbook.calculating.calculate import bind, run
from bevelbook.cli.group import group
from bevelbook.cli.naming import AsFieldWords, AsOptions
from bevelbook.cli.session import Session
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import in_terms_of
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry, load
from bevelbook.reading import implausible, read_listing_item
from bevelbook.records import kind_called
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.form_naming import OnForm

ROOT = Path(__file__).parents[2]
CALCULATORS = sorted(load().calculators)
Run = Callable[..., Outcome]

OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
MAYBE_AN_OPTION = re.compile(r"--[a-z]")
QUOTED = re.compile(r"'(bevelbook [^']*)'")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("wording") / "team.db")


@pytest.fixture(scope="module")
def site(built: Team, registry: Registry) -> Iterator[Site]:
    with site_over(built.path, registry) as made:
        yield made


# How a sentence reads to each reader


def leak_inputs() -> tuple[Field, ...]:
    return load().calculator("leak-trend").calculator.inputs


GIVE = Sentence("Give ", Named("oil_mass_g"), " or ", Named("weighings"), ", or ", Named("scale_step_g", "0.1"), ".")


def test_python_reads_the_names_as_declared() -> None:
    assert str(GIVE) == "Give oil_mass_g or weighings, or scale_step_g=0.1."
    fault = InputError("no oil", code="missing_input", place=Place(field="oil_mass_g"), remedy=GIVE)
    assert str(fault) == f"oil_mass_g: no oil. {GIVE}"
    assert fault.fields() == ("oil_mass_g", "weighings", "scale_step_g")


@pytest.mark.parametrize(
    ("naming", "words", "place"),
    [
        (AsOptions, "Give --oil-mass or --weighing RUNS:MASS for each, or --scale-step 0.1.", "--oil-mass"),
        (OnForm, "Give oil mass or weighings, one a line as runs:mass, or scale step 0.1.", "oil mass"),
        (InWords, "Give oil mass or weighings, or scale step 0.1.", "oil mass"),
        (AsFieldWords, "Give oil_mass=... or weighings=..., or scale_step=0.1.", "oil_mass"),
    ],
    ids=["calc", "form", "card", "record"],
)
def test_each_reader_has_names_of_his_own(naming: type[InWords], words: str, place: str) -> None:
    names = naming(leak_inputs())
    assert in_terms_of(names, GIVE) == words
    assert names.as_place("oil_mass_g") == place
    assert in_terms_of(names, "Weigh 5 {g} again.") == "Weigh 5 {g} again."


def test_a_field_that_a_calculator_lacks_is_named_in_words() -> None:
    for naming in (AsOptions, OnForm):
        assert in_terms_of(naming(()), Sentence("Give ", Named("density_g_cm3"), ".")) == "Give density."


@pytest.mark.parametrize("name", CALCULATORS)
def test_the_example_of_an_item_can_be_read(name: str) -> None:
    for listing in load().calculator(name).calculator.inputs:
        if listing.kind == "listing":
            item = read_listing_item(listing, listing.item_example)
            odd = [implausible(part, getattr(item, part.name)) for part in listing.needed_parts]
            assert odd == [None] * len(odd)


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("end-temperature", "120:38"),
        ("expected-temperature", "22:31:38"),
        ("bench-drag", "100:12.0"),
        ("drag-heat", "10:steel"),
        ("falling-ball", "33.0"),
        ("fluid-ratio", "a:33.0"),
    ],
)
def test_an_example_makes_sense_for_its_own_field(name: str, said: str) -> None:
    assert [field.item_example for field in load().calculator(name).calculator.inputs if field.kind == "listing"] == [
        said
    ]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("fill-target", "--oil-mass", "1"), "bevelbook: --dry-mass is missing. Give it in g."),
        (("leak-trend",), "bevelbook: no --weighing given. Give --weighing RUNS:MASS for each, such as 6:22.34."),
        (("oil-choice", "--temperature", "30"), "bevelbook: --grip is missing. Give one of low, medium, high."),
    ],
)
def test_a_missing_input_is_named_once(bevelbook: Run, words: tuple[str, ...], said: str) -> None:
    assert bevelbook("calc", *words).err.strip() == said


def test_programs_read_the_field_as_declared_beside_the_readers_names(bevelbook: Run) -> None:
    said = bevelbook("calc", "fill-target", "--dry-mass", "12", "--free-volume", "3", "--json").json
    assert (said["column"], said["field"]) == ("--density", "density_g_cm3")
    assert said["remedy"] == "Give --viscosity (at 25 °C) or --density (at 25 °C), or --oil-mass."


# The form of a calculator


def spoilt(one: Calculator[Any, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """The worked example with each input left out, and with each made impossible in several ways."""
    given = one.worked[0].given
    yield "nothing at all", {}
    for field in one.inputs:
        if field.name in given:
            yield f"{field.name} left out", {name: text for name, text in given.items() if name != field.name}
        for text in ("abc", "-123456", "1,500", "987654321", "12 +/- x", "40 kg"):
            yield f"{field.name} = {text}", {**given, field.name: [text] if field.kind == "listing" else text}


@pytest.mark.parametrize("name", CALCULATORS)
def test_an_error_on_a_form_never_holds_an_option(name: str) -> None:
    one = load().calculator(name).calculator
    refused = 0
    for case, texts in spoilt(one):
        try:
            run(one, bind(one, texts))
        except BevelbookError as fault:
            fault.naming = OnForm(one.inputs)
            refused += 1
            words = fault_words(fault)
            assert "--" not in words, (case, words)
            assert not [field.name for field in one.inputs if "_" in field.name and field.name in words], (case, words)
    assert refused > len(one.inputs)


@pytest.mark.parametrize("name", CALCULATORS)
def test_the_page_of_a_calculator_says_so_too(site: Site, name: str) -> None:
    one = load().calculator(name).calculator
    faults = 0
    for texts in ({one.inputs[0].name: ""}, {one.inputs[0].name: "abc"}, {one.inputs[-1].name: "1,500,2"}):
        page = site.get(f"/team/-/calc/{name}?{urlencode(texts)}").text
        said = re.findall(r'<(?:span class="fault"|p class="message" role="alert")>([^<]*)<', page)
        faults += len(said)
        assert not [words for words in said if "--" in html.unescape(words)]
    assert faults >= 2


@pytest.mark.parametrize(
    ("name", "texts", "said"),
    [
        ("leak-trend", {"weighings": "0:14.26"}, "give weighings, one a line as runs:mass."),
        (
            "fill-target",
            {"dry_mass_g": "12", "free_volume_cm3": "3"},
            "Give viscosity (at 25 °C) or density (at 25 °C), or oil mass.",
        ),
        ("fill-target", {"oil_mass_g": "1"}, "Still needed: dry mass."),
        ("leak-trend", {"oil_mass_g": "1"}, "Still needed: weighings."),
        ("fill-target", {}, "Instead of the oil mass: free volume"),
        ("shims", {}, "Instead of the float: width pulled, width pushed"),
        (
            "seal-swell",
            {},
            "Instead of these: outside diameter, ",
        ),
        ("fill-target", {"dry_mass_g": "12"}, "Still needed: oil mass or free volume."),
        ("degas", {"gauge_kpa": "40", "viscosity_cst": "7000"}, "Give gauge -40 if it is below the air outside"),
        ("fill-target", {"dry_mass_g": "1,500", "oil_mass_g": "1"}, "Write it as 1500 or 1.5."),
        ("viscosity", {"viscosity_cst": "60wt"}, "Give a number in cSt, from the data sheet of the bottle."),
        ("leak-trend", {"weighings": "0:14.26\n6"}, 'Line 2: it has 1 part, found "6"'),
        ("leak-trend", {"weighings": "0:14.26\n6:x"}, 'Line 2: not a number, found "x"'),
    ],
)
def test_a_page_names_inputs_by_their_labels(site: Site, name: str, texts: dict[str, str], said: str) -> None:
    page = html.unescape(site.get(f"/team/-/calc/{name}?{urlencode(texts)}").text.replace(NO_BREAK, " "))
    assert said in page


def test_every_input_that_cannot_be_read_is_marked_and_any_other_fault_is_said_too(site: Site) -> None:
    texts = {"dry_mass_g": "heavy", "oil_mass_g": "1 q", "reading_g": "14 g", "for": "rear-a/99"}
    page = html.unescape(site.page(f"/team/-/calc/fill-target?{urlencode(texts)}", status=400))
    beside = re.findall(r'<span class="fault">([^<]*)<', page)
    assert [words.partition(",")[0] for words in beside] == ["Not a number", 'There is no unit "q"']
    assert re.findall(r'<p class="message" role="alert">([^<]*)<', page)[0].startswith(
        'There is no build named "rear-a/99".'
    )
    assert page.count('aria-invalid="true"') == 2


@pytest.mark.parametrize(
    ("name", "words", "place"),
    [
        ("viscosity", "--viscosity 6000 --temperature 4000", "--temperature"),
        (
            "viscosity",
            "--viscosity 6000 --temperature 30 --other-viscosity 4000 --other-temperature 25",
            "--other-temp",
        ),
        ("same-feel", "--viscosity 7000 --temperature-then 400 --temperature-now 20", "--temperature-then"),
        ("same-feel", "--viscosity 7000 --temperature-then 20 --temperature-now 400", "--temperature-now"),
        ("degas", "--viscosity 7000 --temperature 400", "--temperature"),
        ("blend", "--part 0.1:10 --part 1000:10", "--part"),
        ("leak-trend", "--weighing 0:14.26 --weighing 6", "--weighing, item 2"),
    ],
)
def test_an_error_of_the_physics_names_the_input(bevelbook: Run, name: str, words: str, place: str) -> None:
    done = bevelbook("calc", name, *words.split())
    assert done.code == 2
    assert done.err.startswith(f"bevelbook: {place}"), done.err


def test_a_gauge_without_its_sign_is_met_with_possible_readings_only(bevelbook: Run) -> None:
    base = ("calc", "degas", "--viscosity", "7000", "--gauge")
    assert "Give --gauge -40 if it is below the air outside, --absolute 40 if" in bevelbook(*base, "40").err
    said = bevelbook(*base, "20bar").err
    assert "A vacuum gauge here shows from -101.3 kPa to 0" in said
    assert "-2000" not in said
    assert "--absolute 2000" not in said


@pytest.mark.parametrize("words", ["serve --port x", "import notes.csv --header-line 2.5"])
def test_what_is_not_a_whole_number_is_refused_in_those_words(bevelbook: Run, words: str) -> None:
    done = bevelbook(*words.split())
    assert done.code == 2
    assert "is not a whole number" in done.err


# The options that an error recommends exist


@cache
def options_of(*words: str) -> set[str]:
    """The options that the program and the command that some words call take."""
    ctx = click.Context(group, obj=Session({"--db": "none.db"}))
    options = {name for param in group.params for name in param.opts}
    found: click.Command = group
    rest = [word for word in words if word not in ("...", "FILE")]
    while isinstance(found, click.Group) and rest:
        if rest[0] == "--db":
            rest = rest[2:]
            continue
        inner = found.get_command(ctx, rest.pop(0))
        assert inner is not None, words
        found = inner
    return options | {name for param in found.params for name in param.opts} | {"--help"}


def check_options(said: str, *command: str) -> None:
    """Every option in an error is one of the command that was called, or of the command in quotes."""
    for quoted in QUOTED.findall(said):
        words = shlex.split(quoted)[1:]
        if OPTION.search(quoted):
            assert set(OPTION.findall(quoted)) <= options_of(*words), said
    assert set(OPTION.findall(QUOTED.sub("", said))) <= options_of(*command), said


@pytest.mark.parametrize("name", CALCULATORS)
def test_calc_recommends_only_options_that_it_has(name: str) -> None:
    one = load().calculator(name).calculator
    recommended = 0
    for _case, texts in spoilt(one):
        try:
            run(one, bind(one, texts))
        except BevelbookError as fault:
            fault.naming = AsOptions(one.inputs)
            recommended += len(OPTION.findall(str(fault)))
            check_options(str(fault), "calc", name)
    assert recommended > 1


@pytest.mark.parametrize(
    ("kind", "words", "said"),
    [
        ("build", ("diff=rear-a", "built_on=2026-05-04", "dry_mass=1,500"), "Write it as 1500 or 1.5."),
        ("build", ("diff=rear-a", "built_on=03/05/2026"), "Write it as 2026-05-03 (day first) or 2026-03-05 (month"),
        (
            "build",
            ("diff=rear-a", "built_on=2026-05-04", "dry_mass=12.4 +/- 0.01 g"),
            "Record takes the value alone; put the uncertainty in the note.",
        ),
        ("blend-part", ("build=rear-a/1", "viscosity=~7000", "mass=2"), "Record takes the value alone."),
        ("build", ("diff=rear-a", "built_on=2026-05-04", "dry_mass=952"), "Give --yes if that is right"),
        ("build", ("diff=rear-a", "built_on=2026-05-04", "dry_mass=12,4,5"), "a number such as"),
        ("build", ("diff=rear-a", "built_on=2026-05-04", "dry_mass=12 cSt"), "wanted g"),
        ("build", ("built_on=2026-05-04",), "needs diff"),
        ("build", ("diff=front-z", "built_on=2026-05-04"), "there is no diff named"),
        ("build", ("diff=rear-a", "built_on=2026-05-04", "hand_feel=odd"), "one of"),
        ("venue", ("name=Quay", "altitude=1,200"), "Write it as 1200 or 1.2."),
        (
            "build",
            ("diff=rear-a", "built_on=2026-05-04", "viscosity=60wt"),
            "Give it as fluid=..., the fluid's name, and leave viscosity=... out until it is known in cSt.",
        ),
        ("fluid", ("label=x", "viscosity=60wt"), "Give it as label=..., the fluid's name, and leave viscosity=... out"),
        ("blend-part", ("build=rear-a/1", "viscosity=60wt", "mass=2"), "Give a number in cSt, from the data sheet of"),
    ],
)
def test_record_recommends_only_what_it_takes(bevelbook: Run, kind: str, words: tuple[str, ...], said: str) -> None:
    assert bevelbook("new").code == 0
    assert bevelbook("record", "diff", "label=rear-a").code == 0
    assert bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.4").code == 0
    done = bevelbook("record", kind, *words)
    assert done.code == 2, done.out
    assert said in done.err
    check_options(done.err, "record")
    place = done.err.removeprefix("bevelbook: ").partition(":")[0]
    names = {field.stem for field in kind_called(kind).fields}
    assert place in names or " " in place, done.err


HEAD = "date,diff,oil_mass_g,track_temp,grip\n"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            "date,diff,viscosity_cst\n2026-05-03,a,100.000\n",
            "say which mark is the decimal one: --decimal . or ,",
        ),
        (f"{HEAD}03/05/2026,a,1.5,20 °C,low\n", "say the order: --date-order dmy, mdy or ymd (in a prof"),
        (f"{HEAD}2026-05-03,a,1.5,20 °C,low\n2026-05-03,a,99,20 °C,low\n", "take it as it is: --allow-out-of-range"),
        (f"{HEAD}2026-05-03,a,1.5,300,low\n", "Say which unit it is: --temp-unit C or F (in a profile, temp_unit)."),
        ("Tag,Kiste\n2026-05-03,a\n", "--header-line N"),
        ("date,oil_mass_g,tag\n2026-05-03,1,a\n", "bevelbook import notes.csv --dry-run --map tag=diff"),
        (b"date,diff\n2026-05-03,\xe9\xc3\xa9\n2026-05-03,\xc3\xa9\n", "name the encoding: --encoding NAME"),
        (b"date,diff\n2026-05-03,\x81\n", "Name the encoding: --encoding mac_roman or cp850 (in a profile, encoding)."),
        (f"{HEAD}2026-05-03,a,1.5,20 °C,grippy\n", "a profile settles it"),
    ],
)
def test_import_recommends_only_options_that_it_has(
    bevelbook: Run, tmp_path: Path, content: str | bytes, said: str
) -> None:
    (tmp_path / "notes.csv").write_bytes(content if isinstance(content, bytes) else content.encode())
    done = bevelbook("import", "notes.csv", "--dry-run")
    assert said in done.out + done.err
    check_options(done.out + done.err, "import")


@pytest.mark.parametrize("words", ["--encoding nope", "--encoding utf-32", "--map x", "--map x=zzz"])
def test_import_says_what_is_wrong_with_its_options(bevelbook: Run, tmp_path: Path, words: str) -> None:
    (tmp_path / "notes.csv").write_text("date,diff\n2026-05-03,a\n")
    done = bevelbook("import", "notes.csv", *words.split())
    assert done.code == 2
    check_options(done.out + done.err, "import")


def test_a_map_to_an_unknown_field_says_which_option_and_where_the_fields_are(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("date,diff\n2026-05-03,a\n")
    listed = "'bevelbook help import' lists the fields; ignore leaves the column out.\n"
    said = bevelbook("import", "notes.csv", "--map", "Foo=bar").err
    assert said == f'bevelbook: --map: there is no field named "bar". {listed}'
    said = bevelbook("import", "notes.csv", "--map", "Foo=dry_mas").err
    assert said == f'bevelbook: --map: there is no field named "dry_mas". Did you mean dry_mass_g? {listed}'


@pytest.mark.parametrize(
    ("row", "said", "settled"),
    [
        (",1.5,low", "missing_required. diff is missing. Fill it in.", None),
        ("a,99,low", "out_of_range", "  To settle out_of_range: --allow-out-of-range, if it is possible"),
        ("a,-1,low", "out_of_range. out of its bounds; wanted at least 0 g.", None),
        (
            "a,1.5,grippy",
            "grip_unknown",
            "  To settle grip_unknown: a profile with words (grip: {WORD: ...}), each one of low, medium or high",
        ),
        ("a,about 2,low", "approximate_value", None),
    ],
)
def test_an_option_is_offered_where_it_settles_a_row_and_nowhere_else(
    bevelbook: Run, tmp_path: Path, row: str, said: str, settled: str | None
) -> None:
    (tmp_path / "notes.csv").write_text(f"date,diff,oil_mass_g,grip\n2026-05-02,a,1.5,low\n2026-05-03,{row}\n")
    done = bevelbook("import", "notes.csv", "--dry-run")
    assert done.code == 1
    assert said in done.out
    lines = [line for line in done.out.splitlines() if "To settle" in line]
    assert lines == ([settled] if settled else [])


# What a chosen record lacks


@pytest.fixture
def rear(bevelbook: Run) -> Run:
    assert bevelbook("new").code == 0
    assert bevelbook("record", "diff", "label=rear-a").code == 0
    assert bevelbook("record", "build", "diff=rear-a", "built_on=2026-05-03", "oil_mass=1.86").code == 0
    return bevelbook


def test_calc_for_a_record_names_the_field_that_is_missing(rear: Run) -> None:
    said = rear("calc", "fill-target", "--for", "rear-a/1").err
    assert "--dry-mass is missing. Give it in g. Or write down dry_mass of build rear-a/1 (" in said
    assert "('bevelbook record build rear-a/1 dry_mass=...')" in said
    assert rear("record", "build", "rear-a/1", "dry_mass=12.40").code == 0
    assert rear("calc", "fill-target", "--for", "rear-a/1").code == 0


def test_calc_for_a_record_names_the_record_that_it_points_to(rear: Run) -> None:
    assert rear("record", "build", "diff=rear-a", "built_on=2026-05-04", "dry_mass=12.40").code == 0
    said = rear("calc", "fill-target", "--for", "rear-a/2").err
    assert "fill-target needs --oil-mass or --free-volume." in said
    assert "oil_mass of build rear-a/2 (" in said
    assert "free_volume of diff rear-a ('bevelbook record diff rear-a free_volume=...')" in said
    assert rear("record", "diff", "rear-a", "free_volume=2.26", "note=x").code == 0


@pytest.mark.parametrize("basis", ["closed", "open half"])
def test_a_build_that_was_weighed_once_is_to_be_weighed_once_more(rear: Run, basis: str) -> None:
    said = rear("calc", "leak-trend", "--for", "rear-a/1").err
    assert "rear-a/1 has no weighing. Weigh it, and again after some runs: 'bevelbook record weighing" in said
    assert rear("record", "weighing", "build=rear-a/1", "runs=0", "mass=14.26", f"mass_basis={basis}").code == 0
    said = rear("calc", "leak-trend", "--for", "rear-a/1").err
    assert not OPTION.search(said)
    assert (
        "leak-trend needs two weighings with runs between them and the same parts on the scale; rear-a/1 has 1" in said
    )
    command = shlex.split(said.partition("Weigh it once more the same way: '")[2].partition("'")[0])
    assert command[:3] == ["bevelbook", "record", "weighing"]
    filled = [word.replace("runs=...", "runs=6").replace("mass=...", "mass=14.20") for word in command[1:]]
    assert rear(*filled).code == 0
    assert rear("calc", "leak-trend", "--for", "rear-a/1").code in (0, 1)


def test_weighings_that_were_typed_are_asked_for_as_options(rear: Run) -> None:
    said = rear("calc", "leak-trend", "--for", "rear-a/1", "--weighing", "0:14.26").err
    assert "give --weighing RUNS:MASS for each" in said


# No text below the surfaces holds an option

SURFACES = (
    *("cli/", "manual/", "edition/edition_readme.py", "notes/wording.py"),
    *("store/next_step.py", "store/step_trial.py"),
)
"""The command line, its manual, how to serve an edition, the importer's wording, and the command of contributors that
writes a step."""
AS_TYPED = {("notes/reread.py", "import --again X")}
"""A command that is kept as it was typed."""
COMMAND = re.compile(r"(^|: +|\()bevelbook [^)']*")


def texts_in(path: Path) -> Iterator[str]:
    """The texts of a file but its docstrings, what is put into them as X."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    left_out = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            left_out |= {id(part) for part in node.values}
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "X" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left_out:
            yield node.value


def without_commands(text: str) -> str:
    return COMMAND.sub("", QUOTED.sub("", text))


def test_no_text_outside_the_surfaces_holds_an_option() -> None:
    """A file whose source has no such word holds none; the others are read as Python."""
    found = []
    for folder in (ROOT / "core/bevelbook", ROOT / "plugins/bevelbook_plugins"):
        for path in sorted(folder.rglob("*.py")):
            where = path.relative_to(folder).as_posix()
            if folder.name == "bevelbook" and where.startswith(SURFACES):
                continue
            if not MAYBE_AN_OPTION.search(path.read_text(encoding="utf-8")):
                continue
            for text in texts_in(path):
                is_part_of_command = where.startswith("web/pages/") and OPTION.fullmatch(text)
                if OPTION.search(without_commands(text)) and not is_part_of_command and (where, text) not in AS_TYPED:
                    found.append((where, text))
    assert found == []


def test_the_search_for_options_finds_them() -> None:
    assert OPTION.search(without_commands("Give --density instead."))
    assert OPTION.search(without_commands("'bevelbook new' makes one, or use --db."))
    assert not OPTION.search(without_commands("Run 'bevelbook check --rebuild'."))
