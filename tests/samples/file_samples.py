"""A job file that reads without a finding, and places to put mistakes into."""

from __future__ import annotations

from datetime import UTC, datetime

from curecal.job_files import ReadJob, parse_job

HEAD = """
[job]
id = "j"
name = "Alder Lane"
timezone = "America/Halifax"
code = "CEC"
{job}
[expected]
below = "heated room"
air = "20 °C"
{expected}
{top}
[[zone]]
name = "hall"
{zone}
{heating}
[[zone.layer]]
name = "bed"
material = "thinset"
{layer}
{more}
"""
PLACES = ("job", "expected", "top", "zone", "heating", "layer", "more")
CLOCK = datetime(2026, 12, 1, tzinfo=UTC)


def text(**parts: str) -> str:
    """Return a job file that reads without a finding but for what is put into it."""
    return HEAD.format(**{place: parts.get(place, "") for place in PLACES})


def read(**parts: str) -> ReadJob:
    return parse_job(text(**parts).encode(), clock=CLOCK)


def codes(found: ReadJob) -> list[tuple[str, str]]:
    return [(finding.code, finding.path) for finding in found.findings]


MATERIAL = '[material.m]\nkind = "thinset"\ndata_sheet = "s"\n'
LOG = "[[log]]\nat = 2026-11-01T12:00:00Z\n"
