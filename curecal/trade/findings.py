"""What there is to say about a job: a code with parameters, never a sentence.

Parameter names end in their unit (`wait_s`, `rated_c`, `limit_c`, `step_k`, `depth_m`,
`share_fraction`, `read_ohm`, `done_at`, `day_on`); `curecal.words` formats them by that ending.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum

from curecal.records import Record, record

Params = Mapping[str, object]


class Severity(StrEnum):
    """`error`: not understood, nothing is written. `stop`: understood, and the site says no."""

    ERROR = "error"
    STOP = "stop"
    WARNING = "warning"
    CAUTION = "caution"


class FindingCode(StrEnum):
    """Codes of findings and messages that something asks for; all others are only said."""

    BOOK_FAULT_DATABASE = "book-fault-database"
    COLD_AT_APPLICATION = "cold-at-application"
    COLDER_THAN_COLDEST = "colder-than-coldest"
    COLDEST_LOWERED = "coldest-lowered"
    CONNECTION_NONE = "connection-none"
    COVERED_EARLY = "covered-early"
    COVERED_WET = "covered-wet"
    COVERED_WITHOUT_DATE = "covered-without-date"
    CURE_RUNNING = "cure-running"
    EARLY_SWITCH_ON = "early-switch-on"
    EMBEDDED_UNTESTED = "embedded-untested"
    FINISH_BY_NIGHT = "finish-by-night"
    FINISH_FAR_BEFORE = "finish-far-before"
    FINISH_TOLD_LATE = "finish-told-late"
    FROST = "frost"
    FROST_AFTER_HARDENING = "frost-after-hardening"
    HEAT_BY_FALLBACK = "heat-by-fallback"
    HEAT_UNDER_FALLBACK = "heat-under-fallback"
    HELD_WHILE_ON = "held-while-on"
    HOUSE_NEEDS_HEAT = "house-needs-heat"
    HOUSE_NEEDS_HEAT_NO_DATE = "house-needs-heat-no-date"
    INSPECTION_NONE = "inspection-none"
    JOINT_AGREES = "joint-agrees"
    JOINT_OFF = "joint-off"
    LAID_BEFORE = "laid-before"
    MAY_FALL_BELOW_MINIMUM = "may-fall-below-minimum"
    MOISTURE_DEPTH = "moisture-depth"
    MOISTURE_FELL = "moisture-fell"
    MOISTURE_IMPLAUSIBLE = "moisture-implausible"
    MOISTURE_INCOMPLETE = "moisture-incomplete"
    MOISTURE_NO_WATER = "moisture-no-water"
    MOISTURE_NONE = "moisture-none"
    MOISTURE_STILL_WARM = "moisture-still-warm"
    MOISTURE_TOO_DRY = "moisture-too-dry"
    MOISTURE_TOO_EARLY = "moisture-too-early"
    MOVED_BY_ENTRIES = "moved-by-entries"
    MOVED_BY_FILE = "moved-by-file"
    MOVED_BY_TIME = "moved-by-time"
    OPEN_TOO_LONG = "open-too-long"
    POINTS_NONE = "points-none"
    PROTECTION_NONE = "protection-none"
    RELEASE_SETTLED = "release-settled"
    ROOM_HOT = "room-hot"
    SEALED_BOTH_SIDES = "sealed-both-sides"
    STOPPED = "stopped"
    SUPPLY_TOO_HIGH = "supply-too-high"
    TEST_NONE = "test-none"
    TEST_PASSED = "test-passed"
    THERMOSTAT_NONE = "thermostat-none"
    VISIT_AFTER_WINDOW = "visit-after-window"
    VISIT_AFTER_WORK = "visit-after-work"
    VISIT_NOT_NEEDED = "visit-not-needed"
    VISIT_PASSED = "visit-passed"
    VISIT_TOO_EARLY = "visit-too-early"
    VISIT_WITHOUT_DATE = "visit-without-date"
    WHEN_BELOW_FINISHED = "when-below-finished"
    WHICH_CABLE = "which-cable"


@record
class Message(Record):
    """A code of the message catalogue and what goes into its places."""

    code: str
    params: Params = field(default_factory=dict)


@record
class Finding(Record):
    """One thing to say, and the place in the job file it is about (`zone.0.layer.2.thickness`)."""

    severity: Severity
    code: str
    path: str = ""
    params: Params = field(default_factory=dict)
    zone_id: str | None = None
    layer_id: str | None = None
