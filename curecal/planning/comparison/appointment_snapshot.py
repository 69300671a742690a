"""An appointment as facts alone, as every output shows it."""

from __future__ import annotations

from datetime import datetime

from curecal.instants import ceil_second
from curecal.planning.plan import Appointment
from curecal.records import Record, record
from curecal.trade.findings import Message


@record(kw_only=True)
class AppointmentSnapshot(Record):
    """A visit that was agreed; `zone` is None for the whole job."""

    id: str
    purpose: str
    state: str
    start: datetime
    end: datetime
    who: str | None = None
    zone: str | None = None
    misfit_facts: Message | None = None


def appointment_snapshot(appointment: Appointment) -> AppointmentSnapshot:
    """Return an appointment as facts alone.

    Rule: R8.

    Args:
        appointment: the appointment.

    Returns:
        Its hours in whole seconds.
    """
    return AppointmentSnapshot(
        id=appointment.id,
        purpose=appointment.purpose.value,
        state=appointment.state.value,
        start=ceil_second(appointment.start_at),
        end=ceil_second(appointment.end_at),
        who=appointment.who,
        zone=appointment.zone_id,
        misfit_facts=appointment.misfit,
    )
