"""What a form is made of: its fields, and who may open it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum

from curecal.book.link_purpose import LinkPurpose
from curecal.planning.site_log.authority import Evidence
from curecal.records import Record, record
from curecal.trade.entry_kinds import EntryKind


class FieldType(StrEnum):
    """How a field is asked, and what its value becomes."""

    NUMBER = "number"
    METER = "meter"
    COUNT = "count"
    CHOICE = "choice"
    YES_NO = "yes-no"
    TEXT = "text"
    LONG_TEXT = "long-text"
    INSTANT = "instant"
    LAYER = "layer"
    CABLE = "cable"
    ZONE = "zone"
    PERSON = "person"
    PICTURE = "picture"
    HIDDEN = "hidden"


class UnitOf(StrEnum):
    """What a number is of: its unit beside the field is that of the job."""

    TEMPERATURE = "temperature"
    HUMIDITY = "humidity"
    OHM = "ohm"
    KILOOHM = "kiloohm"
    MEGAOHM = "megaohm"
    VOLT = "volt"
    MILLIAMPERE = "milliampere"
    MILLISECOND = "millisecond"
    LENGTH = "length"
    HOUR = "hour"
    MOISTURE = "moisture"


@record(kw_only=True)
class FormField(Record):
    """One field of a form. `key` is the key of the log entry that it fills.

    `choices` are values of a closed choice; `is_optional` fields may stay empty, and stand below
    the others, folded away, where `is_folded`.
    """

    key: str
    type: FieldType
    unit: UnitOf | None = None
    choices: tuple[str, ...] = ()
    is_optional: bool = False
    is_folded: bool = False


@record(kw_only=True)
class EntryForm(Record):
    """One form: the kind of entry that it makes, what it asks, and what it proves.

    `evidence` is what its entry can prove: of several, the choice that is typed decides which. It
    is empty for facts of the work, which anybody of the job may tell. `fixed` are values that the
    form itself gives. `has_layer` where a layer or a cable says the zone, `is_for_job` where the
    entry is about no zone.
    """

    name: str
    kind: EntryKind
    fields: tuple[FormField, ...] = ()
    purposes: frozenset[LinkPurpose] = frozenset({LinkPurpose.CREW})
    evidence: tuple[Evidence, ...] = ()
    fixed: Mapping[str, object] = field(default_factory=dict)
    is_for_job: bool = False
    is_alarm: bool = False

    @property
    def asks_zone(self) -> bool:
        """Return whether the zone is asked on its own: no layer and no cable says it."""
        own = {one.type for one in self.fields}
        return not self.is_for_job and not own & {FieldType.LAYER, FieldType.CABLE, FieldType.ZONE}

    @property
    def has_time(self) -> bool:
        """Return whether it may have happened at another time than now."""
        return self.kind not in {EntryKind.VISIT, EntryKind.RELEASE}

    def field_of(self, key: str) -> FormField | None:
        """Return the field of a key."""
        return next((one for one in self.fields if one.key == key), None)
