"""When an entry was noted that waited on a phone.

No clock is trusted alone: the moment is reckoned forward from when the laptop drew the page, and back from when it was
handed over, each with what the phone measured between. Where the two differ a clock was changed meanwhile; where they
differ by the day, a person says which it was.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.display.days import day_in_words
from bevelbook.entering.question import Question, Way
from bevelbook.web.shared.typed_form import TypedForm

OF_WAITING: Final = "waited."
"""Begins the names of all hidden fields about the waiting."""
DRAWN_AT: Final = "waited.drawn_at"
"""When the laptop drew the form, by its clock, in UTC."""
SINCE_DRAWN_S: Final = "waited.since_drawn_s"
"""Seconds from then until the entry, by the phone's clock."""
WAITED_S: Final = "waited.s"
"""Seconds from the entry until it was handed over, by the phone's clock."""
AFTER: Final = "waited.after"
"""The ids of the entries of runs that waited or were noted on the page before it, the oldest first."""
FORWARD: Final = "waited.forward"
"""The moment reckoned forward, in a form that was drawn again with a question."""
BACK: Final = "waited.back"
"""The moment reckoned back, in such a form."""
NOTED_BY: Final = "noted.by"
"""The hidden field with the person for whom a form was drawn: another one may hold the phone when it is handed over."""
NOTED_DAY: Final = "noted"
"""What is asked where the two differ by the day."""
AT_ONCE: Final = timedelta(seconds=10)
"""An entry that waited for less was sent at once."""
AGREE: Final = timedelta(minutes=5)
"""How far the two may be apart where no clock was changed."""
LONGEST: Final = timedelta(days=14)
"""How long an entry may have waited, or its page have been open, to be taken without a question."""


class NotedMoment(NamedTuple):
    """When an entry was noted (``at``) and handed over (``now``), in UTC as the database keeps times; the same for one
    that was sent at once.

    ``is_certain`` is whether no clock was changed meanwhile. ``after`` are the ids of the entries of runs that the
    phone had before this one. ``unseen`` is what a form sends again that is drawn with a question, and ``question`` is
    asked before it is stored.
    """

    now: str
    at: str
    has_waited: bool = False
    is_certain: bool = True
    after: tuple[str, ...] = ()
    unseen: tuple[tuple[str, str], ...] = ()
    question: Question | None = None

    @property
    def local(self) -> datetime:
        """When it was noted, by the clock on the wall."""
        return _read(self.at).astimezone()

    @property
    def day(self) -> str:
        """The day on which it was noted, in ISO 8601."""
        return self.local.date().isoformat()

    @property
    def words(self) -> str:
        """What the history says of the waiting: ``, noted 14:05, waited on the phone 1 h 20 min``; empty for an entry
        that was sent at once."""
        if not self.has_waited:
            return ""
        at, now = self.local, _read(self.now).astimezone()
        noted = f"{at:%H:%M}" if at.date() == now.date() else f"{at:%Y-%m-%d %H:%M}"
        changed = "" if self.is_certain else ", a clock was changed meanwhile"
        return f", noted {noted}, waited on the phone {duration_in_words(now - at)}{changed}"


def noted_in(form: TypedForm, now: str, typed_day: str = "") -> NotedMoment:
    """When the entry of a form was noted; ``now`` is the laptop's time, and ``typed_day`` a day that was typed for it,
    so that none has to be asked."""
    handed_over = _read(now)
    forward, back = _reckoned(form, handed_over)
    after = tuple(form.all(AFTER))
    is_reckoned = forward is not None or back is not None or WAITED_S in form.texts or FORWARD in form.texts
    is_at_once = FORWARD not in form.texts and back is not None and timedelta(0) <= handed_over - back < AT_ONCE
    if is_at_once or not is_reckoned:
        return NotedMoment(now, now, after=after, unseen=tuple((AFTER, key) for key in after))
    unseen = tuple(_unseen(forward, back, after))
    found = NotedMoment(now, now, True, after=after, unseen=unseen)
    sane = [one for one in (forward, back) if one is not None and timedelta(0) <= handed_over - one <= LONGEST]
    near = [one for one in (forward, back) if one is not None and timedelta(0) <= one - handed_over <= AGREE]
    if forward is not None and back is not None and abs(forward - back) <= AGREE and len(sane) + len(near) == 2:
        return found._replace(at=_words(min(forward, handed_over)))
    found = found._replace(is_certain=False)
    days = {one.astimezone().date().isoformat(): one for one in reversed(sane)}
    if len(sane) == 2 and len(days) == 1:
        return found._replace(at=_words(sane[0]))
    answer = form.text(f"answer.{NOTED_DAY}")
    today = handed_over.astimezone().date().isoformat()
    offered = dict.fromkeys(sorted([*days, today]))
    if answer in offered:
        return found._replace(at=_words(days.get(answer, handed_over)))
    if typed_day:
        return found._replace(at=_words(sane[0] if sane else handed_over))
    return found._replace(question=_which_day(list(offered), today))


def duration_in_words(time: timedelta) -> str:
    """How long something waited.

    >>> [duration_in_words(timedelta(minutes=minutes)) for minutes in (0.4, 12, 80, 120, 1440 + 61, 3000)]
    ['less than a minute', '12 min', '1 h 20 min', '2 h', '1 day 1 h', '2 days 2 h']
    """
    minutes = int(time.total_seconds() // 60)
    if minutes < 1:
        return "less than a minute"
    days, hours = divmod(minutes // 60, 24)
    parts = [counted(days, "day") if days else "", f"{hours} h" if hours else ""]
    parts += [f"{minutes % 60} min" if minutes % 60 and not days else ""]
    return " ".join(part for part in parts if part)


def _reckoned(form: TypedForm, handed_over: datetime) -> tuple[datetime | None, datetime | None]:
    """The moment reckoned forward and back; None for one that cannot be."""
    if FORWARD in form.texts or BACK in form.texts:
        return _moment(form.text(FORWARD)), _moment(form.text(BACK))
    drawn_at, since, waited = _moment(form.text(DRAWN_AT)), _seconds(form, SINCE_DRAWN_S), _seconds(form, WAITED_S)
    forward = _after(drawn_at, since) if drawn_at is not None and since is not None and timedelta(0) <= since else None
    back = _after(handed_over, -waited) if waited is not None and timedelta(0) <= waited else None
    return forward, back


def _after(moment: datetime, time: timedelta) -> datetime | None:
    """A moment so much later; None where no calendar has it."""
    try:
        return moment + time
    except OverflowError:
        return None


def _seconds(form: TypedForm, name: str) -> timedelta | None:
    try:
        return timedelta(seconds=float(form.text(name)))
    except (ValueError, OverflowError):
        return None


def _moment(text: str) -> datetime | None:
    """A moment in UTC; None for a text that is none, and where no calendar has it in UTC."""
    try:
        found = _read(text)
        return found.astimezone(UTC) if found.tzinfo is not None else None
    except (ValueError, OverflowError):
        return None


def _read(text: str) -> datetime:
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def _words(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _unseen(forward: datetime | None, back: datetime | None, after: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    yield FORWARD, "" if forward is None else _words(forward)
    yield BACK, "" if back is None else _words(back)
    yield from ((AFTER, key) for key in after)


def _which_day(days: list[str], today: str) -> Question:
    return Question(
        "this waited on the phone, and a clock was changed meanwhile or it waited for very long. Which day was it?",
        code="which_day",
        field=NOTED_DAY,
        found=", ".join(days),
        answers=tuple(Way(day, f"{day_in_words(day)}{', today' if day == today else ''}") for day in days),
    )
