"""Log entries of kind `readings` to series: the readings beside the job, if they are whole."""

from __future__ import annotations

import stat
from array import array
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path, PurePosixPath
from types import MappingProxyType

from curecal.errors import ValueRefused
from curecal.readings.series.decoded_channels import DecodedChannel, DecodedChannels
from curecal.readings.series.readings_entry import ReadingsEntry
from curecal.readings.series.same_device import are_different_places, have_same_readings
from curecal.readings.series.stored_readings import decode_channel, digest
from curecal.readings.series.stored_series import WINDOW_KEYS, StoredSeries, Window
from curecal.readings.table.export_types import (
    LoggerChannel,
    differ,
    instant,
    interval_of,
)
from curecal.readings.table.text import LARGEST_BYTES
from curecal.toml_files.shown import shorten
from curecal.toml_files.spans import UNHEATED_C
from curecal.toml_files.table_reader import TableReader
from curecal.trade.findings import Severity
from curecal.trade.job import Person, Role
from curecal.trade.logged_points import LoggedPoints
from curecal.trade.names import comparable_name
from curecal.trade.site_log import (
    Correction,
    Energized,
    Entry,
    HeatStep,
    Place,
    Reading,
    Remark,
    Series,
)

# Set to another interval by up to this factor, a logger is still the same one.
_LIKE = 2


def read_series(
    reader: TableReader,
    entries: Sequence[Entry],
    folder: Path | None,
    *,
    people: Sequence[Person] = (),
    channels: DecodedChannels | None = None,
) -> list[Entry]:
    """Return a log's entries, in the same order, each with stored readings as a series.

    One whose readings cannot be counted, as all of a job whose folder is not known, stays a remark,
    and is found.
    """
    decoded = DecodedChannels() if channels is None else channels
    corrections = [entry for entry in entries if isinstance(entry, Correction)]
    void = _void(corrections)
    # What was withdrawn counted until then, and needs nothing said about it any more.
    silent = replace(reader, findings=[])
    whole: list[StoredSeries] = []
    lost: set[str] = set()
    made: dict[str, Entry] = {}
    for entry in entries:
        if not isinstance(entry, ReadingsEntry):
            continue
        own = [change for change in corrections if change.of == entry.id and change.id not in void]
        # Else whoever takes the file away could take away what is said of it, and a frost.
        withdrawn = any(change.withdrawn and _may_withdraw(people, change, entry) for change in own)
        heard = silent if withdrawn else reader
        channel = _channel(heard, entry, folder, decoded)
        if channel is None:
            lost |= set() if withdrawn or folder is None else {entry.id}
            continue
        standing = [change for change in own if not change.withdrawn]
        ordered = sorted(standing, key=lambda change: (change.recorded, change.id))
        cut = _until_heating(heard, entry, channel, entries)
        found = StoredSeries(entry, cut, tuple(ordered))
        if withdrawn:
            made |= _series(silent, [found])
        else:
            whole.append(found)
    _find_elsewhere(reader, whole)
    for alike in _alike(whole):
        made |= _series(reader, alike)
    return [
        made.get(entry.id, _plain(entry, is_lost=entry.id in lost))
        if isinstance(entry, ReadingsEntry | Correction)
        else entry
        for entry in entries
    ]


def _may_withdraw(people: Iterable[Person], change: Correction, entry: Entry) -> bool:
    """Return whether a withdrawal is signed by the crew lead, or by who signed the entry.

    Rule: R24d.
    """
    by = comparable_name(change.by or "")
    own = by == comparable_name(entry.by or "")
    return any(
        comparable_name(person.name) == by and (own or Role.CREW_LEAD in person.every_role)
        for person in people
        if person.is_on_the_job(max(change.at, change.recorded))
    )


def _until_heating(
    reader: TableReader, entry: ReadingsEntry, decoded: DecodedChannel, entries: Sequence[Entry]
) -> DecodedChannel:
    """Return a channel; that of a floor's sensor until the floor was switched on.

    Rule: R7.
    """
    on = [
        other.at
        for other in entries
        if (isinstance(other, Energized | HeatStep) or _is_floor_on(other))
        and (entry.zone is None or other.zone in {None, entry.zone})
    ]
    channel = decoded.channel
    if entry.place is not Place.FLOOR or not on or min(on) > channel.last:
        return decoded
    said = reader.local(energized=min(on))
    reader.find(Severity.CAUTION, "readings-heating-on", entry.path, said)
    return DecodedChannel(channel.between(None, min(on)))


def _is_floor_on(entry: Entry) -> bool:
    return isinstance(entry, Reading) and entry.is_floor_on


def _plain(entry: Entry, *, is_lost: bool) -> Entry:
    """Return an entry that is not counted as a remark like any other."""
    if not isinstance(entry, ReadingsEntry):
        return entry
    names = ("id", "at", "recorded", "by", "note", "zone", "path", "file", "text")
    return Remark(**{name: getattr(entry, name) for name in names}, is_lost=is_lost)


def _void(corrections: Iterable[Correction]) -> set[str]:
    """Return the ids of corrections that are withdrawn, and not by one withdrawn itself."""
    void: set[str] = set()
    newest_first = sorted(corrections, key=lambda made: (made.recorded, made.id), reverse=True)
    for correction in newest_first:
        if correction.withdrawn and correction.id not in void:
            void.add(correction.of)
    return void


def _channel(
    reader: TableReader, entry: ReadingsEntry, folder: Path | None, decoded: DecodedChannels
) -> DecodedChannel | None:
    """Return the readings of a kept entry, None where they cannot be counted, which is found."""
    name = entry.file or ""
    params: dict[str, object] = {"file": shorten(name)}
    if folder is None:
        reader.find(Severity.WARNING, "readings-not-counted", entry.path, params)
        return None
    if entry.sha256 is None:
        # As with a hash that differs: whoever takes the line away must not take away a frost.
        reader.find(Severity.STOP, "readings-without-hash", entry.path, params)
        return None
    try:
        return _whole(entry, file_in_folder(folder, name), decoded)
    except ValueRefused as error:
        # A log that names readings which are not there may hide a frost: the site has to look.
        reader.find(Severity.STOP, error.code, entry.path, error.params)
        return None


def _whole(entry: ReadingsEntry, path: Path | None, decoded: DecodedChannels) -> DecodedChannel:
    """Return the readings of a file that is the one which was recorded; refuse any other."""
    file = shorten(entry.file or "")
    if path is None:
        raise ValueRefused("readings-file-outside", file=file)
    try:
        found = path.stat()
        # A pipe would be waited for.
        whole = stat.S_ISREG(found.st_mode) and found.st_size <= LARGEST_BYTES
        data = path.read_bytes() if whole else b""
    except (OSError, ValueError):
        raise ValueRefused("readings-file-missing", file=file) from None
    sha256 = digest(data)
    if sha256 != (entry.sha256 or "").lower():
        raise ValueRefused("readings-hash-differs", file=file)
    channel = decoded.get(sha256)
    if channel is not None:
        return channel
    try:
        return decoded.keep(sha256, decode_channel(data, entry.device))
    except ValueError:
        raise ValueRefused("readings-not-canonical", file=file) from None


def file_in_folder(folder: Path, name: str) -> Path | None:
    """Return a file that lies in a folder or under it; None for a name that leads elsewhere."""
    path = PurePosixPath(name)
    if path.is_absolute() or ".." in path.parts or "\\" in name or "\0" in name or ":" in name:
        return None
    try:
        found, root = (folder / path).resolve(), folder.resolve()
    except (OSError, ValueError, RuntimeError):
        return None
    return found if found.is_relative_to(root) and found != root else None


def _alike(whole: Iterable[StoredSeries]) -> list[list[StoredSeries]]:
    """Return entries of one device at one place with like intervals together, in order."""
    ordered = sorted(whole, key=lambda stored: (stored.channel.at_s[:1].tolist(), stored.entry.id))
    groups: list[list[StoredSeries]] = []
    for stored in ordered:
        for group in groups:
            same = _about(group[0].entry) == _about(stored.entry)
            one_s, other_s = group[0].decoded.interval_s, stored.decoded.interval_s
            if same and (not one_s or not other_s or 1 / _LIKE <= one_s / other_s <= _LIKE):
                group.append(stored)
                break
        else:
            groups.append([stored])
    return groups


def _find_elsewhere(reader: TableReader, whole: Sequence[StoredSeries]) -> None:
    """Note readings that count as those of two places: one of them is wrong, and may hide cold."""
    for one, other in combinations(whole, 2):
        first, second = one.entry, other.entry
        if (
            first.device == second.device
            and are_different_places((first.place, first.zone), (second.place, second.zone))
            and have_same_readings(one.counting.points(), other.counting.points())
        ):
            params: dict[str, object] = {
                "device": first.device,
                "entry_id": first.id,
                "reading_place": first.place.value,
            }
            reader.find(Severity.STOP, "readings-place-twice", second.path, params)


def _about(entry: ReadingsEntry) -> tuple[object, ...]:
    return entry.device, entry.place, entry.zone


def _series(reader: TableReader, alike: Sequence[StoredSeries]) -> dict[str, Entry]:
    """Return the series of entries of one device, and their corrections with what they change.

    Every entry stays one of its own, so that it can be corrected and withdrawn. Two that follow
    one another closely share the reading between them, as one file of both would.
    """
    if len(alike) > 1:
        _find_conflicts(reader, alike)
    _find_half_days(reader, alike)
    interval_s = _interval_s(alike)
    made: dict[str, Entry] = {}
    before: LoggerChannel | None = None
    for stored in alike:
        entry, joint = stored.entry, before
        windows = stored.windows
        _refuse_others(reader, stored)
        shown = stored.channel.between(*windows[-1])
        _find_odd(reader, stored, windows[-1], shown)
        parts = [stored.channel.between(*window) for window in windows]
        points = [_joined(part, stored.points(part), joint, interval_s) for part in parts]
        made[entry.id] = Series(
            id=entry.id,
            at=entry.at,
            recorded=entry.recorded,
            by=entry.by,
            note=entry.note,
            zone=entry.zone,
            path=entry.path,
            place=entry.place,
            device=entry.device,
            interval_s=interval_s,
            points=points[0],
        )
        for correction, changed in zip(stored.corrections, points[1:], strict=True):
            rest = {key: at for key, at in correction.changes.items() if key not in WINDOW_KEYS}
            made[correction.id] = replace(
                correction, changes=MappingProxyType({**rest, "points": changed})
            )
        if before is None or shown.at_s[-1:] > before.at_s[-1:]:
            before = shown
    return made


def _refuse_others(reader: TableReader, stored: StoredSeries) -> None:
    """Note a correction of what the readings are: they would no longer be what was recorded."""
    for correction in stored.corrections:
        if correction.changes.keys() & {"file", "sha256"}:
            reader.find(Severity.ERROR, "readings-corrected", correction.path, {})


def _joined(
    channel: LoggerChannel, points: LoggedPoints, before: LoggerChannel | None, interval_s: float
) -> LoggedPoints:
    """Return a channel's readings behind the last one before it, where that is close enough."""
    if before is None or not points:
        return points
    earlier = before.between(None, channel.first)
    if not len(earlier) or not 0 < channel.at_s[0] - earlier.at_s[-1] <= 2 * interval_s:
        return points
    return earlier.picked([len(earlier) - 1]).points() + points


def _interval_s(alike: Sequence[StoredSeries]) -> float:
    """Return the nominal interval [s] of all readings together, as one file would give it."""
    if len(alike) == 1:
        return alike[0].decoded.interval_s
    return interval_of(array("q", sorted({at for stored in alike for at in stored.channel.at_s})))


def _find_odd(
    reader: TableReader, stored: StoredSeries, window: Window, shown: LoggerChannel
) -> None:
    """Note what of an entry's readings is no room's, and where nothing of them is left."""
    entry = stored.entry
    start, end = window
    if start is not None and end is not None and not start < end:
        said = reader.local(start=start, end=end)
        reader.find(Severity.ERROR, "readings-window-reversed", entry.path, said)
    elif not len(shown):
        params: dict[str, object] = {"file": shorten(entry.file or "")}
        reader.find(Severity.WARNING, "readings-nothing-left", entry.path, params)
    wrong_c = stored.wrong_median_c(shown)
    if wrong_c is not None:
        params = {"device": entry.device, "usual_c": wrong_c, "id": entry.id}
        params["most_c"] = UNHEATED_C[1]
        reader.find(Severity.ERROR, "readings-no-room", entry.path, params)
    if shown.hidden:
        said = reader.local(first=instant(shown.hidden[0]))
        found = {**said, "row_count": len(shown.hidden), "device": entry.device}
        reader.find(Severity.WARNING, "readings-hidden", entry.path, found)


def _find_half_days(reader: TableReader, alike: Sequence[StoredSeries]) -> None:
    """Note readings of a clock that may have twelve hours, unless another file shows its own."""
    for stored in alike:
        if not stored.channel.half or not len(stored.counting):
            continue
        own = set(stored.channel.points().rows())
        proven = any(
            not other.channel.half and not own.isdisjoint(other.channel.points().rows())
            for other in alike
        )
        if not proven:
            about: dict[str, object] = {"device": stored.entry.device, "id": stored.entry.id}
            reader.find(Severity.WARNING, "readings-half-day-kept", stored.entry.path, about)


def _find_conflicts(reader: TableReader, alike: Sequence[StoredSeries]) -> None:
    """Note entries of one device that say different things of the same instant."""
    seen: dict[int, tuple[float, float]] = {}
    for stored in alike:
        channel = stored.channel
        rows = zip(channel.at_s, channel.temperature_c, channel.humidity, strict=True)
        count = 0
        for at_s, warm, damp in rows:
            old = seen.setdefault(at_s, (warm, damp))
            count += differ(old[0], warm) or differ(old[1], damp)
        if count:
            params: dict[str, object] = {"device": stored.entry.device, "conflict_count": count}
            reader.find(Severity.WARNING, "readings-conflict", stored.entry.path, params)
