"""The plan that is told with a revision of a job, kept beside it."""

from __future__ import annotations

import importlib
from datetime import datetime
from typing import TYPE_CHECKING

from curecal.job_files import load_rules
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan
from curecal.version import __version__
from curecal.words.json.plan_json import plan_json
from curecal.words.sentences import words_for

if TYPE_CHECKING:
    from curecal.job_files import ReadJob
    from curecal.records import PlainView


def told_plan(read: ReadJob, now: datetime) -> PlainView:
    """Return the plan that is told with a revision, as machine output has it.

    Args:
        read: The job as it was read.
        now: When.
    """
    if read.job is None:
        return {}
    rules = load_rules()
    plan = make_plan(read.job, read.log, now, rules=rules, day_off=day_off_for(read.job))
    return plan_json(
        plan,
        read.findings,
        words=words_for(read.job, rules),
        version=__version__,
        tzdata=str(importlib.import_module("tzdata").IANA_VERSION),
        names=read.raw,
    )
