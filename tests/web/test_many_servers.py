"""Two processes over one immutable file, behind a reverse proxy and below a path, as the manual says. All data are
invented."""

from __future__ import annotations

import re
from pathlib import Path

import httpx
from browser_team import make_team
from many_servers import NGINX, Behind, datasettes_of, proxied

from bevelbook.web.host.policy import headers_of_ours

BASE = "/diffs/"


def test_two_processes_behind_a_proxy_are_one_site(tmp_path: Path) -> None:
    """Takes 3 to 6 s: it starts both, and nginx where that is installed."""
    path = make_team(tmp_path / "team.db", "a note").path
    path.chmod(0o444)
    with datasettes_of(path, 2, tmp_path, BASE) as ports, proxied(Behind(ports), tmp_path, BASE) as port:
        whole = {one: httpx.get(f"http://127.0.0.1:{one}{BASE}").text for one in ports}
        assert len(set(whole.values())) == 1, "both show the same"
        with httpx.Client(base_url=f"http://127.0.0.1:{port}") as visitor:
            first = visitor.get(BASE)
            assert first.text == whole[ports[0]]
            for name, value in headers_of_ours().items():
                assert first.headers[name] == value
            links = sorted(set(re.findall(r'(?:href|src)="(/[^"#]*)"', first.text)))
            assert links
            assert [link for link in links if not link.startswith(BASE)] == []
            of_each_kind = {link.rpartition("/")[0]: link for link in links}.values()
            answers = {link: visitor.get(link) for link in of_each_kind}
            assert {link: one.status_code for link, one in answers.items() if one.status_code != 200} == {}
            assert visitor.get(f"{BASE}team.json?sql=select+1").status_code == 403
            if NGINX:  # which takes the path off; ours hands all on as it is
                listed = visitor.get(f"{BASE}team/builds.json?_size=2").json()
                further = listed["next_url"]
                assert further.startswith(f"http://127.0.0.1:{port}{BASE}team/builds.json?")
                assert len(httpx.get(further).json()["rows"]) == 2
                assert visitor.get("/").status_code in (403, 404), "what is beside the path is not ours"
    assert not [one for one in tmp_path.iterdir() if one.name.startswith("team.db-")], "nothing was left beside it"
