"""`curecal verify`: a table 80 columns wide, JSON, and exit code 70 when a check fails."""

from __future__ import annotations

import dataclasses
import json
import platform

import pytest
import tzdata
from click.testing import CliRunner

from curecal.cli.verify import command
from curecal.published import check_values as published
from curecal.published.equations import PLAN_EQUATIONS
from curecal.version import __version__

CHECKS = published.published_checks()


def test_it_prints_every_check_and_says_that_all_hold() -> None:
    result = CliRunner().invoke(command, [])
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert lines[-1] == f"All {len(CHECKS)} published checks hold."
    assert max(len(line) for line in lines) <= 80
    rows = [line for line in lines if line[73:75] in {" S", " L", " C", " M"}]
    assert len(rows) == len(CHECKS)
    in_plans = [line for line in rows if line[75:] == " P"]
    assert len(in_plans) == sum(check.equation in PLAN_EQUATIONS for check in CHECKS)
    assert all(line[75:] in {"", " P"} for line in rows)


def test_its_first_line_says_what_is_installed() -> None:
    first = CliRunner().invoke(command, []).output.splitlines()[0]
    assert __version__ in first
    assert platform.python_version() in first
    assert tzdata.IANA_VERSION in first


def test_its_json_holds_the_same() -> None:
    result = CliRunner().invoke(command, ["--json"])
    assert result.exit_code == 0
    document = json.loads(result.output)
    assert document["schema"] == 1
    assert document["all_hold"] is True
    assert document["curecal"] == __version__
    assert [check["id"] for check in document["checks"]] == [check.id for check in CHECKS]
    assert [check["in_plans"] for check in document["checks"]] == [
        check.equation in PLAN_EQUATIONS for check in CHECKS
    ]
    assert all(check["source"] and check["why_tolerance"] for check in document["checks"])


@pytest.fixture
def wrong(monkeypatch: pytest.MonkeyPatch) -> str:
    """Make one expected value wrong, as if an equation had changed."""
    spoiled = dataclasses.replace(CHECKS[3], expected=CHECKS[3].expected * 1.5)
    checks = (*CHECKS[:3], spoiled, *CHECKS[4:])
    monkeypatch.setattr(published, "published_checks", lambda: checks)
    return spoiled.id


def test_a_check_that_fails_is_named_and_ends_with_70(wrong: str) -> None:
    result = CliRunner().invoke(command, [])
    assert result.exit_code == 70
    assert f"1 of {len(CHECKS)} published checks do not hold:" in result.output
    assert f"  {wrong}: " in result.output
    assert "All " not in result.output
    assert [line[0] for line in result.output.splitlines() if line.startswith("!")] == ["!"]


def test_a_check_that_fails_is_marked_in_json(wrong: str) -> None:
    result = CliRunner().invoke(command, ["--json"])
    assert result.exit_code == 70
    document = json.loads(result.output)
    assert document["all_hold"] is False
    assert [check["id"] for check in document["checks"] if not check["holds"]] == [wrong]
