"""What a scale said last, and when a reading counts as steady."""

from __future__ import annotations

from bevelbook.scale_port.last_reading import LastReading, SaidLast
from bevelbook.scale_port.line_cutter import HALF, CutLine


def after(*lines: tuple[float, str]) -> SaidLast:
    """What was said last after lines, each at its second."""
    kept = LastReading()
    for at, text in lines:
        kept.take(CutLine(text), at)
    return kept.said


def is_steady(*lines: tuple[float, str]) -> bool:
    said = after(*lines)
    assert said.reading is not None
    return said.reading.is_steady


def test_a_sign_counts_at_once() -> None:
    assert is_steady((0, "S 62.35 g"))
    assert not is_steady((0, "S 62.35 g"), (5, "62.35 g ?"))


def test_without_a_sign_the_same_number_has_to_come_again_a_second_later() -> None:
    """Ten lines a second of oil running in are not steady; a key that is pressed twice is."""
    assert not is_steady((0, "62.35 g"))
    assert not is_steady(*((n / 10, "62.35 g") for n in range(10)))
    assert is_steady(*((n / 10, "62.35 g") for n in range(11)))
    assert is_steady((0, "62.35 g"), (7, "62.35 g"))
    assert not is_steady((0, "62.35 g"), (0.5, "62.36 g"), (1.2, "62.35 g"))


def test_what_was_lost_between_breaks_the_row() -> None:
    kept = LastReading()
    kept.take(CutLine("62.35 g"), 0.0)
    kept.take(CutLine("2.36 g", HALF), 1.0)
    kept.take(CutLine("62.35 g"), 2.0)
    assert kept.said.reading is not None
    assert not kept.said.reading.is_steady
    # A day or a line of dashes in between loses nothing.
    assert is_steady((0, "62.35 g"), (0.1, "2026-11-26"), (0.2, "--------"), (5, "62.35 g"))


def test_a_line_that_is_not_taken_is_shown_beside_the_last_reading() -> None:
    said = after((0, "S 62.35 g"), (1, "Total 62.35 g"))
    assert said.reading is not None
    assert said.line is not None
    assert (said.line.text, said.line.why) == ("Total 62.35 g", "“Total” is not known")
    assert after((0, "Total 62.35 g"), (1, "S 62.35 g")).line is None


def test_an_overload_leaves_no_reading() -> None:
    said = after((0, "S 62.35 g"), (1, "OL"))
    assert said.reading is None
    assert said.line is not None
    assert said.line.why == "more than the scale takes"


def test_a_port_that_went_leaves_no_reading() -> None:
    kept = LastReading()
    kept.take(CutLine("S 62.35 g"), 0.0)
    kept.trouble("It was pulled out.")
    assert (kept.said.reading, kept.said.trouble) == (None, "It was pulled out.")


def test_there_is_news_only_where_something_of_it_is_to_be_seen() -> None:
    kept = LastReading()
    kept.take(CutLine("S 62.35 g"), 0.0)
    first = kept.said.number
    kept.take(CutLine("S 62.35 g"), 0.1)
    assert (kept.said.number, kept.said.reading and kept.said.reading.came_at) == (first, 0.1)
    kept.take(CutLine("S 62.35 g"), 9.0)  # printed again
    assert kept.said.number == first + 1
    kept.take(CutLine("62.35 g ?"), 9.1)
    assert kept.said.number == first + 2


def test_a_comma_that_was_proved_counts_for_the_lines_after_it() -> None:
    assert after((0, "12,345 g")).reading is None
    said = after((0, "0,000 g"), (1, "12,345 g"))
    assert said.reading is not None
    assert said.reading.digits == "12.345"
