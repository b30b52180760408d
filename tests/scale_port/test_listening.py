"""A thread that listens to a scale at a pseudo-terminal: lines, noise, half lines, pulled out and plugged in again.

Nothing here waits for longer than what has to come takes: a line without its end is left for half a second.
"""

from __future__ import annotations

import asyncio
import sys
import termios
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from printing_scale import SECONDS, SETTINGS, PrintingScale, listened_to, wait_for

from bevelbook.declare.errors import InputError
from bevelbook.scale_port import last_reading, serial_ports
from bevelbook.scale_port.line_settings import asking_bytes, line_settings
from bevelbook.scale_port.listening import ENDED, ScaleListening
from bevelbook.scale_port.scale_lines import PrintedLine
from bevelbook.scale_port.serial_ports import check_port


@pytest.fixture
def scale(tmp_path: Path) -> Iterator[PrintingScale]:
    made = PrintingScale(tmp_path / "scale")
    yield made
    if made.path.is_symlink():
        made.pull_out()


def test_readings_come_through_noise_and_half_lines(scale: PrintingScale) -> None:
    with listened_to(scale) as listening:
        scale.prints(b"\x00\xff\xfe62.3", b"\x9c\r\n", "ST,GS,+00062.35  g")
        said = wait_for(listening, lambda said: said.reading is not None)
        assert said.reading is not None
        assert (said.reading.mass_g, said.reading.is_steady, said.line) == (62.35, True, None)
        scale.prints(b"ST,GS,+000")
        said = wait_for(listening, lambda said: said.line is not None)
        assert said.line is not None
        assert (said.line.text, said.line.why) == ("ST,GS,+000", "half a line")
        scale.prints(b"62.35  g\r\n", "S 62.41 g")
        said = wait_for(listening, lambda said: said.reading is not None and said.reading.mass_g == 62.41)
        assert said.line is None


def test_a_scale_that_is_pulled_out_comes_back_when_it_is_plugged_in_again(scale: PrintingScale) -> None:
    with listened_to(scale, retry_s=0.05) as listening:
        scale.prints("S 62.35 g")
        wait_for(listening, lambda said: said.reading is not None)
        scale.pull_out()
        said = wait_for(listening, lambda said: "not plugged in" in said.trouble)
        assert said.reading is None
        scale.plug_in()
        wait_for(listening, lambda said: not said.trouble)
        scale.prints("", "S 62.36 g")
        said = wait_for(listening, lambda said: said.reading is not None)
        assert said.reading is not None
        assert said.reading.digits == "62.36"


def test_a_number_that_no_scale_prints_is_shown_and_the_listening_goes_on(scale: PrintingScale) -> None:
    with listened_to(scale) as listening:
        scale.prints("S 12.36 g", f"ST {'9' * 40} g")
        said = wait_for(listening, lambda said: said.line is not None)
        assert said.line is not None
        assert said.line.why == "a mass with more digits than a scale has"
        scale.prints("S 12.37 g")
        wait_for(listening, lambda said: said.reading is not None and said.reading.digits == "12.37")


@pytest.mark.filterwarnings("ignore::pytest.PytestUnhandledThreadExceptionWarning")
def test_a_thread_that_ends_though_nobody_stopped_it_says_so(
    scale: PrintingScale, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever ends it: a page offers no reading of before, and says what to do."""
    with listened_to(scale) as listening:
        scale.prints("S 12.36 g")
        wait_for(listening, lambda said: said.reading is not None)

        def fails(*_: object, **__: object) -> PrintedLine:
            raise ArithmeticError

        monkeypatch.setattr(last_reading, "read_line", fails)
        scale.prints("S 12.37 g")
        said = wait_for(listening, lambda said: bool(said.trouble))
        assert (said.trouble, said.reading) == (ENDED, None)
    assert listening.said.trouble == ENDED


def test_a_port_that_cannot_be_set_any_more_is_said_and_tried_again(
    scale: PrintingScale, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pulled out while it is being set, or another adapter at its name that has no such setting."""
    faults: list[Exception] = [termios.error(5, "Input/output error"), ValueError("Invalid baud rate")]
    really = termios.tcflush

    def flushed(port: int, queue: int) -> None:
        if faults:
            raise faults.pop()
        really(port, queue)

    with listened_to(scale, retry_s=0.05) as listening:
        monkeypatch.setattr(termios, "tcflush", flushed)
        heard = []
        for _ in range(2):
            scale.pull_out()
            scale.plug_in()
            heard.append(
                wait_for(listening, lambda said: "cannot be" in said.trouble and said.trouble not in heard).trouble
            )
        assert "cannot be set like that" in heard[0]
        assert heard[1] == f"{scale.path} cannot be opened: Input/output error."
        wait_for(listening, lambda said: not said.trouble)


def test_a_scale_is_asked_only_while_somebody_waits(scale: PrintingScale) -> None:
    with listened_to(scale, asking_bytes("P"), ask_s=0.05) as listening:

        async def waits() -> int:
            waiting = asyncio.create_task(listening.news(listening.said.number, SECONDS))
            asked = await asyncio.to_thread(scale.asked)
            scale.prints("S 62.35 g")
            said = await waiting
            assert said.reading is not None
            return len(asked)

        assert asyncio.run(waits()) >= len("P\r\n")


def test_whoever_waits_is_let_go_when_it_stops(scale: PrintingScale) -> None:
    with listened_to(scale) as listening:

        async def waits() -> None:
            waiting = [asyncio.create_task(listening.news(listening.said.number, SECONDS)) for _ in range(8)]
            await asyncio.sleep(0)  # each has begun to wait
            await asyncio.to_thread(listening.stop)
            await asyncio.wait_for(asyncio.gather(*waiting), SECONDS)

        asyncio.run(waits())
    assert not [one for one in threading.enumerate() if one.name == "scale"]


def test_without_news_the_answer_is_what_is_known(scale: PrintingScale) -> None:
    with listened_to(scale) as listening:
        said = listening.said
        assert asyncio.run(listening.news(said.number, 0.01)) == said


def test_a_port_that_is_not_there_is_named_with_those_there_are(
    scale: PrintingScale, monkeypatch: pytest.MonkeyPatch
) -> None:
    check_port(str(scale.path), SETTINGS)
    monkeypatch.setattr(serial_ports, "ports_here", lambda: ("/dev/ttyUSB0 (USB serial)",))
    with pytest.raises(InputError) as fault:
        check_port(str(scale.path.with_name("other")), SETTINGS)
    assert fault.value.code == "no_scale_port"
    assert "is not plugged in" in str(fault.value)
    assert "There is: /dev/ttyUSB0 (USB serial)." in str(fault.value)
    monkeypatch.setattr(serial_ports, "ports_here", lambda: ())
    with pytest.raises(InputError, match="no serial port now"):
        check_port(str(scale.path.with_name("other")), SETTINGS)


@pytest.mark.parametrize(
    ("name", "words"),
    [("/dev/null", "/dev/null is not a serial port"), ("/", "/ is not a serial port"), (" ", "no port is")],
)
def test_a_file_is_not_taken_for_a_port(name: str, words: str) -> None:
    with pytest.raises(InputError) as fault:
        check_port(name, SETTINGS)
    assert str(fault.value).startswith(words)


def test_another_program_that_has_the_port_is_said(scale: PrintingScale) -> None:
    with listened_to(scale), pytest.raises(InputError, match="another program has"):
        check_port(str(scale.path), SETTINGS)


def test_a_setting_that_a_port_does_not_have_is_said(scale: PrintingScale) -> None:
    with pytest.raises(InputError, match="cannot be set like that"):
        check_port(str(scale.path), line_settings("9601,8N1")._replace(bits=9))


def test_without_pyserial_its_extra_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "serial", None)
    with pytest.raises(InputError, match=r"bevelbook\[scale\]"):
        check_port("/dev/ttyUSB0", SETTINGS)


@pytest.mark.parametrize("text", ["", "fast", "9600,9N1", "9600,8X1", "9600 8N3", "9600,8N1,x"])
def test_a_setting_that_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(InputError) as fault:
        line_settings(text)
    assert fault.value.code == "scale_line_setting"


def test_it_can_be_stopped_before_it_began() -> None:
    ScaleListening("nowhere", SETTINGS).stop()
