"""What a thousand events cost us, against what they cost the library that reads them back.

    python tests/bench/calendars.py [rounds]

Both sides in one run, turn by turn, so that a busy moment of the machine hits both; the median of
each. A figure to look at, no test.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import icalendar

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "samples"))

from calendar_samples import RULES, plan

from curecal.calendars import (
    Alarm,
    Audience,
    Days,
    Event,
    EventKey,
    Feed,
    Stamp,
    Timed,
    goes,
    issue,
    render,
)
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.delivery.ics_folder import CalendarFolder
from curecal.delivery.ledger_file import LedgerFile

COUNT = 1000
START = datetime(2027, 3, 1, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
# As long as what the crew is told of a layer.
TEXT = (
    "Start between Mon 8 Mar 2027, 08:00 and Tue 9 Mar 2027, 08:00.\n"
    "Done by Mon 8 Mar 2027, 16:00; seal, then wait 3 d.\n"
    "Keeps the date if begun by Wed 10 Mar 2027, 12:00.\n"
    "Questions: Robin Sample, +1 555 0100.\n"
    "The products' data sheets and the heating maker's instructions come before this plan.\n"
    "Only a licensed electrician does electrical work, to the local code."
)
WANTED_RATIO = 1.5
GOES = goes(plan(), rules=RULES)


def feed() -> Feed:
    """A thousand events: every third one of whole days, each with an alarm."""
    return Feed(Audience.CREW, "bench", "Bench", tuple(event(number) for number in range(COUNT)))


def event(number: int) -> Event:
    """One of them."""
    start = START + number * HOUR
    if number % 3:
        when: Timed | Days = Timed(start, start + 4 * HOUR)
    else:
        when = Days(start.date(), start.date() + timedelta(days=2))
    return Event(
        EventKey(Audience.CREW, "hall", f"layer {number}", "step"),
        f"Start the thinset, part {number}; hall bath",
        TEXT,
        when,
        location="7 Alder Lane; back door, left",
        alarms=(Alarm(start - 18 * HOUR, "evening before"),),
    )


def ours(made: Feed, folder: Path) -> None:
    """Build, check by our own form, read back and compare, write to the disk."""
    data = render(made, {made.uid(each.key): Stamp(0, START) for each in made.events})
    refuse_unfaithful(made, data)
    (folder / made.file_name).write_bytes(data)


def theirs(made: Feed) -> None:
    """Build the same events with the library, write them to octets, read them back."""
    calendar = icalendar.Calendar()
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", "-//curecal//bench//EN")
    for each in made.events:
        calendar.add_component(their_event(made, each))
    icalendar.Calendar.from_ical(calendar.to_ical())


def their_event(made: Feed, each: Event) -> icalendar.Event:
    """One event as the library builds it, with the properties that ours have."""
    ends = (
        (each.when.start_on, each.when.end_on)
        if isinstance(each.when, Days)
        else (each.when.start_at, each.when.end_at)
    )
    built = icalendar.Event()
    built.add("UID", made.uid(each.key))
    built.add("DTSTAMP", START)
    built.add("LAST-MODIFIED", START)
    built.add("SEQUENCE", 0)
    built.add("DTSTART", ends[0])
    built.add("DTEND", ends[1])
    built.add("SUMMARY", each.summary)
    built.add("DESCRIPTION", each.description)
    built.add("LOCATION", each.location)
    built.add("STATUS", each.status.value)
    built.add("TRANSP", "TRANSPARENT")
    for alarm in each.alarms:
        rings = icalendar.Alarm()
        rings.add("UID", made.alarm_uid(each, alarm))
        rings.add("ACTION", "DISPLAY")
        rings.add("TRIGGER", alarm.at)
        rings.add("DESCRIPTION", each.summary)
        built.add_component(rings)
    return built


def published(made: Feed, folder: Path) -> None:
    """Bring the calendars of a folder to what a feed says: a first time, or once more."""
    ledger = LedgerFile(folder / "job.toml")
    issue([made], ledger, now=START, goes=GOES, outputs=[CalendarFolder(folder, [made])])


def seconds(work: Callable[[], None]) -> float:
    """How long something takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def main(rounds: int) -> None:
    """Measure turn by turn, and print medians and their ratios."""
    made = feed()
    found: dict[str, list[float]] = {"ours": [], "theirs": [], "first": [], "again": []}
    for _ in range(rounds):
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            found["ours"].append(seconds(lambda: ours(made, Path(name))))
            found["theirs"].append(seconds(lambda: theirs(made)))
            (folder / "published").mkdir()
            for turn in ("first", "again"):
                found[turn].append(seconds(lambda: published(made, Path(name, "published"))))
    median_s = {turn: statistics.median(taken) for turn, taken in found.items()}
    ratio = median_s["ours"] / median_s["theirs"]
    sys.stdout.write(
        f"{COUNT} events, {rounds} rounds: built, checked, read back and written in "
        f"{median_s['ours'] * 1000:.0f} ms; icalendar builds, writes and reads them in "
        f"{median_s['theirs'] * 1000:.0f} ms: ratio {ratio:.2f} (wanted {WANTED_RATIO} or less)\n"
        f"published a first time in {median_s['first'] * 1000:.0f} ms, once more unchanged in "
        f"{median_s['again'] * 1000:.0f} ms: ratio {median_s['again'] / median_s['first']:.2f}\n"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
