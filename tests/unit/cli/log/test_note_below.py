"""`note done` above a layer that nobody noted: the question is asked with it, and both are kept."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import pytest
import tomli
from freezegun import freeze_time
from note_samples import Site

from curecal.cli.main import code_of_run
from curecal.cli.readings import ask_readings

JOB = """
[job]
id = "hall"
name = "hall"
timezone = "America/Halifax"
[expected]
air = "20 °C"
below = "heated room"
[people.crew]
name = "Robin Mistral"
[[zone]]
name = "hall"
[[zone.layer]]
name = "leveler"
material = "leveler"
thickness = "6 mm"
[[zone.layer]]
name = "window thinset"
material = "thinset"
part = "window side"
[[zone.layer]]
name = "door thinset"
material = "thinset"
part = "door side"
[[zone.layer]]
name = "grout"
material = "cement grout"
"""
NOW = "2026-12-05T20:00:00Z"  # 16:00 at the site
DONE = 'note job.toml done layer=grout --at "2026-12-05 15:00" --by "Robin Mistral"'


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    made = Site(tmp_path, monkeypatch, capsys)
    made.path.write_text(JOB, encoding="utf-8")
    return made


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return a list that the answers of a person at a terminal are taken from, in order."""
    given: list[str] = []

    def prompt(_text: str, **more: Any) -> object:
        return more["value_proc"](given.pop(0))

    monkeypatch.setattr(ask_readings, "on_terminal", lambda: True)
    monkeypatch.setattr(click, "prompt", prompt)
    return given


def rows(site: Site) -> list[tuple[str, datetime, bool]]:
    return [
        (row["layer"], row["at"].astimezone(UTC), row.get("sure", False))
        for row in tomli.loads(site.text).get("log", [])
    ]


def halifax(day: int, hour: int) -> datetime:
    return datetime(2026, 12, day, hour + 4, tzinfo=UTC)


@freeze_time(NOW)
def test_a_script_says_when_each_layer_below_was_finished(site: Site) -> None:
    said = site.run(
        f'{DONE} --below "leveler=2026-12-01 15:00" --below "Window  Thinset=2026-12-03 12:00" '
        '--below "door thinset=2026-12-04 11:00"'
    )
    # From the bottom up, so that the log reads as the floor was built.
    assert rows(site) == [
        ("leveler", halifax(1, 15), False),
        ("window-thinset", halifax(3, 12), False),
        ("door-thinset", halifax(4, 11), False),
        ("grout", halifax(5, 15), False),
    ]
    assert said.count("Added to job.toml as ") == 4
    log = tomli.loads(site.text)["log"]
    assert {row["by"] for row in log} == {"Robin Mistral"}
    assert len({row["recorded"] for row in log}) == 1


@freeze_time(NOW)
def test_at_a_terminal_it_is_asked_and_nobody_knows_counts_from_the_layer_on_top(
    site: Site, answers: list[str]
) -> None:
    answers += ["2026-12-04 11:00", "", "2026-12-01"]
    site.run(DONE)
    assert rows(site) == [
        # A day without an hour counts from its end: Halifax is four hours behind in winter.
        ("leveler", datetime(2026, 12, 2, 4, tzinfo=UTC), False),
        ("door-thinset", halifax(4, 11), False),
        # Not from the other side's fourth of December: only the grout lies on this one.
        ("window-thinset", halifax(5, 15), True),
        ("grout", halifax(5, 15), False),
    ]
    assert answers == []
    log = tomli.loads(site.text)["log"]
    assert log[2]["note"] == "Nobody knows when it was finished: counted from when the grout was."


@freeze_time(NOW)
def test_unknown_counts_from_the_nearest_layer_that_lies_on_it(site: Site) -> None:
    site.run(
        f'{DONE} --below "door thinset=2026-12-04 11:00" --below "window thinset=2026-12-03 12:00" '
        "--below leveler=unknown"
    )
    assert rows(site)[0] == ("leveler", halifax(3, 12), True)


@freeze_time(NOW)
def test_a_layer_finished_today_was_finished_before_the_one_on_it(site: Site) -> None:
    given = '--below "window thinset=2026-12-05" --below "door thinset=2026-12-05"'
    site.run(f'{DONE} {given} --below "leveler=2026-12-01 15:00"')
    assert [at for _, at, _ in rows(site)[1:3]] == [halifax(5, 15)] * 2


@freeze_time(NOW)
@pytest.mark.parametrize(
    ("more", "code", "says"),
    [
        ("", 1, "when was the door thinset under it finished"),
        ('--below "door thinset=unknown"', 1, "when was the window thinset under it finished"),
        ('--below "door thinset=2026-12-06 11:00" --below leveler=unknown', 2, "still ahead"),
        ('--below "door thinset=soon"', 2, '"soon" is not a date and time I can read'),
        ("--below thinset", 2, 'cannot read --below "thinset"'),
        ("--below leveler=unknown --below leveler=2026-12-01", 2, "cannot read --below"),
        (
            (
                '--below "door thinset=2026-12-05 15:30" --below leveler=unknown '
                '--below "window thinset=unknown"'
            ),
            1,
            "before the door thinset below it",
        ),
    ],
)
def test_nothing_is_written_while_something_is_not_told(
    site: Site, more: str, code: int, says: str
) -> None:
    said = site.run(f"{DONE} {more}", code)
    assert says in " ".join((said + site.err).split())
    assert site.text == JOB


@freeze_time(NOW)
def test_a_finish_below_that_nobody_asked_for_is_refused(site: Site) -> None:
    site.run("note job.toml done layer=leveler --below grout=unknown", 2)
    assert '--below "grout"' in site.err
    site.run('note job.toml air "air=20 °C" --below leveler=unknown', 2)
    assert '--below "leveler"' in site.err
    assert site.text == JOB


@freeze_time(NOW)
def test_a_finish_by_night_below_is_asked_about_and_anyway_says_that_it_is_right(
    site: Site,
) -> None:
    given = '--below "door thinset=unknown" --below "window thinset=unknown"'
    line = f'{DONE} {given} --below "leveler=2026-12-01 23:30"'
    said = site.run(line, 1)
    assert "by night" in " ".join(said.split())
    assert site.text == JOB
    site.run(f"{line} --anyway")
    assert rows(site)[0] == ("leveler", datetime(2026, 12, 2, 3, 30, tzinfo=UTC), True)


@freeze_time(NOW)
def test_a_program_reads_all_that_was_written(site: Site) -> None:
    given = '--below "door thinset=unknown" --below "window thinset=unknown"'
    made = site.json(f"{DONE} {given} --below leveler=unknown")
    assert [one["keys"]["layer"] for one in made["below"]] == [
        "leveler",
        "window-thinset",
        "door-thinset",
    ]
    assert made["entry"]["keys"]["layer"] == "grout"


@freeze_time(NOW)
def test_a_program_is_not_asked(site: Site, answers: list[str]) -> None:
    refused = site.json(DONE, 1)
    assert [one["code"] for one in refused["findings"]] == ["when-below-finished"]
    assert answers == []


@freeze_time(NOW)
def test_an_answer_that_is_no_instant_is_asked_again(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused: list[str] = []

    def prompt(_text: str, **more: Any) -> object:
        with pytest.raises(click.UsageError) as caught:
            more["value_proc"]("soonish")
        refused.append(str(caught.value))
        return more["value_proc"]("unknown")

    monkeypatch.setattr(ask_readings, "on_terminal", lambda: True)
    monkeypatch.setattr(click, "prompt", prompt)
    site.run(DONE)
    assert len(refused) == 3
    assert all('"soonish" is not a date and time I can read' in text for text in refused)


@freeze_time(NOW)
def test_a_job_of_the_book_takes_both_in_one_go(
    site: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(tmp_path / "book.sqlite"))
    assert code_of_run(["book", "add", str(site.path)]) == 0
    given = '--below "door thinset=unknown" --below "window thinset=unknown"'
    said = site.run(f"{DONE.replace('job.toml', 'hall')} {given} --below leveler=2026-12-01")
    assert said.count("Added to hall as ") == 4
    capsys.readouterr()
    assert len(site.json("log hall")["entries"]) == 4
    assert site.text == JOB
