"""The collections of a job as an output of its ledger, one collection a reader.

There is no transaction over several resources: each is written only in the place of what was
read, and a publishing that broke off is completed by the next.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from curecal.calendars import (
    Audience,
    Feed,
    History,
    Revised,
    Revision,
    RevisionChange,
    document,
    head,
)
from curecal.calendars.ical.loose_reader import loose_lines
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.calendars.revisions.outputs import OutputMark, ShownCalendar
from curecal.delivery.caldav.address import Address, safe_name
from curecal.delivery.caldav.caldav_resource import (
    CalendarObject,
    carried,
    octets_of,
    read_object,
    title_of,
)
from curecal.delivery.caldav.collection import Collection, MovedError, Resource, TakenError
from curecal.delivery.caldav.http_client import UncertainError, Web
from curecal.errors import DeliveryError, StoreMoved


@dataclass(frozen=True, slots=True)
class StoredEvent:
    """What became of one event in a collection."""

    uid: str
    sequence: int
    title: str
    change: RevisionChange


@dataclass(frozen=True, slots=True)
class Alarms:
    """How many alarms of its holder an event was sent with, or lost."""

    title: str
    alarm_count: int


@dataclass(slots=True)
class Reached:
    """What became of one reader's collection; `put_back` are titles of events somebody edited."""

    audience: Audience
    url: str
    created: bool = False
    events: dict[str, StoredEvent] = field(default_factory=dict)
    put_back: list[str] = field(default_factory=list)
    alarms_kept: list[Alarms] = field(default_factory=list)
    alarms_gone: list[Alarms] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Held:
    """An event of ours in a collection."""

    resource: Resource
    found: CalendarObject


class _Reader:
    """One reader's collection, as it was read last."""

    def __init__(self, feed: Feed, collection: Collection, *, own: bool) -> None:
        self.feed = feed
        self.collection = collection
        self.own = own
        self.missing = False
        self.held: dict[str, _Held] = {}
        self.reached = Reached(feed.audience, collection.address.text)
        self.wanted = frozenset(feed.uid(event.key) for event in feed.events)
        self.known: Mapping[str, Revision] = {}
        self._elsewhere: dict[str, Address] = {}

    def read(self, known: Mapping[str, Revision]) -> ShownCalendar:
        """Read what is in the collection, and keep what is ours."""
        self.known = known
        resources = self.collection.resources()
        self.missing = resources is None
        if self.missing and not self.own:
            raise DeliveryError("dav-no-collection", url=self.collection.address.text)
        found = list(resources or ())
        places = {resource.address.plain for resource in found}
        hidden = (where for where in self._elsewhere.values() if where.plain not in places)
        found += [more for where in hidden if (more := self.collection.get(where))]
        self.held = {}
        for resource in found:
            self._keep(resource)
        return self._shown()

    def _keep(self, resource: Resource) -> None:
        found = self.object_in(resource)
        if found is None:
            return
        uid, key = found.uid, found.key
        # An event is ours if the ledger knows its UID, or it is that of what it says it is about:
        # a copy that somebody made of it has a UID of its own.
        if uid in {*self.known, *self.wanted} or (key is not None and self.feed.uid(key) == uid):
            # Of two under one UID, ours has the name we gave it.
            named = resource.address.plain == self.collection.address.inside(f"{uid}.ics").plain
            if named or uid not in self.held:
                self.held[uid] = _Held(resource, found)

    def _shown(self) -> ShownCalendar:
        """Return what of ours the collection shows."""
        objects = {uid: held.found for uid, held in self.held.items()}
        # One person's calendar may hold the entries of several readers; each counts for itself.
        marks = (
            one.mark
            for uid, one in objects.items()
            if uid not in self.known or self.known[uid].audience is self.feed.audience
        )
        return ShownCalendar(
            self.collection.address.text,
            self.feed.audience,
            frozenset(mark for mark in marks if mark),
            {
                uid: one.sent.sequence if one.sent else one.sequence
                for uid, one in objects.items()
                if one.is_as_sent or uid not in self.known
            },
            {uid: one.sequence for uid, one in objects.items() if uid in self.known},
            frozenset(
                uid
                for uid, one in objects.items()
                if uid in self.known and _needs_higher(one, self.known[uid])
            ),
            [loose_lines(held.resource.data) for held in self.held.values()],
        )

    def object_in(self, resource: Resource) -> CalendarObject | None:
        """Return what a resource holds."""
        first = read_object(resource.data, self.feed.audience, None)
        known = self.known.get(first.uid) if first else None
        return read_object(resource.data, self.feed.audience, known) if known else first

    def due(self, revisions: Sequence[Revision]) -> list[Revision]:
        """The revisions to send: what is off first, so that nobody acts on what no longer holds."""
        due: list[Revision] = []
        for revision in revisions:
            if revision.audience is not self.feed.audience:
                continue
            held = self.held.get(revision.uid)
            if held is None or not held.found.says(revision):
                due.append(revision)
            elif revision.uid not in self.reached.events:
                self._note(revision, RevisionChange.UNCHANGED)
        return sorted(due, key=lambda revision: not revision.cancelled)

    def send(
        self, job_id: str, revision: Revision, change: RevisionChange, mark: OutputMark
    ) -> None:
        """Write one event, new or in the place of what was read."""
        held = self._strong(self.held.get(revision.uid))
        there = held.found if held else None
        address = (
            held.resource.address if held else self.collection.address.inside(f"{revision.uid}.ics")
        )
        data = octets_of(job_id, revision, mark, there)
        try:
            vouched = self.collection.put(address, data, etag=held.resource.etag if held else None)
        except MovedError:
            raise StoreMoved("dav-moved") from None
        except TakenError:
            self._look_for(revision)
            raise StoreMoved("dav-moved") from None
        except UncertainError as lost:
            if not self._stands(address, revision):
                raise lost.error from None
        else:
            if not vouched and not self._stands(address, revision):
                raise DeliveryError("dav-altered", title=title_of(revision))
        self._sent(revision, there, change)

    def _strong(self, held: _Held | None) -> _Held | None:
        """The same with an ETag that a condition may rest on."""
        if held is None or held.resource.etag is not None:
            return held
        again = self.collection.get(held.resource.address)
        found = None if again is None else self.object_in(again)
        if again is None or found != held.found:
            raise StoreMoved("dav-moved")
        if again.etag is None:
            raise DeliveryError("dav-weak-etag", host=again.address.host)
        return _Held(again, held.found)

    def _look_for(self, revision: Revision) -> None:
        """Find the event under the name that the server has it at."""
        for resource in self.collection.find(revision.uid):
            found = self.object_in(resource)
            if found is not None and found.uid == revision.uid:
                self._elsewhere[revision.uid] = resource.address
                return
        raise DeliveryError("dav-uid-elsewhere", title=title_of(revision))

    def _stands(self, address: Address, revision: Revision) -> bool:
        """Return whether a revision is what the server has."""
        resource = self.collection.get(address)
        found = (
            None if resource is None else read_object(resource.data, self.feed.audience, revision)
        )
        return found is not None and found.says(revision)

    def _sent(
        self, revision: Revision, there: CalendarObject | None, change: RevisionChange
    ) -> None:
        # What is news here need not be to the ledger, and the other way round.
        told = RevisionChange.NEW if there is None else RevisionChange.CHANGED
        plain = {RevisionChange.NEW, RevisionChange.CHANGED, RevisionChange.UNCHANGED}
        self._note(revision, told if change in plain else change)
        if there is None:
            return
        title = title_of(revision)
        if not there.is_as_sent:
            self.reached.put_back.append(title)
        if there.alarms:
            kept = bool(carried(revision, there))
            said = self.reached.alarms_kept if kept else self.reached.alarms_gone
            said.append(Alarms(title, len(there.alarms)))

    def _note(self, revision: Revision, change: RevisionChange) -> None:
        made = StoredEvent(revision.uid, revision.sequence, title_of(revision), change)
        self.reached.events[revision.uid] = made


class CalendarCollections:
    """The collections on a server that show a job's calendars.

    `reached` says what became of each collection, also where publishing broke off; `sent_count`
    of `due_count` events were then written.
    """

    def __init__(
        self,
        web: Web,
        feeds: Sequence[Feed],
        places: Mapping[Audience, Address],
        *,
        own: bool = False,
    ) -> None:
        """Look at nothing yet.

        Args:
            web: The connection to the server.
            feeds: The calendars to show.
            places: Their collections, by reader.
            own: Whether the collections are the job's own, and made where they are missing.
        """
        self._readers = [
            _Reader(feed, Collection(web, places[feed.audience]), own=own) for feed in feeds
        ]
        self.sent_count = 0
        self.due_count = 0

    @classmethod
    def beneath(cls, web: Web, feeds: Sequence[Feed], parent: Address) -> CalendarCollections:
        """Collections of its own, each named after the job and its reader.

        Args:
            web: The connection to the server.
            feeds: The calendars to show.
            parent: Where the collections are, or are made.
        """
        places = {
            feed.audience: parent.inside(safe_name(f"{feed.job_id}-{feed.audience}"))
            for feed in feeds
        }
        return cls(web, feeds, places, own=True)

    @property
    def reached(self) -> tuple[Reached, ...]:
        """Return what became of each collection."""
        return tuple(reader.reached for reader in self._readers)

    def look(self, job_id: str, known: Mapping[str, Revision]) -> tuple[ShownCalendar, ...]:
        """Return what the collections show of a job.

        Args:
            job_id: The job's id.
            known: What the ledger knows, by UID.

        Returns:
            One for each collection.

        Raises:
            DeliveryError: a collection is not there, or cannot be read.
        """
        del job_id
        return tuple(reader.read(known) for reader in self._readers)

    def show(self, job_id: str, revised: Revised, history: History) -> None:
        """Write the events that are not as they should be, each in the place of what was read.

        Args:
            job_id: The job's id.
            revised: What was published, and what became of each event.
            history: What the ledger keeps.

        Raises:
            StoreMoved: something was written by somebody else since. What was sent before stays.
            DeliveryError: the server did not take an event. What was sent before stays.
            CurecalError: the octets do not say what the feeds say; our own fault.
        """
        for reader in self._readers:
            _refuse_unfaithful(reader.feed, revised.revisions)
        due = [(reader, one) for reader in self._readers for one in reader.due(revised.revisions)]
        self.due_count = self.sent_count + len(due)
        for reader in self._readers:
            if reader.missing:
                reader.collection.create(reader.feed.name)
                reader.missing, reader.reached.created = False, True
        for reader, revision in due:
            mark = OutputMark(history.ledger_id, history.count_of(reader.feed.audience))
            reader.send(job_id, revision, revised.changes[revision.uid], mark)
            self.sent_count += 1


def _needs_higher(there: CalendarObject, known: Revision) -> bool:
    """Return whether a program might keep what stands there under the ledger's own number."""
    newer = there.sequence > known.sequence and there.event.content != known.content
    return newer or not there.is_as_sent


def _refuse_unfaithful(feed: Feed, revisions: Sequence[Revision]) -> None:
    """Read everything back before anything leaves."""
    mine = [one for one in revisions if one.audience is feed.audience]
    gone = {one.uid for one in mine} - {feed.uid(event.key) for event in feed.events}
    refuse_unfaithful(feed, document(head(feed), mine), gone=frozenset(gone))
