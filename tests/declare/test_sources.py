"""Every source names its publisher, title, year or that it is undated, and how it was seen."""

from __future__ import annotations

import csv
import gc
import re
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages

import pytest

import bevelbook
import bevelbook_plugins
from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.sources import FIXED_BY_KIND, THIS_PROJECT, UNDATED, WAYS_OF_SEEING, Source
from bevelbook.plugin.registry import load
from bevelbook.reference import BUNDLED, citations, read_text, rows

CITATIONS = list(csv.DictReader(read_text(BUNDLED, "citations.csv").splitlines()))
SUBJECTS = {"fire", "silicone"}
"""Words of a key that its publisher's name holds too."""
TABLES = sorted(one.file for one in load().datasets().values())


def sources_in_code() -> list[Source]:
    """Every source that the code holds: those of modules, of calculators, and of their worked examples."""
    for package in (bevelbook, bevelbook_plugins):
        for module in walk_packages(package.__path__, f"{package.__name__}."):
            import_module(module.name)
    load()
    gc.unfreeze()  # what the tests had imported before they began
    try:
        return [one for one in gc.get_objects() if type(one) is Source]
    finally:
        gc.freeze()


@pytest.fixture(scope="module")
def sources() -> list[Source]:
    found = [*sources_in_code(), *citations().values()]
    assert len(found) > 100
    return found


def test_every_source_says_all_four(sources: list[Source]) -> None:
    for one in sources:
        for text in (one.publisher, one.title, one.year, one.seen):
            assert text.strip(), one
        assert one.year == UNDATED or re.fullmatch(r"(1[89]|20)\d\d", one.year), one
        assert one.seen.startswith(WAYS_OF_SEEING), one


def test_what_is_our_own_names_this_project_and_nothing_else_does(sources: list[Source]) -> None:
    for one in sources:
        assert (one.publisher == THIS_PROJECT) is (one.kind in ("computed", "proposal")), one
        assert one.seen.startswith("worked out here") is (one.kind in ("computed", "proposal")), one


@pytest.mark.parametrize("row", CITATIONS, ids=lambda row: row["key"])
def test_a_row_of_the_citations_is_written_out(row: dict[str, str]) -> None:
    for name in ("key", "kind", "publisher", "title", "year", "seen"):
        assert row[name].strip(), name


def words(text: str) -> set[str]:
    return set(re.findall(r"[a-z0-9]+", text.lower()))


@pytest.mark.parametrize("row", CITATIONS, ids=lambda row: row["key"])
def test_a_key_names_the_subject_and_not_the_publisher(row: dict[str, str]) -> None:
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", row["key"])
    if row["publisher"] not in (THIS_PROJECT, "publisher not named", "no publisher"):
        assert not (words(row["key"]) & words(row["publisher"])) - SUBJECTS


def test_every_citation_is_used_by_a_table_or_a_procedure() -> None:
    cited = {row["source"] for table in TABLES for row in rows(table)}
    assert {row["key"] for row in CITATIONS} <= cited | {"common-practice"}


def publishers_in_titles(rows_of: list[dict[str, str]]) -> Iterator[str]:
    for row in rows_of:
        for other in rows_of:
            name = other["publisher"].partition(",")[0]
            if other["kind"] not in FIXED_BY_KIND and len(name) > 4 and " " in name and name in row["title"]:
                yield f"{row['key']}: {name}"


def test_no_title_names_a_publisher_of_another_source() -> None:
    named = [one for one in publishers_in_titles(CITATIONS) if not one.endswith("publisher not named")]
    assert not named


@pytest.mark.parametrize(
    ("parts", "why"),
    [
        (("rumour", "T", "P", "2008", "", "read"), "unknown kind"),
        (("handbook", "T"), "publisher and year and how it was seen"),
        (("handbook", "T", "P", "", "", "read"), "leaves out year"),
        (("handbook", "T", "P", "2008"), "leaves out how it was seen"),
        (("handbook", " ", "P", "2008", "", "read"), "leaves out title"),
        (("handbook", "T", "P", "2008", "", "seen once"), "does not begin with how it was seen"),
        (("computed", "T", "", "", "", "by hand"), "does not begin with how it was seen"),
    ],
)
def test_a_source_that_leaves_something_out_is_refused(parts: tuple[str, ...], why: str) -> None:
    with pytest.raises(DeclarationError, match=why):
        Source(*parts)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", sorted(FIXED_BY_KIND))
def test_what_nobody_published_need_not_name_a_publisher(kind: str) -> None:
    one = Source(kind, "T")  # type: ignore[arg-type]
    assert (one.publisher, one.seen) == FIXED_BY_KIND[kind]
    assert one.year == UNDATED


def test_a_citation_shows_publisher_title_place_year_and_how_it_was_seen() -> None:
    assert Source("handbook", "T", "P", "2008", "p. 3", "read").cite() == "P, T, p. 3, 2008 (read)"
    assert Source("standard", "T", "P", "undated", seen="not opened").cite() == "P, T, undated (not opened)"
    assert Source("common practice", "stop at 11 g").cite() == "stop at 11 g (common practice, no source)"
    assert Source("from memory", "T", "P").cite() == "P, T (from memory, unverified)"
    assert Source("from memory", "T").cite() == "T (from memory, unverified)"
    assert Source("proposal", "50 kPa").cite() == "50 kPa (our own figure)"
    assert Source("computed", "two times three").cite() == "two times three (this project, worked out here)"


def test_a_plugin_file_whose_source_is_incomplete_is_named_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "odd.py").write_text(
        "from bevelbook import Source\nODD = Source('handbook', 'A table')\n", encoding="utf-8"
    )
    (failure,) = load(entry_points=(), folder=tmp_path).failures
    assert "leaves out publisher and year and how it was seen" in str(failure)
