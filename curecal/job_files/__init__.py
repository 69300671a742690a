"""Job file, company file, shipped rules and classes: TOML to trade types and findings."""

from __future__ import annotations

from curecal.job_files.job_reader import ReadJob, parse_job, read_draft, read_job
from curecal.material_classes.rules import load_rules

__all__ = ["ReadJob", "load_rules", "parse_job", "read_draft", "read_job"]
