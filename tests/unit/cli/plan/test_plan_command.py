"""`plan` and `explain`: what they print, and how they end."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from freezegun import freeze_time
from plan_samples import FINDINGS, RULES, TZ, job, plan, zone

import curecal.job_files
from curecal.cli.main import code_of_run
from curecal.cli.shared import common
from curecal.cli.shared.common import instant_asked, print_lines, width_of
from curecal.errors import SourceError, UsageError
from curecal.instants import Toward
from curecal.job_files.days_off import day_off_for
from curecal.planning.plan import Plan, State
from curecal.trade.findings import Finding, Severity
from curecal.trade.job import Work
from curecal.words.layout import TextRun
from curecal.words.sentences import plain_words

ERROR = Finding(
    Severity.ERROR,
    "done-differs",
    "zone.0.layer.1",
    {"layer": "x", "first_at": None, "last_at": None},
)

NAMES = ["crew.ics", "electrician.ics", "owner.ics"]


class Stage:
    """Stands in for reading and planning: what was asked is kept."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.plan: Plan = plan(zone(State.CURING))
        self.findings: tuple[Finding, ...] = ()
        self.readable = True
        self.asked: dict[str, Any] = {}
        monkeypatch.setattr(curecal.job_files, "read_job", self._read, raising=False)
        monkeypatch.setattr(curecal.job_files, "load_rules", lambda: RULES, raising=False)
        monkeypatch.setattr("curecal.planning.make_plan.make_plan", self._plan)
        monkeypatch.setattr("curecal.planning.comparison.what_if.what_helps", lambda *_, **__: ())
        monkeypatch.delenv("CURECAL_COMPANY", raising=False)
        monkeypatch.delenv("NO_COLOR", raising=False)

    def _read(self, path: Path, **asked: Any) -> SimpleNamespace:
        self.asked |= {"path": path, **asked}
        made = self.plan.job if self.readable else None
        raw = {"zone": [{"name": "hall bath"}]}
        return SimpleNamespace(job=made, log=(), findings=self.findings, raw=raw)

    def _plan(self, _job: object, _log: object, as_of: datetime, **asked: Any) -> Plan:
        self.asked |= {"as_of": as_of, **asked}
        return self.plan


@pytest.fixture
def stage(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Stage:
    # What is published is recorded beside the job file.
    monkeypatch.chdir(tmp_path)
    return Stage(monkeypatch)


@freeze_time("2026-12-02T20:00:00Z")
def test_the_first_line_is_the_answer(stage: Stage, capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["plan", "job.toml"]) == 0
    said = capsys.readouterr()
    assert said.out.startswith(
        "No: not before Tue 5 Jan (owner: Mon 11 Jan). The thinset is still to be laid.\n"
    )
    assert said.err == ""
    assert "\x1b" not in said.out
    assert stage.asked["path"] == Path("job.toml")
    assert stage.asked["as_of"] == datetime(2026, 12, 2, 20, tzinfo=UTC)
    assert stage.asked["clock"](UTC) == stage.asked["as_of"]


def test_what_was_asked_reaches_reading_and_planning(
    stage: Stage, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CURECAL_COMPANY", "env.toml")
    options = ["--as-of", "2026-12-02 16:00", "--log", "a.toml", "--log", "b.toml"]
    shown = ["--units", "metric", "--width", "60", "--full"]
    assert code_of_run(["plan", "job.toml", *options, *shown, "--company", "c.toml"]) == 0
    assert stage.asked["as_of"] == datetime(2026, 12, 2, 20, 0, tzinfo=UTC)
    assert stage.asked["extra_log"] == (Path("a.toml"), Path("b.toml"))
    assert stage.asked["company"] == Path("c.toml")
    said = capsys.readouterr().out
    assert "29 °C (84 °F)" in said
    assert max(len(line) for line in said.splitlines()) <= 60
    assert code_of_run(["plan", "job.toml"]) == 0
    assert stage.asked["company"] == Path("env.toml")


def test_the_day_off_of_the_job_is_handed_on(stage: Stage) -> None:
    assert code_of_run(["plan", "job.toml"]) == 0
    assert stage.asked["day_off"](date(2027, 1, 2)) == "weekend"
    assert stage.asked["rules"] is RULES


@pytest.mark.usefixtures("stage")
def test_json_is_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["plan", "job.toml", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["zones"][0]["state"] == "curing"
    assert found["curecal"] == "0.1.0"


def test_a_file_that_is_not_understood_shows_its_findings_and_nothing_else(
    stage: Stage, capsys: pytest.CaptureFixture[str]
) -> None:
    stage.readable = False
    stage.findings = (ERROR,)
    assert code_of_run(["plan", "job.toml"]) == 1
    said = capsys.readouterr()
    assert said.out.startswith("The job file has a mistake, so nothing was computed. One thing")
    assert 'error: zone "hall bath", layer 2: the x is finished' in said.out
    assert "Always" not in said.out
    assert said.err == ""
    assert code_of_run(["plan", "job.toml", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == 1
    assert list(found) == ["schema", "findings"]
    assert found["findings"][0]["code"] == "done-differs"
    assert code_of_run(["explain", "job.toml"]) == 1
    assert capsys.readouterr().out.startswith("The job file has")


def test_a_stop_ends_in_one_and_is_told(stage: Stage, capsys: pytest.CaptureFixture[str]) -> None:
    stage.plan = plan(zone(State.NO_DATE), findings=FINDINGS)
    assert code_of_run(["plan", "job.toml", "--require", "date"]) == 1
    assert "STOP" in capsys.readouterr().out
    assert code_of_run(["explain", "job.toml"]) == 1


@pytest.mark.parametrize(
    ("state", "require", "code"),
    [
        (State.CURING, "date", 0),
        (State.CURING, "clear", 5),
        (State.ON_HOLD, "clear", 5),
        (State.CLEAR, "clear", 0),
        (State.RELEASED, "clear", 0),
        (State.IN_SERVICE, "date", 0),
        (State.NO_DATE, "date", 4),
        (State.NO_DATE, "clear", 5),
    ],
)
def test_require(
    stage: Stage, capsys: pytest.CaptureFixture[str], state: State, require: str, code: int
) -> None:
    stage.plan = plan(zone(state))
    assert code_of_run(["plan", "job.toml", "--require", require]) == code
    said = capsys.readouterr()
    assert said.out.splitlines()[0]
    assert bool(said.err) == bool(code)
    if code:
        assert said.err.startswith('curecal: Zone "hall bath" ')


@pytest.mark.parametrize(("require", "code"), [("date", 4), ("clear", 5)])
def test_require_of_a_job_without_zones(stage: Stage, require: str, code: int) -> None:
    stage.plan = replace(plan(), zones=())
    assert code_of_run(["plan", "job.toml", "--require", require]) == code


@pytest.mark.usefixtures("stage")
@pytest.mark.parametrize("as_json", [False, True])
def test_calendars_are_written_and_said_after_the_answer(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], *, as_json: bool
) -> None:
    folder = tmp_path / "out"
    more = ["--json"] if as_json else []
    asked = ["plan", "job.toml", "--calendars", str(folder), "--as-of", "2026-12-02 16:00", *more]
    assert code_of_run(asked) == 0
    said = capsys.readouterr()
    assert sorted(path.name for path in folder.glob("*.ics")) == NAMES
    assert str(folder / "crew.ics")[:40] in (said.err if as_json else said.out)
    assert " new" in (said.err if as_json else said.out)
    # The answer stays the first thing said, and machine output one document.
    assert said.out.startswith("{" if as_json else "No: not before Tue 5 Jan")
    if as_json:
        json.loads(said.out)


@pytest.mark.usefixtures("stage")
def test_a_stop_is_published_and_ends_in_one(
    stage: Stage, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stage.plan = plan(zone(State.NO_DATE), findings=FINDINGS)
    asked = ["plan", "job.toml", "--calendars", str(tmp_path), "--as-of", "2026-12-02 16:00"]
    assert code_of_run(asked) == 1
    assert "STOP" in capsys.readouterr().out
    assert b"X-CURECAL-KEEPS-OFF" in (tmp_path / "owner.ics").read_bytes()


@pytest.mark.usefixtures("stage")
def test_explain_one_layer_and_one_there_is_not(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["explain", "job.toml"]) == 0
    assert "Only time." in capsys.readouterr().out
    assert code_of_run(["explain", "job.toml", "thinset"]) == 0
    assert capsys.readouterr().out.startswith("hall bath\n")
    assert code_of_run(["explain", "job.toml", "parquet"]) == 2
    assert 'There is no layer "parquet".' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("2026-12-02T20:00:00Z", "2026-12-02T20:00:00+00:00"),
        ("2026-12-02T16:00-04:00", "2026-12-02T20:00:00+00:00"),
        ("2026-12-02 16:00", "2026-12-02T20:00:00+00:00"),
        ("2026-12-02", "2026-12-03T04:00:00+00:00"),
        ("2026-12-2", "2026-12-03T04:00:00+00:00"),
        ("2026-12-2  9:05", "2026-12-02T13:05:00+00:00"),
        ("2 Dec 2026 16:00", "2026-12-02T20:00:00+00:00"),
        ("2 December 2026 16:00", "2026-12-02T20:00:00+00:00"),
        ("Wed 2 Dec 2026, 16:00", "2026-12-02T20:00:00+00:00"),
        ("Dec 2, 2026 16:00", "2026-12-02T20:00:00+00:00"),
        ("2 dec 2026 09:05", "2026-12-02T13:05:00+00:00"),
        ("Dec 2, 2026", "2026-12-03T04:00:00+00:00"),
        ("December 2, 2026 16:00", "2026-12-02T20:00:00+00:00"),
    ],
)
def test_instants_people_type(text: str, said: str) -> None:
    assert instant_asked(text, TZ).isoformat() == said


@pytest.mark.parametrize(
    "text", ["", "lunch", "2026-13-02", "2 Dec 26", "now " * 50, "foo 2 Dec 2026 16:00"]
)
def test_what_is_no_instant_is_refused(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        instant_asked(text, TZ)
    assert caught.value.code == "as-of-unreadable"
    assert len(str(caught.value.params["text"])) <= 60


@pytest.mark.parametrize(
    "text", ["1926-12-02", "0001-01-01", "2101-01-01T00:00Z", "2 Dec 1926 16:00"]
)
def test_a_year_no_job_is_in_is_a_typing_mistake(text: str) -> None:
    with pytest.raises(UsageError) as caught:
        instant_asked(text, TZ)
    said = plain_words().error(caught.value)
    assert said == f'"{text}" is not between 2000 and 2100. Check the year.'


@pytest.mark.parametrize(
    ("text", "code", "first"),
    [
        ("2027-03-14 02:30", "instant-gap", "2027-03-14 03:00-03:00"),
        ("14 Mar 2027 2:30", "instant-gap", "2027-03-14 03:00-03:00"),
        ("2026-11-01 01:30", "instant-fold", "2026-11-01 01:30-03:00"),
    ],
)
def test_a_time_the_clock_skips_or_shows_twice_is_refused(text: str, code: str, first: str) -> None:
    with pytest.raises(UsageError) as caught:
        instant_asked(text, TZ)
    assert caught.value.code == code
    assert caught.value.params["first"] == first


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            "02/03/2026",
            (
                '"02/03/2026" is not clear: it could be Tue 3 Feb 2026 or Mon 2 Mar 2026. Write the'
                ' one you mean, like "2026-02-03".'
            ),
        ),
        (
            "16/12/2026 9:00",
            (
                '"16/12/2026 9:00" is not clear: it could be Wed 16 Dec 2026. Write the one you'
                ' mean, like "2026-12-16".'
            ),
        ),
        (
            "Mon 2 Dec 2026, 16:00",
            (
                '"Mon 2 Dec 2026, 16:00" is not clear: it could be Wed 2 Dec 2026, 16:00 or'
                ' Mon 30 Nov 2026, 16:00. Write the one you mean, like "2026-12-02 16:00".'
            ),
        ),
    ],
)
def test_what_is_not_clear_is_refused_with_what_it_could_be(text: str, said: str) -> None:
    with pytest.raises(UsageError) as caught:
        instant_asked(text, TZ)
    assert plain_words().error(caught.value) == said


@freeze_time("2026-11-01T05:30:20Z")
def test_now_is_now_also_in_the_hour_that_comes_twice() -> None:
    # 01:30 in New York, the second time an hour later (clocks go back on 1 November 2026).
    new_york = ZoneInfo("America/New_York")
    assert instant_asked("now", new_york) == datetime(2026, 11, 1, 5, 30, 20, tzinfo=UTC)


@freeze_time("2026-12-05T14:30:00Z")
@pytest.mark.parametrize(
    ("text", "toward", "said"),
    [
        ("Tue 9:00", Toward.AHEAD, "2026-12-08T13:00:00+00:00"),
        ("Tue 9:00", Toward.PAST, "2026-12-01T13:00:00+00:00"),
        ("this morning", Toward.PAST, "2026-12-05T14:30:00+00:00"),
    ],
)
def test_words_are_read_in_the_sites_time(text: str, toward: Toward, said: str) -> None:
    assert instant_asked(text, TZ, toward).isoformat() == said


LINES = [(TextRun("No.", "bad"), TextRun(" ", "bad"), TextRun("why", "")), ()]


def test_a_pipe_gets_plain_text(capsys: pytest.CaptureFixture[str]) -> None:
    print_lines(LINES)
    assert capsys.readouterr().out == "No. why\n\n"
    assert width_of(None) == 80
    assert width_of(55) == 55


@pytest.mark.parametrize("no_color", [False, True])
def test_a_terminal_gets_color_unless_it_wants_none(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *, no_color: bool
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.delenv("NO_COLOR", raising=False)
    if no_color:
        monkeypatch.setenv("NO_COLOR", "1")
    print_lines(LINES)
    said = capsys.readouterr().out
    assert ("\x1b[31m" in said) is not no_color
    assert "No." in said


@pytest.mark.parametrize(("terminal", "width"), [(30, 40), (100, 100), (400, 120)])
def test_the_width_of_a_terminal(
    monkeypatch: pytest.MonkeyPatch, terminal: int, width: int
) -> None:
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", str(terminal))
    assert width_of(None) == width


def test_a_value_json_does_not_know_is_an_error() -> None:
    with pytest.raises(ValueError, match="JSON"):
        common.print_json({"a": float("nan")})


def test_days_off() -> None:
    made = job(zone())
    plain = day_off_for(made)
    assert plain(date(2027, 1, 1)) is None
    assert plain(date(2027, 1, 3)) == "weekend"
    work = Work(holidays="CA-NS", days_off=(date(2026, 12, 24),))
    region = day_off_for(replace(made, work=work))
    assert region(date(2026, 12, 24)) == "day off"
    assert region(date(2027, 1, 1))
    assert region(date(2027, 1, 4)) is None
    country = day_off_for(replace(made, work=Work(holidays="CA")))
    assert country(date(2026, 12, 25))
    for unknown in ("XX", "CA-XX"):
        with pytest.raises(SourceError, match="holidays-unknown"):
            day_off_for(replace(made, work=Work(holidays=unknown)))(date(2027, 1, 4))


def test_holidays_are_not_loaded_before_a_weekday_is_asked_about() -> None:
    script = """
import sys
from datetime import date
from types import SimpleNamespace
from curecal.job_files.days_off import day_off_for
from curecal.trade.job import Work
day_off = day_off_for(SimpleNamespace(work=Work(holidays="CA-NS")))
assert day_off(date(2027, 1, 2)) == "weekend"
assert "holidays" not in sys.modules
assert day_off(date(2027, 1, 4)) is None
assert "holidays" in sys.modules
"""
    root = Path(__file__).parents[4]
    subprocess.run([sys.executable, "-c", script], cwd=root, check=True)
