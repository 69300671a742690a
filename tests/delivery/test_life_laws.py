"""Whatever people do in their calendar between publishings, what must hold afterwards holds."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from dav_hostile import Hostile, hostile
from dav_samples import LEDGERS, NOW, crew, grout, published, uid, walk
from hypothesis import given, settings
from hypothesis import strategies as st

from curecal.calendars import Event
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.calendars.revision import value_of

ALARM = "BEGIN:VALARM\r\nUID:theirs\r\nACTION:DISPLAY\r\nTRIGGER:-PT9M\r\nEND:VALARM\r\n"
EDITS = {
    "raise": lambda text: text.replace("SEQUENCE:", "SEQUENCE:1"),
    "lower": lambda text: text.replace("SEQUENCE:", "SEQUENCE:0"),
    "absurd": lambda text: text.replace("SEQUENCE:", "SEQUENCE:2147483"),
    "title": lambda text: text.replace("SUMMARY:", "SUMMARY:Not "),
    "cancel": lambda text: text.replace("STATUS:CONFIRMED", "STATUS:CANCELLED"),
    "confirm": lambda text: text.replace("STATUS:CANCELLED", "STATUS:CONFIRMED"),
    "alarm": lambda text: text.replace("END:VEVENT", f"{ALARM}END:VEVENT"),
    "repeat": lambda text: text.replace("STATUS:", "RRULE:FREQ=DAILY\r\nSTATUS:"),
    "hours": lambda text: text.replace("DTSTART;VALUE=DATE:", "DTSTART;TZID=Europe/Rome:").replace(
        "DTEND;VALUE=DATE:", "DTEND;TZID=Europe/Rome:"
    ),
    "unmark": lambda text: text.replace("X-CURECAL-SENT", "X-OTHER"),
    "stamp": lambda text: text.replace("DTSTAMP:2026", "DTSTAMP:9999"),
}
PLANS = st.tuples(st.integers(5, 9), st.booleans())
STEPS = st.tuples(PLANS, st.lists(st.sampled_from([*EDITS, "delete"]), max_size=3))


def events(plan: tuple[int, bool]) -> list[Event]:
    day, both = plan
    return [walk(day), grout()] if both else [walk(day)]


def edit(server: Hostile, name: str) -> None:
    path = f"/cal/{uid()}.ics"
    if name == "delete":
        server.store.pop(path, None)
    elif path in server.store:
        server.store[path] = EDITS[name](server.store[path].decode()).encode()


def stored(server: Hostile, key: str) -> list[str]:
    return loose_lines(server.store[f"/cal/{key}.ics"].decode())


@pytest.mark.slow
# Each is a life of several publishings to a server: a tenth of them is minutes.
@settings(max_examples=max(25, settings().max_examples // 10))
@given(st.lists(STEPS, min_size=1, max_size=5))
def test_the_collection_says_what_is_wanted(
    steps: list[tuple[tuple[int, bool], list[str]]],
) -> None:
    now: datetime = NOW
    LEDGERS.clear()
    with hostile() as server:
        for plan, edits in steps:
            for name in edits:
                edit(server, name)
            before = dict(server.store)
            now += timedelta(minutes=1)
            reached = published(server.place, crew(*events(plan)), now=now)
            # One resource for each UID, under the name we gave it; none is ever deleted.
            assert set(before) <= set(server.store)
            assert set(server.store) == {f"/cal/{key}.ics" for key in reached.events}
            lines = stored(server, uid())
            assert f"DTSTART;VALUE=DATE:2026120{plan[0]}" in lines
            assert "SUMMARY:Walk\\; now\\, please" in lines
            assert "STATUS:CONFIRMED" in lines
            assert not [line for line in lines if line.startswith("RRULE")]
            for key, event in reached.events.items():
                sequences = [line for line in stored(server, key) if line.startswith("SEQUENCE:")]
                # A number that a program raised over unchanged words is left alone.
                assert len(sequences) == 1
                assert int(value_of(sequences[0])) >= event.sequence
            kept = dict(server.store)
            published(server.place, crew(*events(plan)), now=now + timedelta(seconds=30))
            assert server.store == kept
