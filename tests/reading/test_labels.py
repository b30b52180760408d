"""Names as people mean them, and what any sign of Unicode in any cell comes to. All data are constructed."""

from __future__ import annotations

import random
import sys
import unicodedata
from typing import Any

import pytest

from bevelbook.declare.fields import field_of
from bevelbook.notes.columns import Cells, Evidence, Fault, Settled
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.reading import Options, ReadingError, read
from bevelbook.reading.labels import in_plain_signs, is_ditto, plain_label, read_label
from bevelbook.records.track import Run

OPTIONS = Options(today="2026-06-30")
DIFF = BY_NAME["diff"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("  K-01 ", "K-01"),
        ("K-01\u200f", "K-01"),
        ("\u202aK-01\u202c", "K-01"),
        ("K\u00ad-01", "K-01"),
        ("zoe\u0308", "zoë"),
        ("zoe\u200d\u0308", "zoë"),
        ("'007", "007"),
        ('="007"', "007"),
        ('= "007"', "007"),
        ('="a ""b"""', 'a "b"'),
        ('"K-01"', "K-01"),
        ("'K-01'", "K-01"),
        ("“K-01”", "K-01"),
        ("„K-01“", "K-01"),
        ("‘K-01’", "K-01"),
        ("\u200e“ K-01 ”\u200f", "K-01"),
    ],
)
def test_what_only_marks_a_name_as_text_goes(text: str, name: str) -> None:
    assert plain_label(text) == name == read_label(DIFF, text) == read(DIFF, text)


@pytest.mark.parametrize(
    "text",
    [
        *("007", "1e5", "3-2", "TRUE", "#3", "00120", '3"', 'ring 3"', "rock'n'roll", "'s-Hoek", "'t Veld", "🔴", "Do"),
        *('"a" and "b"', '="a"&"b"', "=1+1", "O’Mo", "“a” then “b”", "\u2764\ufe0f\u200d\U0001f525", "house 7k"),
    ],
)
def test_a_name_stays_as_written_where_nothing_only_marks_it(text: str) -> None:
    assert read_label(DIFF, text) == text


@pytest.mark.parametrize("text", ["", " ", "-", "--", "——", "?", "n/a", "N/A", "\u200f", "“n/a”", '="-"'])
def test_a_name_may_be_missing(text: str) -> None:
    assert read_label(DIFF, text) is None


@pytest.mark.parametrize(
    "text",
    [
        '"',
        "''",
        "〃",
        "”",
        '-"-',
        "- '' -",
        "do.",
        "Ditto",
        '"ditto"',
        "dto.",
        "idem",
        "same",
        "Same as above",
        "同上",
        ",,",
        "//",
        "-//-",
        "^",
        "↑",
        "ibid.",
    ],
)
def test_a_mark_that_points_to_the_cell_above_is_not_a_name(text: str) -> None:
    assert is_ditto(text)
    with pytest.raises(ReadingError) as caught:
        read_label(DIFF, text)
    assert caught.value.code == "ditto_mark"


@pytest.mark.parametrize("text", ["|", "…", "...", "/", "()", "|?|", "#", "$", "§", "→"])
def test_signs_without_a_letter_a_digit_or_a_picture_are_not_a_name(text: str) -> None:
    with pytest.raises(ReadingError) as caught:
        read_label(DIFF, text)
    assert caught.value.code == "not_a_name"


@pytest.mark.parametrize("text", ["★", "🔴🔵", "\ue000", "ᚠ", "١", "#3", "(2)", "c/o"])
def test_one_letter_digit_or_picture_is_enough_for_a_name(text: str) -> None:
    assert read_label(DIFF, text) == text


@pytest.mark.parametrize("text", ["", "-", "--", "Do", "do", "a", "7", "n/a", "same 7k", "K-01", ".", "|"])
def test_other_texts_point_to_nothing(text: str) -> None:
    assert not is_ditto(text)


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("２２．１", "22.1"),
        ("１０，０００", "10,000"),
        ("－１５ ", "-15"),
        ("２０２４／０４／０６", "2024/04/06"),
        ("1.35ｇ", "1.35g"),
        ("100 ㎎", "100 mg"),
        ("\u200e1.35", "1.35"),
        ('="2024-04-06"', "2024-04-06"),
        ('"1.35"', "1.35"),
        ("10³", "10³"),
        ("½", "½"),
        ("24 ℃", "24 ℃"),
        ("٢", "٢"),
        ("'5", "'5"),
    ],
)
def test_numbers_and_days_are_read_in_plain_signs(text: str, plain: str) -> None:
    """Full-width forms: Unicode Character Database, decomposition mapping <wide>, as ``unicodedata`` has them."""
    assert in_plain_signs(text) == plain


@pytest.mark.parametrize("text", ["٢٢٫١", "२२", "𝟏𝟐"])
def test_digits_of_other_scripts_are_refused_in_a_number_with_what_to_do(text: str) -> None:
    with pytest.raises(ReadingError, match="not 0 to 9"):
        read(BY_NAME["dry_mass_g"], text)


def cells_of(name: str) -> Cells:
    field = field_of(Run, "day_order") if name == "day_order" else BY_NAME[name]
    return Cells(field, Settled(decimal=".", date_order="dmy"), OPTIONS, {}, False)


@pytest.mark.parametrize("name", [*BY_NAME, "day_order"])
def test_any_signs_of_unicode_come_to_a_value_nothing_or_a_fault(name: str) -> None:
    """Every general category of the Unicode Character Database is drawn from, lone surrogates too; some 30,000 texts
    in all columns."""
    chance = random.Random(f"signs of {name}")
    by_category: dict[str, list[str]] = {}
    for code in (*range(0x3000), *chance.sample(range(0x3000, sys.maxunicode + 1), 5_000), *range(0xD800, 0xE010)):
        by_category.setdefault(unicodedata.category(chr(code)), []).append(chr(code))
    assert len(by_category) == 30
    frames = (
        "{}",
        "1{}5",
        "{}1.35",
        "1.35{}",
        "2024{}04{}06",
        "K{}01",
        "{} g",
        '="{}"',
        "“{}”",
        "14{}{}2024",
        "{}\u200f",
    )
    cells, evidence = cells_of(name), Evidence(cells_of(name).field, None, OPTIONS)
    kinds: set[str] = set()
    for _ in range(600):
        drawn = [chance.choice(by_category[chance.choice([*by_category])]) for _ in range(chance.randint(1, 4))]
        text = chance.choice(frames).replace("{}", "".join(drawn))
        value = cells[text]
        kinds.add(type(value).__name__)
        assert value is None or isinstance(value, (str, int, float, Fault)), ascii(text)
        if isinstance(value, str):
            value.encode()
        if evidence.field.is_number or evidence.field.kind == "date":
            evidence.look([text])
    assert "Fault" in kinds


@pytest.mark.parametrize(
    ("name", "cell", "code"),
    [
        ("oil_mass_g", "\ue0001_0", "number_unparseable"),
        ("oil_mass_g", '"', "ditto_mark"),
        ("date", "〃", "ditto_mark"),
        ("grip", "do.", "ditto_mark"),
        ("fluid", "''", "ditto_mark"),
        ("diff", "\ud800", "control_character"),
        ("result_note", "\udfff", "control_character"),
        ("dry_mass_g", '="21.3"+0.1', "formula_in_cell"),
    ],
)
def test_what_cannot_be_a_value_of_its_column_is_refused(name: str, cell: str, code: str) -> None:
    found: Any = cells_of(name)[cell]
    assert isinstance(found, Fault)
    assert (found.reason, found.column, found.value) == (code, name, cell)


@pytest.mark.parametrize(
    ("name", "cell", "value"),
    [
        ("date", "\u200e2024-04-06", "2024-04-06"),
        ("date", '="2024-04-06"', "2024-04-06"),
        ("date", "２０２４年"[:4] + "-０４-０６", "2024-04-06"),
        ("oil_mass_g", "\u200e1.35", 1.35),
        ("oil_mass_g", '="1.35"', 1.35),
        ("viscosity_cst", "１０，０００", 10_000.0),
        ("grip", "ｈｉｇｈ", "high"),
        ("result_note", ' "as written" ', '"as written"'),
        ("result_note", '=A1&"x"', '=A1&"x"'),
        ("result_note", "〃", "〃"),
    ],
)
def test_a_cell_is_read_without_what_nobody_sees_and_a_note_stays_as_written(
    name: str, cell: str, value: object
) -> None:
    assert cells_of(name)[cell] == value


def test_full_width_decimals_count_like_others() -> None:
    evidence = Evidence(BY_NAME["dry_mass_g"], "", OPTIONS)
    evidence.look(["２２．１５"])
    assert (evidence.proofs, evidence.decimals_under(".")) == ({"."}, 2)


def test_a_name_of_more_than_two_hundred_letters_is_refused() -> None:
    assert read_label(DIFF, "é" * 200) == "é" * 200
    with pytest.raises(ReadingError, match="a name of 201 letters; it may have 200") as caught:
        read_label(DIFF, "é" * 201)
    assert caught.value.code == "name_too_long"
