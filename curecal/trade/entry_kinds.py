"""The kinds of the log's entries."""

from __future__ import annotations

from enum import StrEnum


class EntryKind(StrEnum):
    """What an entry of the log is called, as its `kind` says."""

    AIR = "air"
    SURFACE = "surface"
    FLOOR = "floor"
    KEPT = "kept"
    READINGS = "readings"
    DONE = "done"
    RESISTANCE = "resistance"
    NOT_TESTED = "not_tested"
    MOISTURE = "moisture"
    TEST_POINTS = "test_points"
    INSPECTION = "inspection"
    PROTECTION = "protection"
    CONNECTED = "connected"
    CONTINUITY = "continuity"
    THERMOSTAT = "thermostat"
    VISIT = "visit"
    RELEASE = "release"
    ENERGIZED = "energized"
    HEAT_STEP = "heat_step"
    STOPPED = "stopped"
    RESUMED = "resumed"
    PHOTO = "photo"
    NOTE = "note"
    CORRECTION = "correction"
