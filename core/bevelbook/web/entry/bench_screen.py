"""One screen of the bench: the form of a step or of the list of what is the same again, and what it stores."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from bevelbook.card.bench_steps import step_words
from bevelbook.card.procedure import Procedure
from bevelbook.declare.errors import BevelbookError
from bevelbook.plugin.registry import Registry
from bevelbook.reference import caution_in_words
from bevelbook.store.ids import new_id, now_utc
from bevelbook.web.entry.as_usual import as_usual_of
from bevelbook.web.entry.bench_list import BenchList, bench_list_of
from bevelbook.web.entry.bench_order import AS_USUAL, PlacedStep, key_after, keys_in_order
from bevelbook.web.entry.bench_stop import OVER_THEIRS, bench_stop, settled_so_far
from bevelbook.web.entry.bench_writing import BenchWriter, StepSavedMeanwhileError, StepSent, step_version
from bevelbook.web.entry.entry_fields import TYPED
from bevelbook.web.entry.request import KEY, EntryRequest, Kept
from bevelbook.web.entry.sent import Saver, Stopped, send
from bevelbook.web.entry.sent_again import is_as_sent, remember_sent, sent_texts
from bevelbook.web.entry.stops import Stop
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import Answer, EntryPage
from bevelbook.web.shared.typed_form import TypedForm

BEGUN: Final = "begun"
"""The hidden field with when the screen was drawn."""
SEEN: Final = "seen"
"""The hidden field with the version of the step when its screen was drawn."""
WHY: Final = "leave_out"
"""The field with why a step is left out."""
NOT_NEEDED: Final = "not needed"
AFTER: Final = "after"
"""In the address: the step before, of which the screen may have something to say."""
AGAIN: Final = "again"
"""In the address: the form before had been stored already."""
STORED_ALREADY: Final = "That form was stored before; nothing was stored a second time."
STEP_PAGE: Final = "bench-step"
LIST_PAGE: Final = "bench-usual"


class ShownStep(NamedTuple):
    """All that a screen asks of the database."""

    listed: BenchList
    version: str
    context: Mapping[str, Any]
    said: tuple[str, ...]


def procedure_of(asked: EntryRequest) -> Procedure:
    """The steps of the bench."""
    return state_of(asked.page.datasette).procedure


def shown_step(
    connection: sqlite3.Connection,
    registry: Registry,
    procedure: Procedure,
    job_id: str,
    key: str,
    before: str,
    form: TypedForm,
) -> ShownStep | None:
    """What the screen of a step shows; None where there is no such job or step."""
    listed = bench_list_of(connection, procedure, job_id)
    if listed is None:
        return None
    job = listed.job
    said = said_of_step(connection, listed, before)
    placed = _placed(listed, key)
    version = step_version(connection, job, key, placed.step if placed else None)
    if key == AS_USUAL and key in keys_in_order(job, listed.placed):
        found = as_usual_of(connection, job, listed.placed, form)
        return ShownStep(listed, version, {"usual": found}, said)
    if placed is None:
        return None
    step, screen = placed.step, placed.screen
    context = dict(screen.shown(connection, job, step))
    if screen.numbers is not None:
        context |= screen.numbers(connection, registry, job, step, form)
    return ShownStep(listed, version, context, said)


def _placed(listed: BenchList, key: str) -> PlacedStep | None:
    """The step of a job with that key; None where it has none."""
    return next((one for one in listed.placed if one.key == key), None)


def said_of_step(connection: sqlite3.Connection, listed: BenchList, key: str) -> tuple[str, ...]:
    """The sentences that the screen of a step has to say of what it stored; none where the job has no such step."""
    placed = _placed(listed, key)
    return () if placed is None else tuple(placed.screen.said(connection, listed.job, placed.step))


def _cautions(listed: BenchList, placed: PlacedStep | None, *, before: bool) -> list[str]:
    """The cautions of a step in words: those shown with an earlier step of the job, or all others."""
    if placed is None:
        return []
    earlier = listed.placed[: [one.key for one in listed.placed].index(placed.key)]
    shown = {caution for one in earlier if one.key in listed.job.steps for caution in one.step.cautions}
    return [caution_in_words(one) for one in placed.step.cautions if (one in shown) == before]


async def answer_screen(asked: EntryRequest, answer: Answer, job_id: str, key: str) -> Any:
    """The answer at the address of a step: its screen, or the way on after what it stored.

    ``answer`` is the function of the page that the screen is part of.
    """
    from datasette.utils.asgi import NotFound

    fault: BevelbookError | None = None
    if asked.is_sent:
        done = await _sent(asked, job_id, key)
        if not isinstance(done, Stopped):
            return await _on(asked, done, job_id, key)
        fault = done.fault
    page = asked.page
    found = await page.ask(shown_step, page.registry, procedure_of(asked), job_id, key, page.given(AFTER), asked.form)
    if found is None and fault is not None:
        return await _gone(asked, answer, fault)
    if found is None:
        raise NotFound("There is no such step on the bench any more: it was taken back or removed.")
    listed, job = found.listed, found.listed.job
    placed = _placed(listed, key)
    noted = job.steps.get(key)
    keys = keys_in_order(job, listed.placed)
    name = STEP_PAGE if placed else LIST_PAGE
    context = dict(found.context)
    if asked.is_sent:
        context = {one: _with_typed(value, asked.form) for one, value in context.items()}
    return await asked.render(
        EntryPage(name, answer),
        placed.step.heading if placed else f"As {job.like_label}",
        status=400 if fault else 200,
        **context,
        screen_template=placed.screen.template if placed else "",
        job=job,
        step=placed.step if placed else None,
        noted=noted,
        noted_words=step_words(noted) if noted else "",
        typed=asked.form,
        said=(*([STORED_ALREADY] if page.given(AGAIN) else []), *found.said),
        cautions=_cautions(listed, placed, before=False),
        cautions_before=_cautions(listed, placed, before=True),
        position=f"{keys.index(key) + 1} of {len(keys)}" if key in keys else "",
        stop=bench_stop(fault) if fault else Stop(),
        why=WHY,
        over_theirs=OVER_THEIRS if isinstance(fault, StepSavedMeanwhileError) else "",
        not_needed=NOT_NEEDED,
        unseen=(
            (KEY, asked.key if fault else new_id()),
            (BEGUN, (asked.form.text(BEGUN) if fault else "") or now_utc()),
            (SEEN, asked.form.text(SEEN) if fault else found.version),
            *settled_so_far(asked.form),
        ),
    )


async def _gone(asked: EntryRequest, answer: Answer, fault: BevelbookError) -> Any:
    """The answer to a form whose job or step was taken back meanwhile: why, and all that was typed, to copy."""
    hidden = (KEY, BEGUN, SEEN, "csrftoken")
    typed = {name.replace("_", " "): asked.form.text(name) for name in asked.form.texts if name not in hidden}
    return await asked.render(
        EntryPage("bench-gone", answer),
        "Not stored",
        status=400,
        stop=bench_stop(fault),
        typed={name: text for name, text in typed.items() if text},
    )


def _with_typed(value: Any, form: TypedForm) -> Any:
    """The inputs of a screen with what was typed in them and could not be stored."""
    if isinstance(value, list | tuple) and not hasattr(value, "_fields"):
        return [_with_typed(one, form) for one in value]
    if hasattr(value, "_replace") and hasattr(value, "typed") and getattr(value, "name", None) in form.texts:
        return value._replace(typed=form.text(f"{value.name}{TYPED}") or form.text(value.name))
    return value


async def _sent(asked: EntryRequest, job_id: str, key: str) -> Kept[None] | Stopped:
    form = asked.form
    procedure, registry = procedure_of(asked), asked.page.registry
    sent = StepSent(form, _instant(form.text(BEGUN)), form.text(SEEN), bool(form.text(OVER_THEIRS)))

    def act(saver: Saver) -> None:
        writer = BenchWriter(saver, registry, procedure, asked.person)
        if form.text(WHY):
            writer.leave_out(job_id, key, sent, form.text(WHY))
        elif key == AS_USUAL:
            writer.save_as_usual(job_id, sent)
        else:
            writer.save_step(job_id, key, sent)

    listed = await asked.page.ask(bench_list_of, procedure, job_id)
    words, typed = f"from the browser: {_asked_words(listed, key)}", sent_texts(form, KEY, BEGUN)
    done = await send(asked, act, words=words)
    if isinstance(done, Kept) and done.known and is_as_sent(asked.page.datasette, done.entry, typed) is False:
        asked = asked._replace(form=TypedForm({**form.texts, KEY: [new_id()]}))
        done = await send(asked, act, words=words)
    if isinstance(done, Kept) and not done.known:
        remember_sent(asked.page.datasette, done.entry, typed)
    return done


def _asked_words(listed: BenchList | None, key: str) -> str:
    """What the history keeps as asked for: ``rear-a at the bench, Weigh it dry``."""
    if listed is None:
        return "at the bench"
    placed = _placed(listed, key)
    title = placed.step.title if placed else f"As {listed.job.like_label}"
    return f"{listed.job.diff_label} at the bench, {title}"


def _instant(text: str) -> str:
    """When the screen was drawn; now where that is not an instant of the past."""
    now = now_utc()
    return text if len(text) == len(now) and text[:4].isdecimal() and text.endswith("Z") and text <= now else now


async def _on(asked: EntryRequest, done: Kept[Any], job_id: str, key: str) -> Any:
    """On to the next screen; after a correction to the list, at the end to the card, where nothing is to be said."""
    links = asked.page.links
    listed = await asked.page.ask(bench_list_of, procedure_of(asked), job_id)
    if listed is None:
        return asked.stored(links.page("enter/bench"), done)
    job = listed.job
    noted = job.steps.get(key)
    if noted is not None and not noted.is_over:
        placed = _placed(listed, key)
        if job.build is not None and not job.is_open and placed is not None and placed.screen.may_stay_open:
            return asked.stored(links.page(f"card/{job.build}"), done)
        return asked.stored(links.page(f"enter/bench/{job.id}/{key}", after=key), done)
    given = {AFTER: key, AGAIN: "yes" if done.known else ""}
    following = key_after(job, listed.placed, key)
    was_over = bool(asked.form.text(SEEN)) and (noted is None or noted.begun_at < asked.form.text(BEGUN))
    is_at_the_end = following is None and not job.is_open and job.build is not None
    if is_at_the_end and not await asked.page.ask(said_of_step, listed, key):
        return asked.stored(links.page(f"card/{job.build}"), done)
    if following is None or (was_over and not _goes_straight_on(listed, key, following)):
        return asked.stored(links.page(f"enter/bench/{job.id}", **given), done)
    return asked.stored(links.page(f"enter/bench/{job.id}/{following}", **given), done)


def _goes_straight_on(listed: BenchList, key: str, following: str) -> bool:
    """Whether the next screen is that of the step right after, so that going back one and on again leads there."""
    keys = keys_in_order(listed.job, listed.placed)
    return key in keys and keys.index(key) + 1 < len(keys) and keys[keys.index(key) + 1] == following
