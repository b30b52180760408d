"""An idea noted: something to try."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.store.ids import new_id
from bevelbook.web.entry.request import entry_request
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words


async def idea(request: Any, datasette: Any) -> Any:
    """The form, and what it stores."""
    asked = await entry_request(datasette, request)
    fault = ""
    if asked.is_sent:
        typed = {name: text for name in ("text", "venue") if (text := asked.form.text(name))}

        def act(saver: Saver) -> None:
            saver.save("idea", typed)

        done = await send(asked, act, words="from the browser: an idea")
        if not isinstance(done, Stopped):
            return asked.stored(asked.page.links.page("enter/idea"), done)
        fault = fault_words(done.fault)
    return await asked.render(
        PAGE,
        "An idea",
        status=400 if fault else 200,
        key=asked.key if fault else new_id(),
        typed=asked.form,
        fault=fault,
    )


PAGE: Final = EntryPage("idea", idea)
