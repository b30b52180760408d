"""The manual: every topic prints, its page answers, and nothing that it is about is left out."""

from __future__ import annotations

import ast
import html
import re
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser_team import Site, Team, make_team, site_over
from conftest import Outcome

from bevelbook.declare import vocabulary
from bevelbook.declare.error_codes import GROUPS, INPUT_CODES, PATTERN_CODES, VALUE_CODES, code_in_words
from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.known_units import KNOWN
from bevelbook.display.format import SHOWN_UNIT, WORD_SIGN
from bevelbook.display.line_width import WIDEST
from bevelbook.facts.views import VIEWS
from bevelbook.manual.commands import COMMANDS, EXIT_CODES, OPTIONS, both_forms
from bevelbook.manual.contents import Entries, ManualPage, Paragraph
from bevelbook.manual.glossary import GLOSSARY
from bevelbook.manual.tables import PROMISED, listed
from bevelbook.manual.text import page_lines
from bevelbook.manual.topic_list import TOPICS
from bevelbook.manual.topics import page_of
from bevelbook.manual.units import spellings
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.report import ALSO_REJECTED, OF_A_FILE, REASONS, SETTLED_BY, SKIPPED, WARNINGS
from bevelbook.plugin.registry import Registry, load
from bevelbook.reading.units import AMBIGUOUS, DYNAMIC_VISCOSITY, WEIGHT_NUMBERS
from bevelbook.records import FACTS, KINDS
from bevelbook.reference import RULES_FIRST

ROOT = Path(__file__).parent.parent.parent
CALCULATORS = sorted(load().calculators)
TABLES = sorted(listed())
PAGES = ["", *TOPICS, *(f"calculators/{name}" for name in CALCULATORS), *(f"tables/{name}" for name in TABLES)]
Run = Callable[..., Outcome]


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Team:
    return make_team(tmp_path_factory.mktemp("manual") / "team.db")


@pytest.fixture(scope="module")
def site(team: Team, registry: Registry) -> Iterator[Site]:
    with site_over(team.path, registry) as made:
        yield made


def terms_of(page: ManualPage) -> list[str]:
    """Every term that a page explains."""
    return [
        entry.term
        for section in page.sections
        for block in section.blocks
        if isinstance(block, Entries)
        for entry in block.entries
    ]


def words_of(text: str) -> str:
    """The words between the tags, on one line."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", text)).split())


def one_line(page: ManualPage) -> str:
    return " ".join(" ".join(page_lines(page)).split())


@pytest.mark.parametrize("topic", PAGES)
def test_every_topic_prints_and_its_page_says_the_same(topic: str, bevelbook: Run, site: Site) -> None:
    done = bevelbook("help", *topic.split("/"))
    assert (done.code, done.err) == (0, "")
    found = words_of(site.page(f"/team/-/help/{topic}" if topic else "/team/-/help"))
    page = page_of(topic, load())
    for words in (page.title, page.lead, *(section.title for section in page.sections), *terms_of(page)):
        assert " ".join(words.split()) in " ".join(done.out.split())
        assert " ".join(words.split()) in found


@pytest.mark.parametrize("topic", PAGES)
def test_no_line_is_wider_than_a_terminal_but_for_commands(topic: str, registry: Registry) -> None:
    lines = [line for line in page_lines(page_of(topic, registry)) if not line.startswith("  bevelbook ")]
    assert [line for line in lines if len(line) > WIDEST] == []


def test_the_list_of_topics_leads_to_each_of_them(bevelbook: Run, site: Site) -> None:
    page = site.page("/team/-/help")
    for topic in TOPICS:
        assert f'href="/team/-/help/{topic}"' in page
        assert f"\n  {topic} " in bevelbook("help").out


def test_a_page_leads_to_what_it_describes_and_back(site: Site) -> None:
    assert 'href="/team/-/calc/headspace"' in site.page("/team/-/help/headspace")
    assert 'href="/team/builds"' in site.page("/team/-/help/tables/builds")
    assert 'href="/team/-/help/calculators/headspace"' in site.page("/team/-/calc/headspace")


def test_every_page_leads_to_the_manual(site: Site) -> None:
    assert '<a href="/team/-/help">Manual</a>' in site.page("/team/-/home")


def test_an_address_without_a_database_leads_to_the_manual(site: Site) -> None:
    for path in ("/-/help", "/-/help/units", "/-/help/calculators/headspace"):
        answer = site.get(path)
        assert (answer.status_code, answer.headers["location"]) == (302, f"/team{path}")


def test_every_command_option_and_exit_code_is_there(registry: Registry) -> None:
    terms = terms_of(page_of("commands", registry))
    assert terms == [*COMMANDS, *map(both_forms, OPTIONS), *(str(code) for code in EXIT_CODES)]


@pytest.mark.parametrize("name", CALCULATORS)
def test_a_calculator_shows_all_of_its_declaration(name: str, registry: Registry) -> None:
    calculator = registry.calculator(name).calculator
    page = page_of(name, registry)
    assert page == page_of(f"calculators/{name}", registry)
    text = one_line(page)
    assert calculator.question in text
    for field in calculator.inputs:
        assert field.option in terms_of(page)
        assert " ".join(f"{field.about}. {field.name}:".split()) in text
        for choice in field.choices:
            assert choice in text
    for field in calculator.outputs:
        assert field.name in terms_of(page)
    for line in (*calculator.valid, *calculator.cautions, *(source.cite() for source in calculator.sources)):
        assert " ".join(line.split()) in text
    assert (RULES_FIRST in text) == bool(calculator.cautions)
    assert calculator.worked[0].source.cite() in text


@pytest.mark.parametrize("name", CALCULATORS)
def test_the_example_of_a_calculator_runs_and_gives_the_verdict_that_is_shown(
    name: str, registry: Registry, bevelbook: Run
) -> None:
    lines = list(page_lines(page_of(name, registry)))
    (command,) = [line for line in lines if line.startswith("  bevelbook calc ")]
    verdict = registry.calculator(name).calculator.worked[0].verdict
    assert verdict is not None
    assert ["verdict", WORD_SIGN[verdict]] in [line.split() for line in lines]
    assert bevelbook(*shlex.split(command)[1:], "--json").json["verdict"] == verdict


def test_an_input_says_range_default_and_where_it_may_come_from(registry: Registry) -> None:
    text = one_line(page_of("fill-target", registry))
    assert "dry_mass_g: in g; more than 0, usually 5 to 100; needed; with --for from the build." in text
    assert "fill_fraction: more than 0 and less than 1; 0.85 if left out." in text
    assert "Needs the oil mass or the free volume." in text
    assert "else from the database: the team's runs" in one_line(page_of("oil-choice", registry))


def test_every_unit_and_spelling_is_there_and_what_is_refused(registry: Registry) -> None:
    text = one_line(page_of("units", registry))
    for about, units in KNOWN.by_about.items():
        assert f"{about.split(' ', 1)[1].capitalize()}, kept " in text or "kelvin" in about
        for unit in units:
            if unit.suffix:
                assert SHOWN_UNIT.get(unit.name, unit.name) in text
            for word in spellings(unit, units):
                assert word in text
    for word in (*DYNAMIC_VISCOSITY, *WEIGHT_NUMBERS, *(word for words in AMBIGUOUS.values() for word in words)):
        assert word in text


def test_every_table_view_and_column_is_there(registry: Registry) -> None:
    names = {kind.table for kind in (*KINDS, *FACTS)} | {view.name for view in VIEWS}
    assert set(terms_of(page_of("tables", registry))) == names == set(TABLES)
    for kind in (*KINDS, *FACTS):
        assert set(kind.columns) <= set(terms_of(page_of(f"tables/{kind.table}", registry)))


def test_what_is_promised_exists_and_bundled_plugins_read_nothing_else() -> None:
    assert set(TABLES) >= PROMISED
    read: set[str] = set()
    for path in (ROOT / "plugins").rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        own = set(re.findall(r"\b(\w+) AS \(", text))
        read |= set(re.findall(r"\b(?:FROM|JOIN) ([a-z_]+)\b", text)) - own
    assert len(read) > 10
    assert read <= PROMISED


def test_every_reason_and_warning_is_there_with_what_settles_it(registry: Registry) -> None:
    page = page_of("import", registry)
    assert set(terms_of(page)) == {*(field.name for field in COLUMNS), *REASONS, *WARNINGS}
    for settled in SETTLED_BY.values():
        assert f"Settled by: {settled}" in one_line(page)


def calls(*folders: str, naming: str = "") -> Iterator[tuple[str, ast.Call]]:
    """Every call in the code, with the name of the function; only of files that name any of ``naming``, a pattern."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            source = path.read_text(encoding="utf-8")
            if not re.search(naming, source):
                continue
            for node in ast.walk(ast.parse(source)):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
                    yield node.func.id if isinstance(node.func, ast.Name) else node.func.attr, node


def literals(node: ast.AST) -> set[str]:
    """The words that an expression may come to: a text, or either side of a choice between two."""
    if isinstance(node, ast.IfExp):
        return literals(node.body) | literals(node.orelse)
    return {node.value} if isinstance(node, ast.Constant) and isinstance(node.value, str) else set()


def raised_codes() -> set[str]:
    """Every code that the code names where it makes an error."""
    found: set[str] = set()
    for name, call in calls("core", "plugins", naming=r"\bcode\s*=|\bYamlKind\b|\bfault\b|\brejected\b"):
        if name in ("Finding", "about_build"):
            continue
        for keyword in call.keywords:
            if keyword.arg == "code" or (name == "YamlKind" and keyword.arg != "noun"):
                found |= literals(keyword.value)
        place = {"fault": 1, "rejected": 0}.get(name)
        if place is not None and len(call.args) > place:
            found |= literals(call.args[place])
    return found


def test_every_code_that_is_raised_is_explained_and_no_other(registry: Registry) -> None:
    """``impossible_value`` and the like are codes of findings, which say in words what they mean."""
    raised = raised_codes() | {"not_finite", "outside_valid_range"}
    assert len(raised) > 80
    listed_codes = {code for codes in GROUPS.values() for code in codes}
    assert raised - listed_codes - set(REASONS) == set()
    assert listed_codes - raised == set(PATTERN_CODES)
    assert listed_codes & set(REASONS) == set(VALUE_CODES), "what a command says of a value, an import says of a cell"
    of_imports = set(REASONS) - set(SKIPPED) | set(ALSO_REJECTED)
    assert set(terms_of(page_of("errors", registry))) == listed_codes | of_imports


def test_codes_that_are_made_of_a_name_are_explained() -> None:
    fault = UnknownNameError("field of a build", "x", [])
    assert code_in_words(fault.code) == PATTERN_CODES["unknown_KIND"]
    assert code_in_words("mass_basis_unknown") == PATTERN_CODES["FIELD_unknown"]
    assert code_in_words("x") is None


def test_reasons_of_files_and_skipped_lines_are_the_ones_that_the_import_gives() -> None:
    notes = list(calls("core/bevelbook/notes"))
    of_files = {code for name, call in notes if name == "rejected" for code in literals(call.args[0])}
    assert of_files - {"missing_required"} == OF_A_FILE
    skipped = {
        word
        for name, call in notes
        if name == "LeftRow" and "skipped" in literals(call.args[1])
        for word in literals(call.args[2])
    }
    assert skipped <= set(SKIPPED)
    assert set(SKIPPED) - skipped == {"sep_hint", "changed_later"}, "named through a variable"


TYPED, IMPORTED, WARNED = "In a command or on a page", "In an import", "In an import, as a warning"


@pytest.mark.parametrize(
    ("code", "wanted"),
    [
        ("no_equals", {TYPED: "Write FIELD=VALUE"}),
        ("unknown_diff", {TYPED: "Look at the similar names"}),
        ("implausible", {TYPED: "bevelbook record KIND ... --yes", WARNED: "taken with --allow-out-of-range"}),
        ("ambiguous_date", {TYPED: "in one way, such as 2026-05-03", IMPORTED: "--date-order dmy, mdy or ymd"}),
        ("ambiguous_number", {TYPED: "such as 1500 or 1.5", IMPORTED: "--decimal . or ,"}),
        ("out_of_range", {TYPED: "inside the bounds", IMPORTED: "--allow-out-of-range"}),
        ("viscosity_unit_wt", {TYPED: "data sheet", IMPORTED: "never converted"}),
        ("grip_unknown", {TYPED: "one of the words that are shown", IMPORTED: "a profile with words"}),
        ("temp_unit_unknown", {IMPORTED: "--temp-unit C or F"}),
        ("unknown_column", {WARNED: "kept beside the row"}),
        ("lid_on_scale", {WARNED: "was the lid on the scale?"}),
        ("blank", {IMPORTED: "The line is skipped"}),
    ],
)
def test_a_code_is_explained_with_every_meaning_it_has(
    code: str, wanted: dict[str, str], bevelbook: Run, site: Site, registry: Registry
) -> None:
    page = page_of(code, registry)
    assert [section.title for section in page.sections] == list(wanted)
    for section, words in zip(page.sections, wanted.values(), strict=True):
        assert words in " ".join(block.text for block in section.blocks if isinstance(block, Paragraph))
    done = bevelbook("help", code)
    assert (done.code, done.out.partition("\n")[0]) == (0, code)
    shown = words_of(site.page(f"/team/-/help/{code}"))
    assert all(title in shown and title in done.out for title in wanted)


def test_every_code_of_an_import_or_a_command_has_a_page(registry: Registry) -> None:
    for code in {*(code for codes in GROUPS.values() for code in codes), *REASONS, *WARNINGS}:
        page = page_of(code, registry)
        titles = [section.title for section in page.sections]
        assert page.topic == code
        assert (WARNED in titles) == (code in WARNINGS)
        assert (IMPORTED in titles) == (code in REASONS)
        assert TYPED in titles or code not in {*INPUT_CODES, *VALUE_CODES}


def test_a_value_that_cannot_be_read_has_its_codes_in_both_tables() -> None:
    """What ``reading/`` refuses, a command and an import both refuse."""
    of_reading = {
        code
        for name, call in calls("core/bevelbook/reading")
        if name in ("fault", "UnitError")
        for keyword in (*call.keywords, *(ast.keyword("code", arg) for arg in call.args[1:2] if name == "fault"))
        if keyword.arg == "code"
        for code in literals(keyword.value)
    }
    assert len(of_reading) > 15
    assert of_reading - {"listing_item_parts"} == set(VALUE_CODES) & of_reading
    assert set(VALUE_CODES) <= set(REASONS)


def test_every_word_of_a_verdict_the_shelf_and_a_fill_is_in_the_glossary(registry: Registry) -> None:
    terms = terms_of(page_of("glossary", registry))
    assert len(terms) == len(set(terms))
    assert set(vocabulary.VERDICTS) | set(vocabulary.SHELF_WORDS) | set(vocabulary.FILL_STATES) <= set(terms)
    for words in GLOSSARY.values():
        for sentence in words.values():
            assert sentence[0].isupper()
            assert sentence.endswith(".")


@pytest.mark.parametrize(
    ("words", "near"),
    [
        (("fil-target",), "fill-target"),
        (("unit",), "units"),
        (("calculators", "shim"), "shims"),
        (("tables", "buils"), "builds"),
    ],
)
def test_an_unknown_topic_names_near_ones(words: tuple[str, ...], near: str, bevelbook: Run, site: Site) -> None:
    done = bevelbook("help", *words)
    assert (done.code, done.out) == (2, "")
    assert f"Did you mean {near}" in done.err
    answer = site.get(f"/team/-/help/{'/'.join(words)}")
    assert answer.status_code == 404
    assert f"Did you mean {near}" in words_of(answer.text)


def test_a_topic_for_programs(bevelbook: Run) -> None:
    found = bevelbook("help", "units", "--json").json
    assert found["topic"] == "units"
    assert any(entry["term"] == "g" for section in found["sections"] for entry in section["blocks"][0]["entries"])


def test_a_name_that_carries_tags_is_shown_as_text(site: Site) -> None:
    answer = site.get("/team/-/help/~3Cscript~3Ealert~281~29")
    assert answer.status_code == 404
    assert "<script>alert" not in answer.text
