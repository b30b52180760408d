"""Labels as they are printed: every millimetre of the PDF, every letter of a name, every code. All constructed."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import zxingcpp
from browser_team import make_team
from PIL import Image
from pypdf import PdfReader
from vl_convert import svg_to_png

from bevelbook.declare.vocabulary import LIMIT_KINDS
from bevelbook.labels.chosen import chosen_labels
from bevelbook.labels.code import ALPHANUMERIC, LEAST_MODULE_MM
from bevelbook.labels.contents import PaperLabel, Words
from bevelbook.labels.layout import BoxAt, CodeAt, RuleAt, TextAt
from bevelbook.labels.letter_widths import width_mm
from bevelbook.labels.pages import LabelPages, LabelsOnSheet, label_pages, outline_page
from bevelbook.labels.pdf import labels_pdf, without_shape
from bevelbook.labels.sheets import LabelSheet, sheet_of
from bevelbook.labels.svg import sheet_svg
from bevelbook.records import BY_NAME
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

Run = Callable[..., Any]
MM = 25.4 / 72.0
ADDRESS = "http://team.local:8002"


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A team's database, with a limit of runs, a marked case, and a bottle that was weighed."""
    made = make_team(tmp_path_factory.mktemp("labels") / "team.db")
    with closing(open_for_writing(made.path)) as writing, transaction(writing, made.path):
        writer = Writer(writing, "ana")
        writer.update(BY_NAME["diff"], made.ids["rear-a"], {"mark": "two white dots"})
        writer.insert(BY_NAME["limit"], {"kind": LIMIT_KINDS[0], "value": 12.0, "diff": made.ids["rear-a"]})
        writer.update(BY_NAME["bottle"], made.ids["own"], {"full_mass_g": 71.4, "empty_mass_g": 11.25})
    return made.path


@pytest.fixture(scope="module")
def labels(path: Path) -> list[PaperLabel]:
    with closing(open_for_reading(path)) as connection:
        return chosen_labels(connection, ("bags", "bottles", "tins"))


def lines(label: PaperLabel) -> list[str]:
    return [row.shown for row in label.rows]


def test_a_bag_says_what_is_in_it_and_has_boxes_for_the_runs_left(labels: list[PaperLabel]) -> None:
    """12 runs are the limit, 6 are done: two runs on record of 3 each."""
    found = {label.name: lines(label) for label in labels}
    assert found["rear-a/2"] == [
        "its case: two white dots",
        "10,000: 10,000 cSt at 25 °C, its label",
        "built 2026-04-03, by ana",
        "closed mass 22.40 g, to compare with",
        "6 runs left of 12: [ ] [ ] [ ] [ ] [ ] [ ]",
        "weighed ____ g at run ____",
        "weighed ____ g at run ____",
        "On the bag or its place in the box, never on the diff.",
    ]
    assert found["front-a/1"][1:3] == ["built 2026-04-03, by ana", "closed mass not weighed yet: ____ g"]
    assert found["front-a/1"][3].startswith("no limit of runs is set; not run yet, the next: [ ]")
    assert "rear-a/1" not in found, "it is no more in its diff"


def test_a_bottle_and_a_tin_say_what_the_records_know(labels: list[PaperLabel]) -> None:
    found = {label.name: lines(label) for label in labels if label.kind != "bag"}
    assert found["7,000"] == [
        "lot second",
        "6,150 cSt at 25 °C, own measurement of the bottle",
        "opened on ____",
        "with its cap: full 71.40 g, empty 11.25 g",
        "shake it before use: [ ] yes [ ] no",
        "weighed ____ g on ____",
    ]
    assert found["10,000"][0] == "lot ____"
    assert found["10,000"][3] == "with its cap: full ____ g, empty ____ g"
    assert found["shaft ring 5 x 2"][:3] == [
        "O-ring, 5 x 2 mm",
        "NBR",
        "case-side shaft of front-a, rear-a, rear-b",
    ]


DRAWN = ("90x50", "63.5x38.1", "70x36", "101.6x84.7", "66.7x25.4")
"""Sheets of each kind: cut from plain paper, small, without margins, large, and the smallest."""


@pytest.fixture(
    scope="module", params=[sheet_of(one, None) for one in DRAWN], ids=lambda sheet: f"{sheet.paper.name} {sheet.size}"
)
def printed(request: pytest.FixtureRequest, labels: list[PaperLabel]) -> LabelPages:
    sheet: LabelSheet = request.param
    return label_pages(labels, sheet, ADDRESS)


def test_nothing_is_drawn_over_the_edge_or_over_a_code_and_what_has_no_room_is_named(printed: LabelPages) -> None:
    sheet = printed.sheet
    for one in printed.labels:
        code = next(item for item in one.placed if isinstance(item, CodeAt))
        assert code.module_mm >= LEAST_MODULE_MM
        for left, top, right, bottom in map(_box, one.placed):
            assert min(left, top) >= 0.99
            assert right <= sheet.width_mm - 0.99
            assert bottom <= sheet.height_mm - 0.99
            if (left, top) != (code.x_mm, code.y_mm):
                apart = right <= code.x_mm or top >= code.y_mm + code.side_mm or bottom <= code.y_mm
                assert apart, "the quiet zone stays blank"
        shown = " ".join(item.text for item in one.placed if isinstance(item, TextAt))
        for row in one.label.rows:
            if row.part not in one.no_room and isinstance(row, Words):
                assert set(row.text.split()) <= set(shown.split()), (row, shown)
    said = list(printed.said())
    assert len([one for one in printed.labels if one.no_room]) == len([line for line in said if "no room" in line])
    assert not printed.left_out
    for one in printed.labels:
        if "where it goes" in one.no_room and one.label.kind == "bag":
            assert {"runs left", "weighing", "second weighing"} <= set(one.no_room), "it is the last to go"


def _box(item: Any) -> tuple[float, float, float, float]:
    match item:
        case TextAt():
            wide = width_mm(item.text, item.size_mm, is_bold=item.is_bold)
            return item.x_mm, item.y_mm - 0.73 * item.size_mm, item.x_mm + wide, item.y_mm + 0.21 * item.size_mm
        case RuleAt():
            return item.x_mm, item.y_mm, item.x_mm + item.wide_mm, item.y_mm
        case BoxAt():
            return item.x_mm, item.y_mm, item.x_mm + item.side_mm, item.y_mm + item.side_mm
        case CodeAt():
            return item.x_mm, item.y_mm, item.x_mm + item.side_mm, item.y_mm + item.side_mm
    raise AssertionError(item)


class Letters(NamedTuple):
    """A letter of a PDF: where it is, how large, and how high its face's capitals are, all in mm."""

    text: str
    x_mm: float
    y_mm: float
    size_mm: float
    capital_mm: float
    is_bold: bool


def letters_of(page: Any) -> Iterator[Letters]:
    """What a reader of PDFs finds on a page, by the matrices and the font of each letter."""
    found: list[Letters] = []
    high = float(page.mediabox.height)

    def visit(text: str, page_matrix: Any, text_matrix: Any, font: Any, size: float) -> None:
        if text.strip() and font is not None:
            scale = abs(page_matrix[3] * text_matrix[3])
            descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
            capital = float(descriptor["/CapHeight"]) / 1000.0
            x = page_matrix[0] * text_matrix[4] + page_matrix[4]
            y = high - (page_matrix[3] * text_matrix[5] + page_matrix[5])
            is_bold = "Bold" in str(font["/BaseFont"])
            found.append(Letters(text, x * MM, y * MM, size * scale * MM, size * scale * capital * MM, is_bold))

    page.extract_text(visitor_text=visit)
    return iter(found)


def test_a_pdf_has_the_size_of_its_paper_and_every_letter_where_it_was_laid_out(labels: list[PaperLabel]) -> None:
    sheet = sheet_of("63.5x38.1", None)
    made = label_pages(labels, sheet, ADDRESS, skip=19)
    reader = PdfReader(BytesIO(labels_pdf(made.pages, title="labels")))
    assert [len(page.labels) for page in made.pages] == [2, len(labels) - 2]
    assert len(reader.pages) == 2
    for page, drawn in zip(made.pages, reader.pages, strict=True):
        assert float(drawn.mediabox.width) * MM == pytest.approx(210.0, abs=0.01)
        assert float(drawn.mediabox.height) * MM == pytest.approx(297.0, abs=0.01)
        letters = list(letters_of(drawn))
        for here in page.labels:
            name = next(item for item in here.laid_out.placed if isinstance(item, TextAt) and item.is_bold)
            x, y = here.place.x_mm + name.x_mm, here.place.y_mm + name.y_mm
            line = [one for one in letters if one.is_bold and one.y_mm == pytest.approx(y, abs=0.01)]
            first = min((one for one in line if one.x_mm > x - 0.05), key=lambda one: one.x_mm)
            assert (first.text, first.x_mm) == (name.text[0], pytest.approx(x, abs=0.02))
            assert first.size_mm == pytest.approx(name.size_mm, rel=1e-3)
            assert first.capital_mm >= 5.0, "by the size of the letters and the height of capitals that the font has"


def _on_paper(page: LabelsOnSheet, dots_per_inch: int) -> Image.Image:
    drawn = Image.open(BytesIO(svg_to_png(sheet_svg(page), scale=dots_per_inch / 96)))
    paper = Image.new("L", drawn.size, 255)
    paper.paste(drawn.convert("L"), mask=drawn.getchannel("A"))
    return paper


def codes_on(page: LabelsOnSheet) -> list[Any]:
    """What a reader of codes finds on a sheet, drawn on white paper at 200 dots an inch."""
    return zxingcpp.read_barcodes(_on_paper(page, 200), formats=zxingcpp.BarcodeFormat.QRCode)  # type: ignore[no-any-return]


def test_every_code_is_read_from_the_drawing(printed: LabelPages) -> None:
    """Read by a reader of codes that had no part in making them."""
    expected: list[str] = []
    is_large = printed.sheet.width_mm >= 80 and printed.sheet.height_mm >= 36
    for one in printed.labels:
        text = f"{ADDRESS}/q/{one.label.asked_as}".replace(" ", "%20").replace(",", "%2C")
        capitals = one.label.asked_as.upper()
        expected.append(text if is_large else capitals if set(capitals) <= ALPHANUMERIC else one.label.asked_as)
    read: list[str] = []
    for page in printed.pages:
        for code in codes_on(page):
            assert code.ec_level == "Q"
            read.append(code.text)
    assert sorted(read) == sorted(expected)


def test_a_name_of_other_letters_stands_in_its_code_as_it_is_and_that_is_said() -> None:
    label = PaperLabel("bag", "hinten_a/3 ö", "hinten_a/3 ö", ())
    made = label_pages([label], sheet_of("63.5x38.1", None), ADDRESS)
    assert [code.text for code in codes_on(made.pages[0])] == ["hinten_a/3 ö"]
    assert list(made.said()) == [
        "hinten_a/3 ö: its code holds the name as it is written, since not all of its letters can be in a code in "
        "capitals."
    ]


def test_a_long_name_goes_on_in_further_lines() -> None:
    """Whatever has no room at all is left out, and a sheet that has room for it is named."""
    long = PaperLabel("bag", "the grey one with the long outdrives/14", "x", ())
    fits = PaperLabel("bag", "rear-a/1", "rear-a/1", ())
    made = label_pages([long, fits], sheet_of("63.5x38.1", None), ADDRESS)
    names = [item for item in next(made.labels).placed if isinstance(item, TextAt) and item.is_bold]
    assert " ".join(item.text for item in names) == long.name
    assert len(names) == 3
    assert min(item.size_mm for item in names) >= 7.3
    small = label_pages([long, fits], sheet_of("66.7x25.4", None), ADDRESS)
    assert [one.label.name for one in small.labels] == ["rear-a/1"]
    assert small.left_out == (long,)
    assert "Take a sheet with larger labels: 101.6x33.9 mm on Letter has room." in "".join(small.said())
    none = label_pages([long._replace(name="outdrives, " * 25)], sheet_of(None, None), ADDRESS)
    assert "No sheet here has room for it: give it a shorter name" in "".join(none.said())


def test_a_code_that_is_printed_has_modules_and_a_blank_edge_as_wide_as_they_have_to_be(printed: LabelPages) -> None:
    """Measured in dots of 300 to the inch. Four modules are the quiet zone of ISO/IEC 18004."""
    dot = 25.4 / 300
    page = printed.pages[0]
    paper = _on_paper(page, 300)
    for here in page.labels:
        code = next(item for item in here.laid_out.placed if isinstance(item, CodeAt))
        left, top = here.place.x_mm + code.x_mm, here.place.y_mm + code.y_mm
        zone = paper.crop(tuple(round(one / dot) for one in (left, top, left + code.side_mm, top + code.side_mm)))
        inked = zone.point(lambda gray: 255 * (gray < 128)).getbbox()
        assert inked is not None
        module = (inked[2] - inked[0]) * dot / (code.code.wide - 8)
        assert module >= 0.5 - 0.004
        blank = (inked[0], inked[1], zone.width - inked[2], zone.height - inked[3])
        assert min(blank) * dot >= 4 * module - 1.5 * dot


def test_letters_that_no_face_has_are_named_for_the_pdf_and_others_are_drawn() -> None:
    """U+E0F1 belongs to nobody; Cyrillic and Greek are in the face that comes with the library that draws."""
    label = PaperLabel("bag", "Ж-7Ω", "x", (Words("note", "odd \ue0f5 letter"),))
    made = label_pages([label], sheet_of(None, None), ADDRESS)
    assert [line.partition(",")[0] for line in without_shape(made.labels)] == [
        "Ж-7Ω: no face on this machine has \ue0f5"
    ]
    text = PdfReader(BytesIO(labels_pdf(made.pages, title="x"))).pages[0].extract_text()
    assert "Ж-7Ω" in text


@pytest.mark.parametrize("size", [None, "70x36", "63.5x46.6", "4x8:52.5x37.1"])
def test_every_sheet_says_where_labels_never_go_and_which_paper_lasts(size: str | None) -> None:
    """Also a sheet without margins, on which the place of one label is taken for it."""
    sheet = sheet_of(size, None)
    labels = [PaperLabel("bag", f"r/{number}", f"r/{number}", ()) for number in range(sheet.labels + 1)]
    made = label_pages(labels, sheet, ADDRESS)
    assert len(made.pages) == 2
    for page in made.pages:
        words = " ".join(item.text for item in page.words)
        assert "never on a diff that runs: oil gets under the glue" in words
        assert "Laser or toner on film under clear tape" in words
        assert "away from flame and from packs that charge" in words
        taken = {here.place for here in page.labels}
        for item in page.words:
            inside = [
                place
                for place in taken
                if place.x_mm <= item.x_mm < place.x_mm + sheet.width_mm
                and place.y_mm <= item.y_mm < place.y_mm + sheet.height_mm
            ]
            assert not inside


def test_a_test_sheet_has_the_outline_of_every_place_and_a_line_of_100_mm() -> None:
    sheet = sheet_of("63.5x38.1", None)
    drawn = sheet_svg(outline_page(sheet), with_ruler=True)
    assert drawn.count('width="63.5" height="38.1"') == 21
    assert "h100M" in drawn


def test_the_command_writes_labels_over_labels_alone(bevelbook: Run, path: Path, tmp_path: Path) -> None:
    asked = (
        "--db",
        str(path),
        "labels",
        "rear-a",
        "--pdf",
        str(tmp_path / "l.pdf"),
        "--html",
        str(tmp_path / "l.html"),
    )
    done = bevelbook(*asked)
    assert done.code == 0
    assert "Wrote 1 label on 1 sheet" in done.out
    assert f"http://{path.stem}.local:8002/q/NAME" in done.out
    assert bevelbook(*asked).code == 0
    for option, name in (("--pdf", "other.pdf"), ("--html", "other.html")):
        (tmp_path / name).write_bytes(b"%PDF-1.7 mine")
        refused = bevelbook("--db", str(path), "labels", "rear-a", option, str(tmp_path / name))
        assert refused.code == 2
        assert "labels replace only labels" in refused.err
        assert (tmp_path / name).read_bytes() == b"%PDF-1.7 mine"


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("nothing",), "unknown_build"),
        (("rear-a", "--address", "http://192.168.4.2:8002"), "numeric_address"),
        (("rear-a", "--address", "team.local"), "not_an_address"),
        (("rear-a", "--address", "http://team.local:65536"), "not_an_address"),  # RFC 9293: a port has 16 bits
        (("rear-a", "--address", "http://team.local:0"), "not_an_address"),
        (("rear-a", "--skip", "10"), "too_many_skipped"),
        (("rear-a", "--sheet", "10x10"), "unknown_sheet"),
    ],
)
def test_what_cannot_be_printed_is_said(bevelbook: Run, path: Path, words: tuple[str, ...], code: str) -> None:
    done = bevelbook("--db", str(path), "labels", *words, "--json")
    assert done.code == 2
    assert json.loads(done.out)["code"] == code


def test_data_for_programs_has_where_each_label_is(bevelbook: Run, path: Path) -> None:
    done = bevelbook("--db", str(path), "labels", "rear-a", "seal shaft ring 5 x 2", "--skip", "1", "--json")
    found = json.loads(done.out)
    assert [(one["name"], one["code"], one["on_sheet"]) for one in found["labels"]] == [
        ("rear-a/2", "http://team.local:8002/q/rear-a/2", 1),
        ("shaft ring 5 x 2", "http://team.local:8002/q/shaft%20ring%205%20x%202", 1),
    ]
    assert (found["labels"][0]["x_mm"], found["labels"][0]["y_mm"]) == (105.0, 23.5)


def test_the_name_of_an_oil_means_its_bottles_in_use(bevelbook: Run, path: Path, tmp_path: Path) -> None:
    found = {}
    with closing(open_for_reading(path)) as connection:
        bottles = {label.asked_as: label.name for label in chosen_labels(connection, ("bottles",))}
    for fluid in set(bottles.values()):
        done = bevelbook("--db", path, "labels", fluid, "--json")
        found |= {one["asked_as"]: one["name"] for one in json.loads(done.out)["labels"]}
    assert found == bottles
    assert bevelbook("new").code == 0
    assert bevelbook("record", "fluid", "label=old oil").code == 0
    none = json.loads(bevelbook("labels", "old oil", "--json").out)
    assert none["code"] == "no_labels"
    assert "'bevelbook record bottle \"fluid=old oil\"'" in none["remedy"]


def test_without_the_library_the_command_says_what_to_install(
    bevelbook: Run, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from bevelbook.labels import code, pdf

    monkeypatch.setattr(pdf, "find_spec", lambda name: None if name == "pypdf" else object())
    lacking = bevelbook("--db", str(path), "labels", "--pdf", "x.pdf")
    assert (lacking.code, 'pip install "bevelbook[labels]"' in lacking.err) == (2, True)
    monkeypatch.setattr(code, "find_spec", lambda name: None)
    lacking = bevelbook("--db", str(path), "labels", "--html", "x.html")
    assert (lacking.code, 'pip install "bevelbook[labels]"' in lacking.err) == (2, True)
    assert not Path("x.html").exists()
