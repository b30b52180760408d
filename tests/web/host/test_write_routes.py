"""Every address at which Datasette 1.0 changes a database refuses one of ours, to root too; 0.65 has none of them.

Ours take forms below ``/DATABASE/-/enter/`` alone, and only from a paired phone.
"""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, Team, close, content_of, make_team, site_over
from entered import entered_site

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.page import ENTER, OF_DATABASE
from bevelbook.web.host.private_datasette import WRITING_ACTIONS, refusal_to_write
from bevelbook.web.routes import declared_entry_pages, declared_pages

BODIES: dict[str, dict[str, Any]] = {
    "/team/-/create": {"table": "stolen", "rows": [{"id": 1}]},
    "/team/-/execute-write": {"sql": "DELETE FROM builds"},
    "/team/-/execute-write/analyze": {"sql": "DELETE FROM builds"},
    "/team/-/queries/store": {"name": "strike", "sql": "DELETE FROM builds", "is_write": True},
    "/team/-/queries/analyze": {"sql": "DELETE FROM builds"},
    "/team/builds/-/insert": {"rows": [{"id": "x", "label": "stolen"}]},
    "/team/builds/-/upsert": {"rows": [{"id": "x", "label": "stolen"}]},
    "/team/builds/-/alter": {"operations": [{"op": "rename_column", "args": {"name": "label", "to": "stolen"}}]},
    "/team/builds/-/set-column-type": {"column": "label", "column_type": {"type": "url"}},
    "/team/builds/-/drop": {"confirm": True},
    "/team/shelf/-/drop": {"confirm": True},
    "/team/builds/ROW/-/update": {"update": {"label": "stolen"}},
    "/team/builds/ROW/-/delete": {},
    "/team/strike/-/update": {"update": {"sql": "DELETE FROM builds"}},
    "/team/strike/-/delete": {},
}
REFUSED = (403, 404, 405)


@pytest.fixture(autouse=True)
def without_rich(monkeypatch: pytest.MonkeyPatch) -> None:
    """Datasette 0.65 has rich, where it is installed, print the traceback of a fault that was never raised."""
    monkeypatch.setattr("datasette.handle_exception.rich", None)


@pytest.fixture
def team(tmp_path: Path) -> Team:
    return make_team(tmp_path / "team.db")


def answers(team: Team, actor: str | None, configured: dict[str, Any]) -> dict[str, int]:
    """The status of a request to each of the addresses."""
    from datasette.app import Datasette

    given = {"config": configured} if configured else {}
    datasette = Datasette([str(team.path)], **given)
    datasette.root_enabled = True
    site = Site(datasette)
    cookies = {"ds_actor": datasette.sign({"a": {"id": actor}}, "actor")} if actor else {}

    async def ask() -> dict[str, int]:
        await datasette.invoke_startup()
        found = {}
        for path, body in BODIES.items():
            address = path.replace("ROW", team.ids["rear-a/2"])
            answer = await datasette.client.post(address, json=body, cookies=cookies)
            found[path] = answer.status_code
            if answer.status_code not in REFUSED:
                found[f"{path}: {answer.text}"] = answer.status_code
        return found

    try:
        assert site.get("/team/builds", cookies=cookies).status_code == 200
        return asyncio.run(ask())
    finally:
        close(datasette)


@pytest.mark.parametrize("actor", [None, "ana", "root"])
def test_no_address_changes_a_database_of_ours(
    team: Team, actor: str | None, capsys: pytest.CaptureFixture[str]
) -> None:
    before = content_of(team.path)
    found = answers(team, actor, {})
    capsys.readouterr()
    assert {path: status for path, status in found.items() if status not in REFUSED} == {}
    assert len(found) == len(BODIES)
    assert content_of(team.path) == before


def test_a_configuration_that_lets_everybody_write_lets_nobody(team: Team, capsys: pytest.CaptureFixture[str]) -> None:
    from inspect import signature

    from datasette.app import Datasette

    before = content_of(team.path)
    everything = dict.fromkeys(WRITING_ACTIONS, True)
    tables = {"tables": {"builds": {"permissions": everything}}}
    configured = {"databases": {"team": {"permissions": everything, **tables}}}
    found = answers(team, "ana", configured if "config" in signature(Datasette).parameters else {})
    capsys.readouterr()
    assert {path: status for path, status in found.items() if status not in REFUSED} == {}
    assert content_of(team.path) == before


def test_only_what_writes_is_refused() -> None:
    assert refusal_to_write("view-table", ("team",), "read-only") is None
    assert refusal_to_write("execute-sql", ("team",), "read-only") is None
    assert refusal_to_write("insert-row", (), "read-only") is None


ENTRY_ADDRESSES = [f"/team/-/{page.address}{'/x' if page.below else ''}" for page in declared_entry_pages()]
OTHER_ADDRESSES = ["/", "/team", "/team/builds", *(f"/team/-/{page.name}" for page in declared_pages())]


def test_every_page_that_takes_a_form_is_below_one_address() -> None:
    assert all(page.route[0].startswith(f"{OF_DATABASE}{ENTER}/") for page in declared_entry_pages())
    assert not any(page.name == ENTER or page.name.startswith(f"{ENTER}/") for page in declared_pages())


def test_with_entry_too_a_form_changes_nothing_but_by_a_paired_phone(
    team: Team, registry: Registry, tmp_path: Path
) -> None:
    """Of 1.0's own addresses none is asked: a gate before Datasette answers for all of them."""
    with entered_site(team, registry, tmp_path / "settings") as paired:
        other = paired.paired_with(None)
        before = content_of(team.path)
        refused = {path: other.post(path).status_code for path in ENTRY_ADDRESSES}
        assert refused == dict.fromkeys(ENTRY_ADDRESSES, 403)
        addresses = [*OTHER_ADDRESSES, *(path.replace("ROW", team.ids["rear-a/2"]) for path in BODIES)]
        assert {path: paired.post(path).status_code for path in addresses} == dict.fromkeys(addresses, 405)
        assert content_of(team.path) == before


def test_where_nothing_can_be_written_no_address_of_entry_answers(team: Team, registry: Registry) -> None:
    """By ``serve``, and where Datasette itself serves it."""
    from datasette.app import Datasette

    async def ask(datasette: Any) -> dict[str, int]:
        await datasette.invoke_startup()
        given = {"cookies": {"other": "1"}, "data": {"mass": "14.26"}}
        return {path: (await datasette.client.post(path, **given)).status_code for path in ENTRY_ADDRESSES}

    with site_over(team.path, registry) as site:
        assert asyncio.run(ask(site.datasette)) == dict.fromkeys(ENTRY_ADDRESSES, 404)
    plain = Datasette([str(team.path)])
    try:
        assert asyncio.run(ask(plain)) == dict.fromkeys(ENTRY_ADDRESSES, 404)
    finally:
        close(plain)
