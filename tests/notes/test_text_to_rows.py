"""Bytes to text to rows: encodings, delimiters, headings, and the line on which each row begins. Data constructed."""

from __future__ import annotations

import hashlib
import io
import random

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.notes.decoding import FileRejected, decoding_of, unpacked
from bevelbook.notes.headings import matched, own_map
from bevelbook.notes.layout import find_heading, heading_in, units_in
from bevelbook.notes.table import LONGEST_CELL, Block, TextTable, height, hinted_delimiter, sample_of, sample_rows

HEADING = ["date", "diff", "dry_mass_g"]


def blocks(text: str, rows: int = 10_000, delimiter: str = ",", encoding: str = "utf-8") -> list[Block]:
    return list(TextTable(io.BytesIO(text.encode(encoding)), encoding, delimiter).blocks(rows))


# Encodings (byte order marks of the Unicode Standard, chapter 23.8, from memory)


@pytest.mark.parametrize(
    ("data", "encoding", "warning"),
    [
        ("é".encode("utf-8-sig"), "utf-8-sig", None),
        ("é".encode("utf-16"), "utf-16", None),
        (b"\xfe\xff" + "é".encode("utf-16-be"), "utf-16", None),
        ("é".encode("utf-32"), "utf-32", None),
        (b"\x00\x00\xfe\xff" + "é".encode("utf-32-be"), "utf-32", None),
        ("date,é".encode(), "utf-8", None),
        (b"date", "utf-8", None),
        ("date,diff".encode("utf-16-le"), "utf-16-le", "encoding_guessed:utf-16-le"),
        ("date,diff".encode("utf-16-be"), "utf-16-be", "encoding_guessed:utf-16-be"),
        (b"24 \xb0C,\xe9", "cp1252", "encoding_assumed:cp1252"),
        (b"a", "utf-8", None),
    ],
)
def test_an_encoding_is_proven_or_said_to_be_assumed(data: bytes, encoding: str, warning: str | None) -> None:
    found = decoding_of(io.BytesIO(data), pack=True)
    assert (found.encoding, found.warning, found.byte_count) == (encoding, warning, len(data))
    assert found.sha256 == hashlib.sha256(data).hexdigest()
    assert found.packed is not None
    assert unpacked(found.packed) == data
    assert decoding_of(io.BytesIO(data)).packed is None


@pytest.mark.parametrize(
    ("data", "encoding", "code", "line"),
    [
        (b"", None, "empty_file", None),
        (b"ok\n\xc3\xa9\n\xb0\n", None, "mixed_encoding", 3),
        (b"ok\n\xb0\nok\n\xc3\xa9\n", None, "mixed_encoding", 2),
        (b"\xc3\xa9 and \xb0\n", None, "mixed_encoding", 1),
        (b"ok\nok\n\x81\n", None, "encoding_unknown", 3),
        (b"24 \xb0C", "utf-8", "encoding_unknown", None),
    ],
)
def test_bytes_that_fit_no_encoding_are_refused_with_their_line(
    data: bytes, encoding: str | None, code: str, line: int | None
) -> None:
    with pytest.raises(FileRejected) as caught:
        decoding_of(io.BytesIO(data), encoding)
    assert (caught.value.code, caught.value.place.line) == (code, line)


@pytest.mark.parametrize(
    ("zeros", "encoding"),
    [
        ((0, 5), "utf-16-le"),
        ((0, 4), "utf-8"),
        ((1, 9), "utf-8"),
        ((5, 0), "utf-16-be"),
        ((4, 0), "utf-8"),
        ((9, 1), "utf-8"),
        ((5, 5), "utf-8"),
    ],
)
def test_utf_16_without_a_mark_has_zeros_at_one_place_of_its_pairs_and_hardly_any_at_the_other(
    zeros: tuple[int, int], encoding: str
) -> None:
    """Ten pairs of bytes: over 4 zeros at one place, and under half a one at the other."""
    even, odd = (b"\0" * count + b"a" * (10 - count) for count in zeros)
    data = bytes(one for pair in zip(even, odd, strict=True) for one in pair)
    assert decoding_of(io.BytesIO(data)).encoding == encoding


@pytest.mark.parametrize(
    ("even", "odd", "encoding"),
    [
        (1, 20, "utf-16-le"),
        (20, 1, "utf-16-be"),
        (2, 20, "utf-8"),
        (20, 2, "utf-8"),
        (1, 12, "utf-8"),
        (12, 1, "utf-8"),
        (1, 13, "utf-16-le"),
        (13, 1, "utf-16-be"),
    ],
)
def test_a_few_zeros_at_the_other_place_do_not_speak_against_utf_16(even: int, odd: int, encoding: str) -> None:
    """Thirty pairs: over 12 zeros at one place, under one and a half at the other."""
    columns = [b"\0" * count + b"a" * (30 - count) for count in (even, odd)]
    data = bytes(one for pair in zip(*columns, strict=True) for one in pair)
    assert decoding_of(io.BytesIO(data)).encoding == encoding


@pytest.mark.parametrize("name", ["klingon", "", "base64", "rot13"])
def test_a_name_that_is_no_encoding_of_text_is_refused(name: str) -> None:
    with pytest.raises(InputError) as caught:
        decoding_of(io.BytesIO(b"x"), name)
    assert caught.value.code == "unknown_encoding"


def test_an_encoding_that_is_named_is_taken_without_a_warning() -> None:
    found = decoding_of(io.BytesIO(b"24 \xb0C"), "latin1")
    assert (found.encoding, found.warning) == ("iso8859-1", None)


# Rows and their lines


def test_a_row_of_several_lines_moves_those_after_it() -> None:
    (block,) = blocks('a,b\n"one\ntwo",c\r\n"x\r\ny\rz",d\ne,f\n')
    assert list(block.lines) == [1, 2, 4, 7]
    assert [len(row) for row in block.rows] == [2, 2, 2, 2]
    assert block.broken == []


@pytest.mark.parametrize(
    ("row", "lines"),
    [([""], 1), (["a\nb"], 2), (["a\r\nb"], 2), (["a\rb"], 2), (["a\n\rb", "c\nd"], 4), (["a\r\n\r\nb"], 3)],
)
def test_the_height_of_a_row_counts_each_kind_of_line_break_once(row: list[str], lines: int) -> None:
    assert height(row) == lines


def test_blocks_go_on_where_the_one_before_ended() -> None:
    found = blocks('a\n"b\nc"\nd\ne\nf\n', rows=2)
    assert [(list(one.lines), [row[0] for row in one.rows]) for one in found] == [
        ([1, 2], ["a", "b\nc"]),
        ([4, 5], ["d", "e"]),
        ([6], ["f"]),
    ]


def test_a_line_that_cannot_be_split_is_named_and_the_rows_after_it_are_read() -> None:
    found = blocks('a,b\n"bad"x,c\nd,e\n')
    assert [(list(one.lines), [(broken.line, broken.cells) for broken in one.broken]) for one in found] == [
        ([1, 3], [(2, ['"bad"x', "c"])])
    ]


def test_a_quote_that_is_never_closed_is_refused_with_the_line_it_opens_on() -> None:
    with pytest.raises(FileRejected) as caught:
        blocks('a,b\n"one\ntwo",c\nd,"e\nf,g\n')
    assert (caught.value.code, caught.value.place.line) == ("unterminated_quote", 4)


def test_a_block_of_long_texts_has_fewer_rows_and_all_of_them_come(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is read in small blocks, with pauses inside of cells of several lines too, is what is read in one."""
    draw = random.Random(23)
    parts = ("a", ",", "\n", "\r\n", '"b\nc"', '"d ""e"" f"', '"g"x', ",,", "h" * 40)
    often = (3, 4, 4, 1, 2, 1, 0.1, 1, 1)
    texts = ["".join(draw.choices(parts, often, k=draw.randint(1, 60))) for _ in range(400)]
    whole = [flat(text) for text in texts]
    monkeypatch.setattr("bevelbook.notes.table.CHUNK_CHARACTERS", 20)
    monkeypatch.setattr("bevelbook.notes.table.BLOCK_CHARACTERS", 100)
    assert [flat(text) for text in texts] == whole
    assert sum(isinstance(one, str) for one in whole) < 200, "most can be read"
    long = "".join(f"{number},{'x' * 30}\n" for number in range(200))
    found = blocks(long)
    assert len(found) > 30
    assert [row[0] for block in found for row in block.rows] == [str(number) for number in range(200)]


def flat(text: str) -> list[object] | str:
    """All rows of a text with their lines, and the broken ones; the code of its fault where there is one."""
    try:
        found = blocks(text)
    except FileRejected as fault:
        return f"{fault.code} {fault.place.line}"
    rows = [one for block in found for one in zip(block.lines, block.rows, strict=True)]
    return [rows, [one for block in found for one in block.broken]]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "cp1252"])
def test_a_line_longer_than_any_row_is_refused_before_it_is_held(
    encoding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bevelbook.notes.decoding.CHUNK", 64)
    monkeypatch.setattr("bevelbook.notes.decoding.LONGEST_LINE", 1_000)
    for end in ("\n", "\r\n", "\r"):
        for length, refused in ((1_000, None), (1_001, 3)):
            text = end.join(("date,diff", "à,b", "é" * length, "c,d"))
            given = None if encoding == "cp1252" else encoding
            try:
                decoding_of(io.BytesIO(text.encode(encoding)), given)
                assert refused is None
            except FileRejected as fault:
                assert (fault.code, fault.place.line) == ("line_too_long", refused)


def test_a_cell_longer_than_any_note_is_refused() -> None:
    """A cell of a workbook takes 32,767 characters (from memory of the vendor's published limits)."""
    assert len(blocks(f"a,{'b' * LONGEST_CELL}\n")[0].rows[0][1]) == LONGEST_CELL >= 32_767
    for cell in ("b" * (LONGEST_CELL + 1), '"' + "b\n" * (LONGEST_CELL // 2 + 1) + '"'):
        with pytest.raises(FileRejected) as caught:
            blocks(f"x,y\na,{cell}\n")
        assert (caught.value.code, caught.value.place.line) == ("unterminated_quote", 2)


def test_progress_is_in_bytes_of_the_file() -> None:
    table = TextTable(io.BytesIO(b"a,b\nc,d\n"), "utf-8", ",")
    assert table.progress()[1] == 8
    list(table.blocks())
    assert table.progress() == (8, 8)


def test_a_sample_ends_with_a_whole_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.notes.table.SAMPLE_CHARACTERS", 8)
    assert sample_of(io.BytesIO(b"abc\ndefghi\n"), "utf-8") == "abc\n"
    assert sample_of(io.BytesIO(b"abc\rdefghi\r"), "utf-8") == "abc\r"
    assert sample_of(io.BytesIO(b"abcdefghi\n"), "utf-8") == "abcdefgh"
    assert sample_of(io.BytesIO(b"abc\nde"), "utf-8") == "abc\nde"


def test_a_sample_of_rows_stops_at_its_limit() -> None:
    assert sample_rows("a;b\nc;d\ne;f\n", ";", 2) == [["a", "b"], ["c", "d"]]


@pytest.mark.parametrize(
    ("sample", "sign"),
    [
        ("sep=;\na;b\n", ";"),
        ("\ufeffSEP=|\n", "|"),
        ("sep=\t\na\tb\n", "\t"),
        ("sep=\\t\n", None),
        ("sep=;;\n", None),
        ("a;b\nsep=;\n", None),
        ("", None),
        (" \n", None),
    ],
)
def test_a_first_line_may_name_the_delimiter(sample: str, sign: str | None) -> None:
    assert hinted_delimiter(sample) == sign


# Headings


def test_the_first_row_that_names_days_and_diffs_is_the_heading_though_a_later_one_knows_more() -> None:
    rows = [["log"], ["date", "box", "x"], HEADING, [*HEADING, "oil_mass_g"]]
    found = heading_in(rows, own={}, line=None, delimiter=",")
    assert found is not None
    assert (found.row, found.cells) == (2, tuple(HEADING))
    assert heading_in([["date", "box"]], own={}, line=None, delimiter=",") is None, "one known name is not a heading"


def test_a_heading_whose_line_is_named_needs_one_known_name() -> None:
    rows = [["two\nlines"], ["date", "box"], HEADING]
    found = heading_in(rows, own={}, line=3, delimiter=",")
    assert found is not None
    assert (found.row, list(found.known)) == (1, ["date"])
    assert heading_in(rows, own={}, line=2, delimiter=",") is None, "no row starts there"
    assert heading_in(rows, own={}, line=1, delimiter=",") is None


def test_where_no_row_names_both_the_one_with_the_most_known_names_is_taken() -> None:
    rows = [["date", "box", "oil_mass_g"], ["box", "oil_mass_g", "dry_mass_g", "runs"], ["diff", "runs"]]
    found = heading_in(rows, own={}, line=None, delimiter=",")
    assert found is not None
    assert found.row == 1


def test_a_heading_is_looked_for_in_200_rows_and_20_000_cells_or_on_the_line_that_is_named() -> None:
    for filler, before, is_found in (
        (["x"], 199, True),
        (["x"], 200, False),
        (["x"] * 10_000, 1, True),
        (["x"] * 10_000, 2, False),
    ):
        rows = [filler] * before + [HEADING]
        assert (heading_in(rows, own={}, line=None, delimiter=",") is not None) == is_found
        named = heading_in(rows, own={}, line=before + 1, delimiter=",")
        assert named is not None
        assert named.row == before


def test_a_named_line_is_found_behind_the_sample(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bevelbook.notes.table.SAMPLE_CHARACTERS", 8)
    text = "x;y\n" * 300 + "date;diff\n2026-05-03;a\n2026-05-04;a\n"
    sample = sample_of(io.BytesIO(text.encode()), "utf-8", header_line=301)
    assert find_heading(sample, own={}, line=301).row == 300
    with pytest.raises(FileRejected):
        find_heading(sample, own={}, line=300)


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_the_delimiter_is_the_one_under_which_most_headings_are_known(sign: str) -> None:
    found = find_heading(sign.join(HEADING) + "\n", own={}, delimiter=None, line=None)
    assert (found.delimiter, len(found.known), found.width) == (sign, 3, 3)


def test_a_delimiter_under_which_fewer_headings_are_known_is_not_taken_whichever_comes_first() -> None:
    for sample, sign in (
        ("date,diff;dry_mass_g;oil_mass_g;runs\n", ";"),
        ("date;diff,dry_mass_g,oil_mass_g,runs\n", ","),
    ):
        assert find_heading(sample, own={}, delimiter=None, line=None).delimiter == sign
    with pytest.raises(FileRejected):
        find_heading("date|diff\n", own={}, delimiter=",", line=None)


def test_a_row_is_as_wide_as_the_last_named_column() -> None:
    found = find_heading("date,diff,,\n", own={}, delimiter=None, line=None)
    assert (found.width, len(found.cells)) == (2, 4)


@pytest.mark.parametrize(
    ("heading", "own", "name", "unit"),
    [
        ("Tag", {"tag": "date"}, "date", None),
        ("date", {"date": "ignore"}, None, None),
        ("Leer (mg)", {"leer": "dry_mass_g"}, "dry_mass_g", "mg"),
        ("Leer (mg)", {"leer (mg)": "dry_mass_g"}, "dry_mass_g", "mg"),
        ("Leer mg", {"leer": "dry_mass_g"}, "dry_mass_g", "mg"),
        ("Leer (Lot)", {"leer (lot)": "dry_mass_g"}, "dry_mass_g", "Lot"),
        ("Leer [Lot]", {"leer": "dry_mass_g"}, "dry_mass_g", "Lot"),
        ("Leer Lot", {"leer lot": "dry_mass_g"}, "dry_mass_g", None),
        ("Leer (kalt) x", {"leer (kalt) x": "dry_mass_g"}, "dry_mass_g", None),
        ("Leer kalt", {"leer": "dry_mass_g"}, None, None),
        ("Kiste (mg)", {"kiste": "diff"}, None, None),
        ("Rest (mg)", {"rest": "ignore"}, None, None),
        ("oil (g)", {}, "oil_mass_g", "g"),
        ("oil g", {}, "oil_mass_g", "g"),
        ("oil", {}, None, None),
        ("oil (cSt)", {}, "viscosity_cst", "cSt"),
        ("dry mass [mg]", {}, "dry_mass_g", "mg"),
        ("dry_mass_g", {}, "dry_mass_g", ""),
        ("Dry_Mass_G", {}, "dry_mass_g", ""),
        ("dry", {}, "dry_mass_g", None),
        ("", {}, None, None),
    ],
)
def test_a_heading_is_what_the_team_says_else_one_that_is_known(
    heading: str, own: dict[str, str], name: str | None, unit: str | None
) -> None:
    column = matched(heading, 4, own)
    assert (column.field.name if column.field else None, column.unit, column.place) == (name, unit, 4)
    assert column.heading == heading


def test_names_of_a_map_are_read_as_headings_are() -> None:
    assert own_map([(" Tag ", "Date"), ("x", "dry mass"), ("y", "IGNORE")]) == {
        "tag": "date",
        "x": "dry_mass_g",
        "y": "ignore",
    }


@pytest.mark.parametrize(
    ("row", "units"),
    [
        (["", "", "mg"], {2: "mg"}),
        (["", "", "(mg)"], {2: "mg"}),
        (["", "g", "mg"], {2: "mg"}),
        (["", "g", ""], None),
        (["", "rear-a", "mg"], None),
        (["", "", ""], None),
        (["", "", "9.5"], None),
    ],
)
def test_a_row_of_units_holds_nothing_else(row: list[str], units: dict[int, str] | None) -> None:
    heading = find_heading(",".join(HEADING) + "\n", own={}, delimiter=None, line=None)
    assert units_in(row, heading) == units
