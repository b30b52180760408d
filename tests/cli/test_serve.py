"""What ``bevelbook serve`` says before it answers: where, to whom, by which name, and what is missing."""

from __future__ import annotations

import socket
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from browser_team import close, make_team

from bevelbook.web.host import found_at
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.serve import ENTERS_AT
from bevelbook.web.pairing.announcing import Announcement, TakenName
from bevelbook.web.pairing.qr import AS_BEFORE, WHITE_ON_BLACK, drawn

OWN = "192.0.2.7"
NETWORK = ("--host", "0.0.0.0", "--port", "0")


class Started:
    """``serve`` as far as to where it would answer; what it opened is closed by the fixture."""

    def __init__(self, run: Callable[..., Any], path: Path) -> None:
        self.path = path
        self.opened: list[tuple[Any, found_at.FoundAt]] = []
        self.browser: list[str] = []
        self._run = run

    def says(self, *words: object) -> str:
        outcome = self._run("--db", self.path, "serve", *words)
        assert outcome.code == 0, outcome.err
        return str(outcome.out)

    @property
    def found(self) -> found_at.FoundAt:
        return self.opened[-1][1]


@pytest.fixture
def started(bevelbook: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Started]:
    """In a network whose other machines do not exist: nothing is said or asked there."""
    made = Started(bevelbook, make_team(tmp_path / "Our team.db", note="short").path)
    monkeypatch.setattr(found_at, "own_addresses", lambda: [OWN])
    monkeypatch.setattr(Announcement, "start", lambda self: setattr(self, "live", self._names))
    monkeypatch.setattr("bevelbook.web.host.serve.answer_until_stopped", lambda *opened: made.opened.append(opened))
    monkeypatch.setattr("webbrowser.open", made.browser.append)
    yield made
    for datasette, found in made.opened:
        found.listening.close()
        close(datasette)


def test_in_a_network_it_says_where_it_is_and_who_can_read_what(started: Started) -> None:
    said = started.says(*NETWORK, "--qr", "--open")
    port = started.found.port
    assert f"The shelf of Our team.db is at http://our-team.local:{port}/ (read-only)." in said
    assert f"Some phones cannot find such a name. There, type:\n  http://{OWN}:{port}/\n" in said
    assert "Every device in the networks of this computer can read all of it: records, names, photographs" in said
    assert "None of them can write. Plain http is not private" in said
    assert "Use a network of your own, such as a phone's hotspot." in said
    assert "SQL from visitors is off there. To take it:\n  bevelbook --db" in said
    assert f"serve --host 0.0.0.0 --port 0 --qr --open --allow-sql\nTo scan: http://{OWN}:{port}/\n" in said
    code = drawn(f"http://{OWN}:{port}/").replace(WHITE_ON_BLACK, "").replace(AS_BEFORE, "")
    assert f"\n{code}\n" in said
    assert started.browser == [f"http://127.0.0.1:{port}/"]
    datasette, _ = started.opened[0]
    assert datasette.setting("default_allow_sql") is False
    state = state_of(datasette)
    assert (state.is_for_this_computer, state.host_names.fits("our-team.local:1", None)) == (False, True)


def test_on_this_computer_alone_it_says_what_would_open_it(started: Started) -> None:
    said = started.says("--port", "0", "--qr", "--name", "pits", "--index")
    assert f"is at http://127.0.0.1:{started.found.port}/ (read-only)" in said
    assert "Phones find pits.local only where the book is open to them." in said
    assert "Only this computer reaches it. For phones:\n  bevelbook --db" in said
    assert "A phone cannot reach it here, so no code to scan is shown." in said
    datasette, _ = started.opened[0]
    assert datasette.setting("default_allow_sql") is True
    state = state_of(datasette)
    assert (state.is_for_this_computer, state.may_be_indexed(datasette)) == (True, True)


def test_without_a_library_it_says_what_to_install_and_goes_on(
    started: Started, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("bevelbook.web.pairing.announcing.find_spec", lambda name: None)
    monkeypatch.setattr("bevelbook.web.pairing.qr.find_spec", lambda name: None)
    quiet = started.says(*NETWORK)
    assert f"is at http://{OWN}:{started.found.port}/" in quiet
    assert "pip install" not in quiet
    asked = started.says(*NETWORK, "--name", "pits", "--qr")
    assert f"is at http://{OWN}:{started.found.port}/" in asked
    assert "To have phones find pits.local: pip install 'bevelbook[announce]'" in asked
    assert "For a code to scan: pip install 'bevelbook[labels]'" in asked


def test_a_name_of_another_machine_is_not_printed_as_an_address(
    started: Started, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        Announcement, "start", lambda self: setattr(self, "taken", (TakenName("our-team.local", "192.0.2.9"),))
    )
    said = started.says(*NETWORK)
    assert f"is at http://{OWN}:{started.found.port}/" in said
    assert "Another machine of this network is our-team.local already (192.0.2.9)" in said
    assert "serve --port 0 --host 0.0.0.0 --name OTHER\n" in said, "all else as it was typed"
    assert "http://our-team.local" not in said


def test_in_no_network_it_says_so(started: Started, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(found_at, "own_addresses", list)
    monkeypatch.setattr(Announcement, "start", lambda self: None)
    said = started.says(*NETWORK)
    assert f"is at http://127.0.0.1:{started.found.port}/" in said
    assert "This computer is in no network now." in said


def test_another_port_than_the_one_in_use_is_said_and_that_of_enter_is_left_free(started: Started) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        port = taken.getsockname()[1]
        said = started.says("--port", port)
    assert started.found.port not in (port, ENTERS_AT)
    assert f"Port {port} is in use, perhaps by 'bevelbook serve' in another window" in said
    assert f"so this one is at port {started.found.port}. An address with {port} on a label" in said
