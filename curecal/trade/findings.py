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

    EARLY_SWITCH_ON = "early-switch-on"
    FROST_AFTER_HARDENING = "frost-after-hardening"
    HELD_WHILE_ON = "held-while-on"
    RELEASE_SETTLED = "release-settled"
    SOUND_BY = "sound-by"
    STOPPED = "stopped"
    TEST_PASSED = "test-passed"


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
