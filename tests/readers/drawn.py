"""Feeds drawn by hypothesis: any text that the model lets in, the hostile ones more often."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

from hypothesis import strategies as st

from curecal.calendars import Alarm, Audience, Days, Event, EventKey, Feed, Status, Timed
from curecal.calendars.content_lines import LONGEST

# Emoji with joiners, marks put on letters and on nothing, right-to-left with its turning signs,
# what escapes eat, what looks like a property, and spaces of all kinds.
PIECES = (
    "👩‍👩‍👧‍👦",
    "🏳️‍🌈",
    "e\u0301\u0323",
    "\u0301",
    "שלום",
    "مرحبا \u202eabc\u202c",
    "\\",
    "\\\\",
    "\\N",
    "\\n",
    "\\r",
    "\\;",
    ";",
    ",",
    ":",
    '"',
    "'",
    "^n",
    "%0A",
    "&amp;",
    "=\u00a0",
    "\u3000",
    "\ufeff",
    " " * LONGEST,
    "BEGIN:VEVENT",
    "END:VCALENDAR",
    ";VALUE=DATE:",
    "é",
    "％",
)
_SIGNS = st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp"))
# Before the pieces, a run of signs that brings the next one to the edge of a folded line.
_EDGE = st.integers(LONGEST - 22, LONGEST + 2).map(lambda count: "x" * count)
_TEXT = st.lists(st.one_of(st.sampled_from(PIECES), st.text(_SIGNS, max_size=20)), max_size=12)
_ANY = st.tuples(st.one_of(st.just(""), _EDGE), _TEXT.map("".join)).map("".join)


def _told(text: str) -> bool:
    """Whether a text says anything: libical 3.0.16 counts a property without a value as an error.

    The calendars of a job hold none, which `test_readers_jobs` sees to.
    """
    return bool(text.strip(" "))


TEXTS = _ANY.filter(_told)
BROKEN = st.lists(_ANY, min_size=1, max_size=4).map("\n".join).filter(_told)
_INSTANTS = st.integers(0, 3_155_760_000).map(
    lambda seconds: datetime(2000, 1, 1, tzinfo=UTC) + timedelta(seconds=seconds)
)
_DATES = st.dates(date(2000, 1, 1), date(2100, 1, 1))


@st.composite
def _events(draw: st.DrawFn, number: int) -> Event:
    if draw(st.booleans()):
        first = draw(_DATES)
        when: Timed | Days = Days(first, first + timedelta(days=draw(st.integers(1, 400))))
        before = datetime(first.year, first.month, first.day, tzinfo=UTC)
    else:
        before = draw(_INSTANTS)
        when = Timed(before, before + timedelta(seconds=draw(st.integers(1, 10**7))))
    gaps = draw(st.sets(st.integers(1, 10**6), max_size=3))
    alarms = tuple(
        Alarm(before - timedelta(seconds=gap), f"alarm {count}")
        for count, gap in enumerate(sorted(gaps))
    )
    return Event(
        EventKey(Audience.CREW, "zone", "", f"event {number}"),
        draw(TEXTS),
        draw(BROKEN),
        when,
        status=draw(st.sampled_from(Status)),
        location=draw(st.none() | TEXTS),
        alarms=alarms,
    )


@st.composite
def feeds(draw: st.DrawFn) -> Feed:
    """A calendar of one to three events."""
    made = tuple(draw(_events(number)) for number in range(draw(st.integers(1, 3))))
    return Feed(Audience.CREW, draw(TEXTS), draw(TEXTS), made)
