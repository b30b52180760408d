"""A phone's script that hands over what waited on it: forms sent with the wish for JSON, in process."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from html import unescape
from typing import Any
from uuid import uuid4

from entered import EnteredSite, Form

AS_SCRIPT = {"accept": "application/json"}


def drawn_form(page: str) -> dict[str, str]:
    """The hidden fields of the form of a page, without its token."""
    form = page.partition('class="entry-form')[2].partition("</form>")[0]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form)
    return {unescape(name): unescape(text) for name, text in found if name != "csrftoken"}


def typed_on(site: EnteredSite, path: str, typed: Form) -> dict[str, Any]:
    """A form as the phone keeps it: the hidden fields of its page, what was typed, and a key of its own."""
    return {**drawn_form(site.page(path)), **typed, "key": str(uuid4())}


def hand_over(site: EnteredSite, path: str, kept: Form, **more: Any) -> dict[str, Any]:
    """The answer to an entry that is handed over, with the status of the answer as ``status``."""
    answer = site.post(path, kept, headers={**AS_SCRIPT, **more.pop("headers", {})}, **more)
    assert answer.headers["content-type"].startswith("application/json"), answer.text[:500]
    found: Mapping[str, Any] = answer.json()
    return {**found, "status": answer.status_code}


def ask_waiting(site: EnteredSite, *keys: str) -> Any:
    """What a script asks before it hands over: a token, and which of these entries are stored."""
    answer = site.get(f"/team/-/enter/waiting?keys={','.join(keys)}", headers=AS_SCRIPT)
    assert answer.headers["content-type"].startswith("application/json"), answer.text[:500]
    return answer.json()


def as_noted(kept: Form, ago_s: float, *, after: Sequence[str] = (), page_open_s: float = 600.0) -> dict[str, Any]:
    """The same as noted some seconds ago, on a page that had been open for a while: all clocks are right."""
    drawn_at = datetime.now(UTC) - timedelta(seconds=ago_s + page_open_s)
    return {
        **kept,
        "waited.drawn_at": drawn_at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
        "waited.since_drawn_s": f"{page_open_s:.3f}",
        "waited.s": f"{ago_s:.3f}",
        "waited.after": list(after),
    }
