"""The collections of a job as the store of what was published, one collection a reader.

There is no transaction over several resources: each is written only in the place of what was
read, and a publishing that broke off is completed by the next.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from curecal.calendars import (
    Audience,
    Change,
    Feed,
    Goes,
    History,
    Revision,
    Stamp,
    document,
    drafts,
    head,
    revise,
    stamped,
)
from curecal.calendars.ical.round_trip_check import refuse_unfaithful
from curecal.delivery.caldav.address import Address, safe_name
from curecal.delivery.caldav.caldav_resource import Entry, carried, octets_of, read_entry, title_of
from curecal.delivery.caldav.collection import Collection, MovedError, Resource, TakenError
from curecal.delivery.caldav.http_client import UncertainError, Web
from curecal.errors import DeliveryError, StoreMoved

_TRIES = 3
_SECOND = timedelta(seconds=1)


@dataclass(frozen=True, slots=True)
class Event:
    """What became of one event in a collection."""

    uid: str
    sequence: int
    title: str
    change: Change


@dataclass(frozen=True, slots=True)
class Alarms:
    """How many alarms of its holder an event was sent with, or lost."""

    title: str
    alarm_count: int


@dataclass(slots=True)
class Reached:
    """What became of one reader's collection.

    `put_back` are titles of events that somebody had edited; `left` those of events of the job
    that cannot be told to be ours any more, and were left alone.
    """

    audience: Audience
    url: str
    created: bool = False
    events: dict[str, Event] = field(default_factory=dict)
    put_back: list[str] = field(default_factory=list)
    alarms_kept: list[Alarms] = field(default_factory=list)
    alarms_gone: list[Alarms] = field(default_factory=list)
    left: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Held:
    """An event of ours in a collection."""

    resource: Resource
    entry: Entry


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
        self._elsewhere: dict[str, Address] = {}
        self._alarms = frozenset(
            feed.alarm_uid(event, alarm) for event in feed.events for alarm in event.alarms
        )

    def read(self, job_id: str) -> None:
        """Read what is in the collection, and keep what is ours."""
        resources = self.collection.resources()
        self.missing = resources is None
        if self.missing and not self.own:
            raise DeliveryError("dav-no-collection", url=self.collection.address.text)
        found = list(resources or ())
        known = {each.address.plain for each in found}
        hidden = (each for each in self._elsewhere.values() if each.plain not in known)
        found += [more for each in hidden if (more := self.collection.get(each))]
        self.held, self.reached.left = {}, []
        for resource in found:
            self._keep(resource, job_id)

    def _keep(self, resource: Resource, job_id: str) -> None:
        entry = self.entry(resource)
        if entry is None:
            return
        uid, key = entry.revision.uid, entry.revision.key
        # An event is ours if its UID is that of what it says it is about: a copy that somebody
        # made of it has a UID of its own.
        if uid in self.wanted or (key is not None and self.feed.uid(key) == uid):
            # Of two under one UID, ours has the name we gave it.
            named = resource.address.plain == self.collection.address.inside(f"{uid}.ics").plain
            if named or uid not in self.held:
                self.held[uid] = _Held(resource, entry)
        elif job_id in entry.jobs and key is None:
            self.reached.left.append(title_of(entry.revision))

    def entry(self, resource: Resource) -> Entry | None:
        """What a resource holds."""
        return read_entry(resource.data, self.feed.audience, self._alarms)

    def due(self, revisions: Iterable[Revision]) -> list[Revision]:
        """The revisions to send: what is off first, so that nobody acts on what no longer holds."""
        mine = [each for each in revisions if each.audience is self.feed.audience]
        due: list[Revision] = []
        for each in mine:
            held = self.held.get(each.uid)
            if held is None or not held.entry.says(each):
                due.append(each)
            elif each.uid not in self.reached.events:
                self._note(each, Change.UNCHANGED)
        return sorted(due, key=lambda revision: not revision.cancelled)

    def send(self, job_id: str, revision: Revision, change: Change) -> None:
        """Write one event, new or in the place of what was read."""
        held = self._strong(self.held.get(revision.uid))
        entry = held.entry if held else None
        if entry and revision.sequence <= entry.stored:
            # Its content is as it was, but it takes place otherwise, by what another program added.
            above = max(entry.stored, revision.sequence) + 1
            revision = stamped(revision.draft, Stamp(above, revision.changed_at + _SECOND))
        address = (
            held.resource.address if held else self.collection.address.inside(f"{revision.uid}.ics")
        )
        data = octets_of(job_id, revision, entry)
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
        self._sent(revision, entry, change)

    def _strong(self, held: _Held | None) -> _Held | None:
        """The same with an ETag that a condition may rest on."""
        if held is None or held.resource.etag is not None:
            return held
        again = self.collection.get(held.resource.address)
        entry = None if again is None else self.entry(again)
        if again is None or entry != held.entry:
            raise StoreMoved("dav-moved")
        if again.etag is None:
            raise DeliveryError("dav-weak-etag", host=again.address.host)
        return _Held(again, held.entry)

    def _look_for(self, revision: Revision) -> None:
        """Find the event under the name that the server has it at."""
        for resource in self.collection.find(revision.uid):
            entry = self.entry(resource)
            if entry is not None and entry.revision.uid == revision.uid:
                self._elsewhere[revision.uid] = resource.address
                return
        raise DeliveryError("dav-uid-elsewhere", title=title_of(revision))

    def _stands(self, address: Address, revision: Revision) -> bool:
        """Whether a revision is what the server has."""
        found = self.collection.get(address)
        entry = None if found is None else self.entry(found)
        return entry is not None and entry.says(revision)

    def _sent(self, revision: Revision, entry: Entry | None, change: Change) -> None:
        # A second look after somebody else's change finds what it had told before as new.
        told = Change.NEW if entry is None else Change.CHANGED
        self._note(revision, told if change in {Change.NEW, Change.UNCHANGED} else change)
        if entry is None:
            return
        title = title_of(revision)
        if entry.edited:
            self.reached.put_back.append(title)
        if entry.alarms:
            kept = bool(carried(revision, entry))
            said = self.reached.alarms_kept if kept else self.reached.alarms_gone
            said.append(Alarms(title, len(entry.alarms)))

    def _note(self, revision: Revision, change: Change) -> None:
        made = Event(revision.uid, revision.sequence, title_of(revision), change)
        self.reached.events[revision.uid] = made


class CalendarCollections:
    """The store of a job's published revisions on a server.

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
            feeds: The calendars to publish.
            places: Their collections, by reader.
            own: Whether the collections are the job's own, and made where they are missing.
        """
        self._readers = [
            _Reader(feed, Collection(web, places[feed.audience]), own=own) for feed in feeds
        ]
        self._generation = ""
        self._changes: Mapping[str, Change] = {}
        self.sent_count = 0
        self.due_count = 0

    @classmethod
    def beneath(cls, web: Web, feeds: Sequence[Feed], parent: Address) -> CalendarCollections:
        """A store of collections of its own, each named after the job and its reader.

        Args:
            web: The connection to the server.
            feeds: The calendars to publish.
            parent: Where the collections are, or are made.
        """
        places = {
            feed.audience: parent.inside(safe_name(f"{feed.job_id}-{feed.audience}"))
            for feed in feeds
        }
        return cls(web, feeds, places, own=True)

    @property
    def reached(self) -> tuple[Reached, ...]:
        """What became of each collection."""
        return tuple(reader.reached for reader in self._readers)

    def history(self, job_id: str) -> History:
        """What the collections say was published of a job.

        Args:
            job_id: The job's id.

        Returns:
            The history; its generation is a digest of what was read.

        Raises:
            DeliveryError: a collection is not there, or cannot be read.
        """
        found: dict[str, Revision] = {}
        digest = hashlib.sha256()
        for reader in self._readers:
            reader.read(job_id)
            for uid, held in sorted(reader.held.items()):
                found[uid] = held.entry.revision
                digest.update(f"{uid} {held.resource.etag}\n{held.resource.data}\n".encode())
        self._generation = digest.hexdigest()
        return History(self._generation, found)

    def put(self, job_id: str, revisions: Iterable[Revision], *, expected: str) -> None:
        """Write the events that are not as they should be, each in the place of what was read.

        Args:
            job_id: The job's id.
            revisions: All of the job.
            expected: The generation they were made from.

        Raises:
            StoreMoved: something was written by somebody else since. What was sent before stays.
            DeliveryError: the server did not take an event. What was sent before stays.
            CurecalError: the octets do not say what the feeds say; our own fault.
        """
        if expected != self._generation:
            raise StoreMoved("dav-moved")
        every = tuple(revisions)
        for reader in self._readers:
            _refuse_unfaithful(reader.feed, every)
        due = [(reader, each) for reader in self._readers for each in reader.due(every)]
        self.due_count = self.sent_count + len(due)
        for reader in self._readers:
            if reader.missing:
                reader.collection.create(reader.feed.name)
                reader.missing, reader.reached.created = False, True
        for reader, revision in due:
            reader.send(job_id, revision, self._changes.get(revision.uid, Change.UNCHANGED))
            self.sent_count += 1

    def publish(self, *, now: datetime, goes: Goes) -> tuple[str, ...]:
        """Bring the collections to what the feeds say; `reached` then says what became of them.

        Args:
            now: The instant of publishing.
            goes: How what the feeds no longer have goes.

        Returns:
            The zones no longer in the plan whose entry that keeps them off goes on.

        Raises:
            DeliveryError: not everything was written. The next publishing completes it.
            CurecalError: as of `revise` and `put`.
        """
        job_id = self._readers[0].feed.job_id
        wanted = [draft for reader in self._readers for draft in drafts(reader.feed)]
        for _ in range(_TRIES):
            history = self.history(job_id)
            revised = revise(wanted, history, now, goes=goes)
            self._changes = revised.changes
            try:
                self.put(job_id, revised.revisions, expected=history.generation)
            except StoreMoved:
                continue
            return revised.left_standing
        raise DeliveryError("dav-moving", url=self.reached[0].url)


def _refuse_unfaithful(feed: Feed, revisions: Sequence[Revision]) -> None:
    """Read everything back before anything leaves."""
    mine = [each for each in revisions if each.audience is feed.audience]
    gone = {each.uid for each in mine} - {feed.uid(event.key) for event in feed.events}
    refuse_unfaithful(feed, document(head(feed), mine), gone=frozenset(gone))
