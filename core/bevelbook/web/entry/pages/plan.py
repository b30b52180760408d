"""The plan for an event, or for today, kept: the bench works from it, and a later one is compared with it."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import Any, Final

from bevelbook.declare.vocabulary import PLAN_ACTS
from bevelbook.planning.keep_plan import make_and_keep
from bevelbook.planning.made_plan import MadePlan
from bevelbook.store.ids import new_id, now_utc
from bevelbook.web.entry.request import KEY, entry_request
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.pages.plan import PATIENCE, event_about, plan_page_of
from bevelbook.web.shared.fault_words import fault_words


async def plan(request: Any, datasette: Any) -> Any:
    """What the plan says in short, with the button that keeps it, and the way to the forecast."""
    asked = await entry_request(datasette, request)
    links = asked.page.links
    event = await asked.page.row_id("event") if request.url_vars.get("row") else None
    today, registry, packing = date.today(), asked.page.registry, state_of(datasette).packing
    shown_at = links.page(f"plan/{event}" if event else "plan")
    fault = ""
    if asked.is_sent:

        def act(saver: Saver) -> str:
            writing = saver.connection
            return make_and_keep(writing, registry, event, today, asked.person, now_utc, packing=packing).plan

        done = await send(asked, act, words="from the browser: a plan kept")
        if not isinstance(done, Stopped):
            return asked.stored(shown_at, done)
        fault = fault_words(done.fault)
    made = (await asked.page.ask(plan_page_of, registry, event, today, packing, patience=PATIENCE)).made
    return await asked.render(
        PAGE,
        f"Keep the {made.title[:1].lower()}{made.title[1:]}" if event else "Keep what is due today",
        status=400 if fault else 200,
        fault=fault,
        about=event_about(links, made.event, today) if made.event else "",
        remarks=made.remarks,
        acts=in_short(made),
        is_over=bool(made.event and made.event.last_on and made.event.last_on < today.isoformat()),
        kept=made.since.kept if made.since else "",
        forecast=links.page(f"enter/record/event/{event}") if event else "",
        shown_at=shown_at,
        unseen=((KEY, asked.key if fault else new_id()),),
    )


def in_short(made: MadePlan) -> str:
    """How many diffs there are of each act, the most work first: ``2 rebuild, 1 weigh it, 3 leave it``."""
    counts = Counter(line.act for line in made.every_line)
    return ", ".join(f"{counts[act]} {act}" for act in reversed(PLAN_ACTS) if counts[act])


PAGE: Final = EntryPage("plan", plan, r"(/(?P<row>[^/]+))?")
