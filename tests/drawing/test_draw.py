"""Charts drawn without a browser: what a picture holds and never holds, and what a specification cannot do."""

from __future__ import annotations

import re
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from html import unescape
from typing import Any
from xml.etree import ElementTree

import pytest
from browser_team import HOSTILE

from bevelbook.drawing import draw
from bevelbook.drawing.draw import svg_of
from bevelbook.drawing.faults import CannotDraw, SpecRefused, TookTooLong
from bevelbook.drawing.looks import NARROW, ON_PAGE, WIDE
from bevelbook.drawing.process import PROCESS, DrawingProcess

X = {"field": "x", "type": "quantitative", "title": "oil put in [g]"}
POINTS: dict[str, Any] = {"mark": "point", "encoding": {"x": X}}
ROWS = [{"x": 1.86, "words": "a"}, {"x": 1.9, "words": "b"}]
ENDLESS = {"mark": "point", "encoding": {"x": {**X, "axis": {"values": {"expr": "sequence(1000000000)"}}}}}
SHAPES = {"svg", "g", "path", "rect", "line", "circle", "text", "tspan", "defs", "clipPath", "linearGradient", "stop"}


def names(svg: str) -> set[str]:
    return {part.tag.rpartition("}")[2] for part in ElementTree.fromstring(svg).iter()}


def texts(svg: str) -> list[str]:
    return ["".join(one.itertext()) for one in ElementTree.fromstring(svg).iter() if one.tag.endswith("}text")]


@pytest.fixture
def hurried() -> Iterator[DrawingProcess]:
    """A process that gives up soon."""
    process = DrawingProcess(longest_s=0.5)
    yield process
    process.close()


def test_a_process_that_somebody_ends_over_a_drawing_is_no_fault_of_it(hurried: DrawingProcess) -> None:
    hurried.start()
    running = hurried._running
    assert running is not None
    running.send_signal(signal.SIGSTOP)
    threading.Timer(0.1, running.kill).start()
    assert "<svg" in hurried.draw(
        '{"mark": "point", "data": {"values": [{"x": 1}]}, "encoding": {"x": {"field": "x"}}}'
    )
    assert hurried._running is not running


def test_a_drawing_that_stands_alone_has_colours_of_its_own_and_says_what_it_is() -> None:
    svg = svg_of(POINTS, ROWS, title='Masses of "rear-a" & <others>')
    root = ElementTree.fromstring(svg)
    assert (root.get("role"), root.get("aria-label")) == ("img", 'Masses of "rear-a" & <others>')
    assert root.get("font-family") == "system-ui, sans-serif"
    assert "var(" not in svg
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")
    assert "oil put in [g]" in texts(svg)


def test_a_drawing_on_a_page_takes_the_colours_of_the_page_and_is_passed_over_by_a_reader() -> None:
    svg = svg_of(POINTS, ROWS, colours=ON_PAGE)
    assert ElementTree.fromstring(svg).get("aria-hidden") == "true"
    assert {"var(--ink)", "var(--quiet)", "var(--line)"} == set(re.findall(r'"(var\([^"]*)"', svg))
    assert "aria-label" not in svg


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_it_is_as_wide_as_asked_and_no_text_is_small(width: Any) -> None:
    root = ElementTree.fromstring(svg_of({**POINTS, "width": 5_000}, ROWS, width=width))
    assert float(root.get("viewBox", "").split()[2]) <= width.width_px
    sizes = [float(found) for found in re.findall(r'font-size="([\d.]+)px"', ElementTree.tostring(root, "unicode"))]
    assert sizes
    assert width.label_px - 0.1 <= min(sizes) <= max(sizes) <= width.title_px + 0.1


@pytest.mark.parametrize(
    "spec",
    [
        {"mark": "text", "encoding": {"x": X, "text": {"field": "note"}}},
        {"mark": "point", "encoding": {"x": {"field": "note", "type": "nominal", "title": HOSTILE[:300]}}},
        {"mark": "point", "encoding": {"x": X, "shape": {"field": "note"}, "color": {"field": "note"}}},
        {"mark": "point", "encoding": {"x": X, "color": {"field": "colour", "scale": None}}},
        {"mark": "point", "encoding": {"x": X, "href": {"field": "link"}, "tooltip": {"field": "note"}}},
        {"mark": "point", "encoding": {"x": X, "description": {"field": "note"}}, "title": HOSTILE[:300]},
        {"facet": {"field": "note", "type": "nominal"}, "columns": 1, "spec": POINTS},
    ],
    ids=lambda spec: str(sorted(spec.get("encoding", spec))),
)
def test_a_note_stays_text(spec: dict[str, Any]) -> None:
    rows = [
        {"x": 1.0, "note": HOSTILE, "link": "javascript:alert(1)", "colour": 'red"/><script>alert(1)</script>'},
        {
            "x": 2.0,
            "note": "]]>&lt;script>\x00\x1b\ud800",
            "link": "data:text/html,x",
            "colour": "url(http://127.0.0.1/)",
        },
    ]
    svg = svg_of(spec, rows, colours=ON_PAGE)
    assert names(svg) <= SHAPES
    assert not re.search(r"<script|<img|<a |href|javascript:|url\(http|on\w+=[\"']", re.sub(r">[^<]*<", "><", svg))
    assert all(len(text) <= 300 for text in texts(svg))


def test_a_note_is_drawn_as_it_was_written() -> None:
    svg = svg_of(
        {"mark": "text", "encoding": {"x": X, "text": {"field": "note"}}}, [{"x": 1.0, "note": "<b>&amp;</b>"}]
    )
    assert "<b>&amp;</b>" in texts(svg)
    assert ">&lt;b&gt;&amp;amp;&lt;/b&gt;<" in svg


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        ({"mark": "pint"}, "TypeError"),
        ({"layer": 3}, "is not a function"),
        ({}, "Invalid specification"),
        ({**POINTS, "transform": [{"calculate": "foo(", "as": "z"}]}, "Unexpected end of input"),
    ],
)
def test_a_specification_that_cannot_be_drawn_is_refused_in_one_line(spec: dict[str, Any], message: str) -> None:
    for _ in range(2):
        with pytest.raises(SpecRefused, match=message) as caught:
            svg_of(spec, ROWS)
        assert "\n" not in str(caught.value)
        assert "http" not in str(caught.value)


def test_a_number_that_is_not_finite_is_refused() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        svg_of(POINTS, [{"x": float("nan")}])


def test_a_specification_without_an_end_is_given_up_and_the_next_is_drawn(hurried: DrawingProcess) -> None:
    with pytest.raises(TookTooLong, match=r"over 0\.5 s"):
        hurried.draw(draw.json.dumps({**ENDLESS, "data": {"values": [{"x": 1}]}}))
    assert hurried.draw('{"mark": "point", "data": {"values": [{"x": 1}]}}').startswith("<svg")


def test_nothing_is_fetched(hurried: DrawingProcess) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0)
        address = f"http://127.0.0.1:{server.getsockname()[1]}/rows.json"
        with pytest.raises(SpecRefused, match="not allowed"):
            hurried.draw(draw.json.dumps({**POINTS, "data": {"url": address}}))
        with pytest.raises(BlockingIOError):
            server.accept()


def test_threads_get_each_their_own_picture() -> None:
    def one(number: int) -> str:
        return svg_of({**POINTS, "title": f"picture {number}"}, ROWS)

    with ThreadPoolExecutor(4) as pool:
        for number, svg in enumerate(pool.map(one, range(12))):
            assert f"picture {number}" in texts(svg)


def test_a_picture_asked_for_again_is_not_drawn_again(monkeypatch: pytest.MonkeyPatch) -> None:
    spec = {**POINTS, "title": "drawn once"}
    first = svg_of(spec, ROWS)
    monkeypatch.setattr(PROCESS, "draw", lambda _: pytest.fail("drawn again"))
    assert svg_of(spec, ROWS) == first
    with pytest.raises(pytest.fail.Exception):
        svg_of(spec, ROWS[:1])


def test_a_picture_that_many_ask_for_at_once_is_drawn_once(monkeypatch: pytest.MonkeyPatch) -> None:
    spec, drawn = {**POINTS, "title": "asked for by all at once"}, list[str]()
    draw_it, all_there = PROCESS.draw, threading.Barrier(6)

    def counted(specification: str) -> str:
        drawn.append(specification)
        return draw_it(specification)

    def ask(_: int) -> str:
        all_there.wait()
        return svg_of(spec, ROWS)

    monkeypatch.setattr(PROCESS, "draw", counted)
    with ThreadPoolExecutor(6) as asking:
        assert len(set(asking.map(ask, range(6)))) == 1
    assert len(drawn) == 1


def test_what_is_kept_in_memory_has_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    kept = draw._Kept()
    monkeypatch.setattr(draw, "KEPT_BYTES", 100)
    for number in range(10):
        kept.keep(str(number), "x" * 40)
    assert [number for number in range(10) if kept.found(str(number))] == [8, 9]
    kept.keep("9", "y" * 70)
    assert [number for number in range(10) if kept.found(str(number))] == [9]


def test_what_took_too_long_is_tried_again_after_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    kept, times = draw._Kept(), [100.0]
    monkeypatch.setattr(draw, "monotonic", lambda: times[0])
    kept.keep("slow", TookTooLong("it took too long"))
    kept.keep("odd", SpecRefused("it is odd"))
    times[0] += draw.TRIED_AGAIN_S - 1
    assert kept.found("slow") and kept.found("odd")
    times[0] += 2
    assert kept.found("slow") is None
    assert kept.found("odd")


def test_where_no_process_can_be_had_it_is_said(monkeypatch: pytest.MonkeyPatch, tmp_path: Any) -> None:
    process = DrawingProcess()
    monkeypatch.setattr(sys, "executable", str(tmp_path / "no such program"))
    with pytest.raises(CannotDraw, match="cannot be drawn here"):
        process.draw("{}")


def test_text_in_a_picture_can_be_read_back() -> None:
    """Texts are texts, not outlines, so that they can be selected, searched and read aloud."""
    assert "oil put in [g]" in unescape(svg_of(POINTS, ROWS))
