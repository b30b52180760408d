"""The headers of every answer, and among them the content security policy.

No other place shows a page of ours in a frame, no browser guesses what an answer is or tells another place where it
was, search engines stay out. On the pages of our databases nothing is fetched from elsewhere, and no script runs but
files of this server. Where another plugin adds its own scripts to Datasette's page of one of our tables, they run
too, and only they: its files from where it has them, and what it puts into the page itself by a nonce that a note
cannot know. What is neither ours nor of our databases, such as another plugin's address, gets what it lacks, with a
policy that leaves its scripts alone; beside other databases it has no header of ours.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from dataclasses import dataclass, field
from secrets import token_urlsafe
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.web.host.addresses import Owner, owner_of
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.redirects import staying_here

Message = MutableMapping[str, Any]
Send = Callable[[Message], Awaitable[None]]
Receive = Callable[[], Awaitable[Message]]
App = Callable[[Message, Receive, Send], Awaitable[None]]

POLICY: Final = "; ".join(
    (
        "default-src 'none'",
        "img-src 'self' data:",
        "connect-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
        "script-src 'self'",
        "style-src 'self' 'unsafe-inline'",
    )
)
"""The value of the header where no other plugin has a script on the page."""
POLICY_ELSEWHERE: Final = "; ".join(
    ("object-src 'none'", "form-action 'self'", "frame-ancestors 'none'", "base-uri 'none'")
)
"""The value of the header of what is neither ours nor of our databases."""
STAY_OUT: Final = "noindex, nofollow"
"""What is said to search engines, as a header and on each page."""
_IN_SCOPE: Final = "bevelbook_scripts_of_others"
_ORIGIN: Final = late_pattern(r"https?://[^/?#]+")


@dataclass
class ScriptsOfOthers:
    """What other plugins add to one answer; empty on every page of our own."""

    wanted: bool
    nonce: str = field(default_factory=lambda: token_urlsafe(18))
    files: Sequence[Any] = ()
    inline: Sequence[Any] = ()

    def take(self, files: Sequence[Any], inline: Sequence[Any]) -> ScriptsOfOthers:
        """Let them in, as Datasette hands them to a template. Itself, for the template."""
        if self.wanted:
            self.files, self.inline = files, inline
        return self

    @property
    def policy(self) -> str:
        """The value of the header.

        A plugin that only puts a script into the page, mostly settings, gets a nonce. One with files gets what drawing
        and map plugins need: to evaluate code, make workers, and show pictures from hosts of their choice. A note
        cannot make any of them do so, since it is text.
        """
        nonce = f"'nonce-{self.nonce}'"
        if not self.files:
            return POLICY.replace("script-src 'self'", f"script-src 'self' {nonce}") if self.inline else POLICY
        hosts = sorted({found[0] for file in self.files if (found := _ORIGIN.match(str(file["url"])))})
        return "; ".join(
            (
                "default-src 'none'",
                "img-src 'self' data: blob: https:",
                "connect-src 'self'",
                "font-src 'self' data:",
                "form-action 'self'",
                "frame-ancestors 'none'",
                "base-uri 'none'",
                " ".join(("script-src 'self' 'unsafe-eval'", nonce, *hosts)),
                "style-src 'self' 'unsafe-inline' https:",
                "worker-src 'self' blob:",
            )
        )


def scripts_of_others(request: Any) -> ScriptsOfOthers:
    """Those of the answer to a request; where no header of ours goes out, they are let in as they are."""
    found: ScriptsOfOthers = request.scope.get(_IN_SCOPE) or ScriptsOfOthers(True)
    return found


def headers_of_ours(policy: str = POLICY) -> dict[str, str]:
    """The headers of an answer of ours."""
    return {
        "content-security-policy": policy,
        "x-frame-options": "DENY",
        "x-content-type-options": "nosniff",
        "referrer-policy": "same-origin",
    }


def wrapped(app: App, datasette: Any) -> App:
    """The application with our headers on its answers, where it has a database of ours.

    Before each answer the databases that were written to say again whether they are invented.
    """

    async def with_headers(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        state_of(datasette).look_again(datasette)
        owner = owner_of(datasette, scope["path"])
        is_elsewhere = owner is Owner.ELSEWHERE
        if is_elsewhere and not state_of(datasette).is_alone(datasette):
            await app(scope, receive, send)
            return
        others = ScriptsOfOthers(wanted=owner is Owner.DATASETTE)
        robots = {} if state_of(datasette).may_be_indexed(datasette) else {"x-robots-tag": STAY_OUT}

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                policy = POLICY_ELSEWHERE if is_elsewhere else others.policy
                ours = {name.encode(): value.encode() for name, value in (headers_of_ours(policy) | robots).items()}
                there = staying_here(message.get("headers", []))
                if is_elsewhere:
                    kept = {name.lower() for name, _ in there}
                    headers = [*there, *(one for one in ours.items() if one[0] not in kept)]
                else:
                    headers = [*(one for one in there if one[0].lower() not in ours), *ours.items()]
                message = {**message, "headers": headers}
            await send(message)

        await app(scope if is_elsewhere else {**scope, _IN_SCOPE: others}, receive, send_with_headers)

    return with_headers
