"""The one rule of revisions, for every channel: files, mail, servers, feeds.

Pure: what is wanted, what was published and an instant go in, the revisions to publish come out.

Source: RFC 5546, 2.1.4 and 2.1.5: receivers go by SEQUENCE, then by DTSTAMP; both must grow.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from enum import StrEnum

from curecal.calendars.content_lines import text_property, unescape
from curecal.calendars.event import Audience, EventKey, Stamp
from curecal.calendars.ical.ical_writer import (
    DONE_PROPERTY,
    STANDS_PROPERTY,
    day_text,
    stamped,
    utc_text,
)
from curecal.calendars.purpose import Purpose, PurposeKind
from curecal.calendars.revision import (
    GREATEST_SEQUENCE,
    Draft,
    History,
    Revision,
    name_of,
)
from curecal.errors import CurecalError
from curecal.instants import ceil_second

_OFF = Purpose(PurposeKind.OFF).text
_SECOND = timedelta(seconds=1)
# An entry that keeps a floor off and has no date ends two weeks ahead, in whole weeks, so that
# it does not change every day.
_AHEAD = timedelta(days=14)
_WEEK_DAYS = 7


class RevisionChange(StrEnum):
    """What became of an event since it was last published."""

    NEW = "new"
    CHANGED = "changed"
    CANCELLED = "cancelled"
    DONE = "done"
    RETURNED = "returned"
    UNCHANGED = "unchanged"


@dataclass(frozen=True, slots=True)
class Revised:
    """The revisions to publish, and what became of each event.

    `left_standing` are the zones that are no longer wanted and were never released: their entry
    that keeps them off goes on. `lost_standing` are zones that other readers' entries still speak
    of while the entry that kept them off is lost; `unmarked` are the titles of the owner's entries
    of which nobody can tell any more what they are about, and which are left alone.
    """

    revisions: tuple[Revision, ...]
    changes: dict[str, RevisionChange]
    left_standing: tuple[str, ...] = ()
    lost_standing: tuple[str, ...] = ()
    unmarked: tuple[str, ...] = ()

    @property
    def told(self) -> tuple[Revision, ...]:
        """The revisions that say something new to somebody."""
        return tuple(
            revision
            for revision in self.revisions
            if self.changes[revision.uid] is not RevisionChange.UNCHANGED
        )


class RemovalReason(StrEnum):
    """Why an event is no longer wanted.

    OFF: it will not take place. DONE: it has. PAST: it only said how things stood; once it is
    over nobody has to hear of it.
    """

    OFF = "off"
    DONE = "done"
    PAST = "past"


@dataclass(frozen=True, slots=True)
class Goes:
    """How an event that is no longer wanted goes.

    Of `off_zones`, the released and withdrawn ones, an entry that keeps a zone off may go; that of
    any other zone stands, to two weeks past `local_on`, the day on site. Texts are made for the
    readers of one calendar: `title` makes the title of a cancelled event, `text` its description,
    `done` the title of one that took place. `reason` says why an event is no longer wanted.

    `zones` are those of the job. `stands_text` is what an entry says that keeps off a zone which
    is none of them: nobody computes its day any more. `withdrawn_title` of its zone, and
    `withdrawn_text`, are what it says once a person has withdrawn it: a cancelled "do not switch
    on" would be read as leave.
    """

    off_zones: frozenset[str]
    local_on: date
    title: Callable[[Audience, str], str]
    text: Callable[[Audience], str]
    reason: Callable[[EventKey], RemovalReason] = lambda _: RemovalReason.OFF
    done: Callable[[Audience, str], str] = lambda _, title: title
    zones: frozenset[str] = frozenset()
    stands_text: Callable[[Audience], str] = lambda _: ""
    withdrawn_title: Callable[[Audience, str], str] = lambda _, zone: zone
    withdrawn_text: Callable[[Audience], str] = lambda _: ""


def revise(wanted: Iterable[Draft], history: History, now: datetime, *, goes: Goes) -> Revised:
    """Return what has to be published so that everybody's copy says what is wanted.

    Unchanged content keeps its revision, line by line. Changed content gets a SEQUENCE one higher
    and a stamp later than the last, even where the clock stands behind it. What is not wanted any
    more is cancelled, what is wanted again comes back under the same UID. Nothing is ever left
    out of the result.

    Args:
        wanted: What the plan says now, each UID once.
        history: What was published.
        now: The instant of publishing.
        goes: How what is not wanted any more goes.

    Returns:
        All revisions of the job: those wanted in their order, then those that are gone by UID.

    Raises:
        CurecalError: a UID is wanted twice (`calendar-keys`), or has no SEQUENCE left.
    """
    revisions: list[Revision] = []
    changes: dict[str, RevisionChange] = {}
    for draft in wanted:
        if draft.uid in changes:
            raise CurecalError("calendar-keys", audience=draft.audience.value)
        changes[draft.uid] = change = _change(draft, history)
        revisions.append(_revision(draft, change, history, now))
    standing: list[str] = []
    unmarked: list[str] = []
    for uid, last in sorted(history.revisions.items()):
        if uid in changes:
            continue
        zone = _keeps_off(last, goes)
        if last.cancelled:
            draft, gone = last.draft, RevisionChange.CANCELLED
        elif zone is not None and zone not in goes.off_zones:
            standing.append(zone)
            draft, gone = _held(last, zone, goes), RevisionChange.CHANGED
        elif last.audience is Audience.OWNER and last.key is None:
            unmarked.append(last.summary)
            draft, gone = last.draft, RevisionChange.CHANGED
        else:
            draft, gone = _gone(last, goes, now)
        same = _change(draft, history) is RevisionChange.UNCHANGED
        changes[uid] = change = RevisionChange.UNCHANGED if same else gone
        revisions.append(_revision(draft, change, history, now))
    lost = _lost_standing(history, goes)
    return Revised(tuple(revisions), changes, tuple(standing), lost, tuple(unmarked))


def _keeps_off(last: Revision, goes: Goes) -> str | None:
    """The zone that an entry keeps off, if it does.

    The mark may have been lost in a damaged file. An entry of that purpose that is not over yet
    keeps its zone off all the same: one that ended with a release is over since that day.
    """
    mark, key = last.value(STANDS_PROPERTY), last.key
    if mark is not None:
        return unescape(mark)
    off = key is not None and key.audience is Audience.OWNER and key.purpose == _OFF
    over = (last.value("DTEND") or "") <= day_text(goes.local_on)
    return key.zone_id if off and key and not over else None


def _lost_standing(history: History, goes: Goes) -> tuple[str, ...]:
    """Zones that only others' entries speak of, though nothing says that they were released."""
    owners: set[str] = set()
    others: set[str] = set()
    for revision in history.revisions.values():
        key = revision.key
        if key is not None and key.audience is Audience.OWNER:
            owners.add(key.zone_id)
        elif key is not None and not revision.cancelled:
            others.add(key.zone_id)
    return tuple(sorted(others - owners - goes.zones - goes.off_zones - {""}))


def _change(draft: Draft, history: History) -> RevisionChange:
    last = history.revisions.get(draft.uid)
    if last is None:
        return RevisionChange.NEW
    # Alike line by line is alike; only where it is not are both brought into one order.
    same = draft.lines == last.draft.lines or draft.content == last.content
    # Somebody's edit under our number or a higher one: programs would not take ours back else.
    edited = draft.uid in history.edited and history.raised.get(draft.uid, 0) >= last.sequence
    if same and draft.uid not in history.suspect and not edited:
        return RevisionChange.UNCHANGED
    return RevisionChange.RETURNED if last.cancelled and not same else RevisionChange.CHANGED


def _revision(draft: Draft, change: RevisionChange, history: History, now: datetime) -> Revision:
    """The last revision itself, or the draft as the next one, later in SEQUENCE and in time."""
    last = history.revisions.get(draft.uid)
    if last is not None and change is RevisionChange.UNCHANGED:
        return last
    lost = last is None or draft.uid in history.suspect
    before = history.newest_at if lost else last.changed_at if last else None
    sequence = history.first
    if last is not None and not lost:
        sequence = max(last.sequence, history.raised.get(draft.uid, 0)) + 1
    if sequence > GREATEST_SEQUENCE:
        raise CurecalError("calendar-sequence-spent", uid=draft.uid)
    at = ceil_second(now.astimezone(UTC))
    return stamped(draft, Stamp(sequence, at if before is None else max(at, before + _SECOND)))


def _gone(last: Revision, goes: Goes, now: datetime) -> tuple[Draft, RevisionChange]:
    """An event that is no longer wanted: called off, or as what it was if it took place."""
    reason = goes.reason(last.key) if last.key else RemovalReason.OFF
    # Days compare as days, instants as instants: both are written so that they sort.
    today, at = day_text(goes.local_on), utc_text(now)
    start, end = last.value("DTSTART") or "", last.value("DTEND") or ""
    days = len(end) == len(today)
    over = end <= (today if days else at)
    if last.value(DONE_PROPERTY) or (over and reason is not RemovalReason.OFF):
        return last.draft, RevisionChange.CHANGED
    if reason is not RemovalReason.DONE:
        return _off(last, goes), RevisionChange.CANCELLED
    if start > (today if days else at):
        # Done before its time: the hours it would have taken are free again.
        off = _off(last, goes)
        title = text_property("SUMMARY", goes.done(last.audience, last.summary))
        lines = (title if name_of(line) == "SUMMARY" else line for line in off.lines)
        return Draft(off.uid, off.audience, tuple(lines)), RevisionChange.DONE
    kept: list[str] = []
    for line in _without_alarms(last.draft.lines):
        name = name_of(line)
        if name == "SUMMARY":
            kept.append(text_property("SUMMARY", goes.done(last.audience, last.summary)))
        elif name == "DTEND" and days:
            kept.append(f"DTEND;VALUE=DATE:{min(end, day_text(goes.local_on + timedelta(days=1)))}")
        elif name == "STATUS":
            kept += ["STATUS:CONFIRMED", f"{DONE_PROPERTY}:TRUE"]
        else:
            kept.append("TRANSP:TRANSPARENT" if name == "TRANSP" else line)
    return Draft(last.uid, last.audience, tuple(kept)), RevisionChange.DONE


def _without_alarms(lines: Iterable[str]) -> Iterator[str]:
    depth = 0
    for line in lines:
        name = name_of(line)
        depth += (name == "BEGIN") - (name == "END")
        if depth <= 1 and not (name == "END" and depth == 1):
            yield line


def _off(last: Revision, goes: Goes) -> Draft:
    """An event as cancelled: said in its title as well, since not every program shows the status.

    Its alarms go, and it takes nobody's time. It keeps what identifies it. What kept a zone off
    says that it is withdrawn, and that this is no leave.
    """
    zone = _keeps_off(last, goes)
    to = last.audience
    title = goes.title(to, last.summary) if zone is None else goes.withdrawn_title(to, zone)
    text = goes.text(to) if zone is None else goes.withdrawn_text(to)
    kept: list[str] = []
    for line in _without_alarms(last.draft.lines):
        name = name_of(line)
        if name == STANDS_PROPERTY:
            continue
        if name == "SUMMARY":
            kept.append(text_property("SUMMARY", title))
        elif name == "DESCRIPTION":
            kept.append(text_property("DESCRIPTION", text))
        elif name == "STATUS":
            kept.append("STATUS:CANCELLED")
        elif name == "TRANSP":
            kept.append("TRANSP:TRANSPARENT")
        else:
            kept.append(line)
    return Draft(last.uid, last.audience, tuple(kept))


def _held(last: Revision, zone: str, goes: Goes) -> Draft:
    """An entry that keeps a zone off, on in whole weeks so that it always reaches two weeks ahead.

    It never ends because time passes, nor because its zone is no longer in the plan. Once it has
    been left standing it names no day.
    """
    end = last.value("DTEND") or ""
    end_on = datetime.strptime(end, "%Y%m%d").replace(tzinfo=UTC).date()
    short_days = (goes.local_on + _AHEAD - end_on).days
    weeks = max(0, -(-short_days // _WEEK_DAYS))
    end_on += timedelta(days=weeks * _WEEK_DAYS)
    said = {"DTEND": f"DTEND;VALUE=DATE:{day_text(end_on)}"}
    if text := goes.stands_text(last.audience):
        said["DESCRIPTION"] = text_property("DESCRIPTION", text)
    lines = [said.get(name_of(line), line) for line in _without_alarms(last.draft.lines)]
    if last.value(STANDS_PROPERTY) is None:
        lines.insert(-1, text_property(STANDS_PROPERTY, zone))
    return Draft(last.uid, last.audience, tuple(lines))
