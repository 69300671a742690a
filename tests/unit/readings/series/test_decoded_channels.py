"""A job that is read again decodes its loggers' readings once, and knows other bytes at once."""

from __future__ import annotations

from array import array
from pathlib import Path
from typing import TYPE_CHECKING

from test_add_to_job import job, put

from curecal.job_files import read_job
from curecal.readings.series import log_series
from curecal.readings.series.decoded_channels import DecodedChannels
from curecal.readings.table.export_types import LoggerChannel

if TYPE_CHECKING:
    import pytest

__all__ = ["job"]


def channel(count: int) -> LoggerChannel:
    return LoggerChannel(
        "a", array("q", range(count)), array("d", [20.0] * count), array("d", [0.5] * count)
    )


def test_a_job_read_again_decodes_nothing_again(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    put(job, "warm_van.csv")
    decoded: list[int] = []
    decode = log_series.decode_channel

    def counted(data: bytes, device: str) -> LoggerChannel:
        decoded.append(len(data))
        return decode(data, device)

    monkeypatch.setattr(log_series, "decode_channel", counted)
    channels = DecodedChannels()
    first, again = (read_job(job, channels=channels) for _ in range(2))
    assert len(decoded) == 1
    assert first.log == again.log == read_job(job).log
    # Other bytes under the same name are not those that were decoded.
    (kept,) = (job.parent / "job.readings").iterdir()
    kept.write_bytes(kept.read_bytes().replace(b",1", b",2", 1))
    codes = [finding.code for finding in read_job(job, channels=channels).findings]
    assert "readings-hash-differs" in codes


def test_what_nobody_asked_for_longest_is_given_up() -> None:
    channels = DecodedChannels(most=10)
    for name in ("a", "b"):
        channels.keep(name, channel(4))
    assert channels.get("a") is not None
    channels.keep("c", channel(5))
    assert channels.get("b") is None
    assert channels.get("a") is not None
    assert len(channels) == 9
    channels.keep("d", channel(11))
    assert len(channels) == 0
