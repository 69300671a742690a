"""What an entry means, in words: readings held against the label, hold points, what is new."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import TYPE_CHECKING

from curecal.errors import OutsideValidity
from curecal.material_classes.rules import load_rules
from curecal.planning.hold_points.cable_limits import (
    is_within,
    judge,
    label_resistance,
    sensor_temperature,
)
from curecal.planning.plan import Hold, HoldState
from curecal.trade.findings import Severity
from curecal.trade.site_log import OPEN_OHM, Resistance
from curecal.web.site_work import floor_answer
from curecal.words.sentences import whole
from curecal.words.values import clean

if TYPE_CHECKING:
    from curecal.trade.findings import Finding
    from curecal.trade.job import Cable
    from curecal.trade.site_log import Entry
    from curecal.web.job_now import JobNow
    from curecal.web.page_request import PageRequest

_TOLD = frozenset({Severity.STOP, Severity.WARNING})


def meaning(page: PageRequest, before: JobNow, after: JobNow, entry: Entry) -> tuple[str, ...]:
    """Return what an entry means: what it proves, and what is found since.

    Args:
        page: The request, for its language.
        before: The job without the entry.
        after: The job with it.
        entry: The entry.

    Returns:
        Sentences, each once; the readings first.
    """
    known = {_identity(found) for found in before.plan.findings}
    found = [
        one for one in after.plan.findings if one.severity in _TOLD and _identity(one) not in known
    ]
    holds = _decided_by(after, entry)
    # What is told with what to do about it is not told before without it.
    codes = {one.code for one in found}
    said = list(_readings(page, after, entry)) if isinstance(entry, Resistance) else []
    said += [_hold(page, hold, codes) for hold in holds]
    if isinstance(entry, Resistance) and not holds:
        said += _verdict(page, after, entry, codes)
    said += [_finding(page, one) for one in found]
    return tuple(dict.fromkeys(said))


def answer_of(page: PageRequest, job_now: JobNow) -> str:
    """Return what the floor may do now, in one sentence."""
    return floor_answer(page, job_now.plan)


def _readings(page: PageRequest, after: JobNow, entry: Resistance) -> Iterator[str]:
    """Yield each reading of a cable against its label, with the limits beside it."""
    cable = _cable_of(after, entry)
    rated_ohm = None if cable is None else label_resistance(cable)
    if entry.conductor_ohm is not None:
        if cable is None or rated_ohm is None:
            yield page.text("forms.judged.no-label")
        elif entry.conductor_ohm >= OPEN_OHM:
            yield page.text("forms.judged.open")
        else:
            within = is_within(cable, read_ohm=entry.conductor_ohm, rated_ohm=rated_ohm)
            yield page.text(
                f"forms.judged.{'inside' if within else 'outside'}",
                read_ohm=entry.conductor_ohm,
                least_ohm=rated_ohm * (1.0 - cable.below_fraction),
                most_ohm=rated_ohm * (1.0 + cable.above_fraction),
            )
    if cable is None:
        return
    if entry.insulation_ohm is not None and not entry.insulation_at_least:
        enough = entry.insulation_ohm >= cable.insulation_ohm
        yield page.text(
            f"forms.judged.insulation-{'enough' if enough else 'low'}",
            read_ohm=entry.insulation_ohm,
            wanted_ohm=cable.insulation_ohm,
        )
    if entry.sensor_ohm is not None and cable.sensor is not None:
        try:
            sensed_c = sensor_temperature(cable.sensor, entry.sensor_ohm)
        except OutsideValidity:
            sensed_c = None
        if sensed_c is not None:
            yield page.text("forms.judged.sensor", read_ohm=entry.sensor_ohm, sensed_c=sensed_c)


def _verdict(
    page: PageRequest, after: JobNow, entry: Resistance, codes: Collection[str]
) -> list[str]:
    """Return what a test proves that decides no hold point: it may lack something."""
    cable = _cable_of(after, entry)
    if cable is None or label_resistance(cable) is None:
        return []
    verdict = judge(cable, entry, load_rules())
    if verdict.state is HoldState.MET or verdict.reason.code in codes:
        return []
    said, do = page.words.sentence(verdict.reason), page.words.remedy(verdict.reason)
    return [f"{said} {do}".strip()]


def _cable_of(after: JobNow, entry: Resistance) -> Cable | None:
    """Return the cable that readings are of, where the job names one."""
    found = [
        cable
        for zone in after.job.zones
        if entry.zone in {None, zone.id}
        for cable in zone.heating.cables
        if entry.cable in {None, cable.name}
    ]
    return found[0] if len(found) == 1 else None


def _decided_by(after: JobNow, entry: Entry) -> list[Hold]:
    return [hold for zone in after.plan.zones for hold in zone.holds if hold.evidence == entry.id]


def _hold(page: PageRequest, hold: Hold, codes: Collection[str]) -> str:
    """Return how a hold point stands by an entry, and why where it does not stand."""
    reason = None
    if hold.reason is not None and hold.is_outstanding and hold.reason.code not in codes:
        said, do = page.words.sentence(hold.reason), page.words.remedy(hold.reason)
        reason = f"{said} {do}".strip()
    return page.text(
        "forms.judged.hold",
        what=_capital(page.words.hold(hold)),
        state=page.words.hold_state(hold.state),
        why=reason,
    )


def _finding(page: PageRequest, found: Finding) -> str:
    said, do = page.words.finding(found)
    severity = page.words.name("severity", found.severity.value)
    sign = f"{severity}: " if found.severity is Severity.STOP else ""
    return clean(f"{sign}{whole(said)} {do}".strip())


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _identity(found: Finding) -> tuple[str, str, str | None]:
    return found.code, found.path, found.zone_id
