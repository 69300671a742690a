"""An entry that says it will only be written down is not hidden until then."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from file_samples import CLOCK, LOG, codes, read

AT = datetime(2026, 11, 1, 12, tzinfo=UTC)
STOP = LOG + 'kind = "stopped"\ncause = "tripped"\n'


@pytest.mark.parametrize(
    ("recorded", "counts_from", "found"),
    [
        ("2026-11-01T13:00:00Z", datetime(2026, 11, 1, 13, tzinfo=UTC), []),
        ("2030-01-01T00:00:00Z", AT, [("recorded-in-future", "log.0.recorded")]),
    ],
)
def test_it_counts_from_when_it_happened(
    recorded: str, counts_from: datetime, found: list[tuple[str, str]]
) -> None:
    assert AT < CLOCK
    made = read(more=f"{STOP}recorded = {recorded}\n")
    assert made.log[0].recorded == counts_from
    assert codes(made) == found


def test_a_correction_too() -> None:
    back = (
        LOG + 'kind = "correction"\nof = "s"\nwithdrawn = true\nrecorded = 2030-01-01T00:00:00Z\n'
    )
    made = read(more=f'{STOP}id = "s"\n{back}')
    assert [entry.recorded for entry in made.log] == [AT, AT]
