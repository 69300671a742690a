"""What people tripped over when they noted something: nothing said, no such picture, today."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from note_samples import Site


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


def test_a_note_that_says_nothing_is_not_written(site: Site) -> None:
    before = site.text
    site.run("note job.toml note", code=2)
    assert "A note without a text says nothing." in site.err
    assert site.text == before
    site.run('note job.toml note --note "the door was open"')
    assert "the door was open" in site.text


def test_a_picture_that_is_not_there_is_asked_for_without_a_dot_for_a_folder(site: Site) -> None:
    site.run("note job.toml photo file=nix.jpg", code=2)
    assert 'There is no file "nix.jpg". Put it there first, or check its name.' in site.err


@freeze_time("2026-10-09T15:00:20Z")  # 12:00:20 at the site
@pytest.mark.parametrize("day", ["today", "2026-10-09", "9 Oct"])
def test_done_today_without_an_hour_is_done_by_now(site: Site, day: str) -> None:
    site.run(f'note job.toml inspection result=passed --zone hall --at "{day}"')
    (row,) = tomli.loads(site.text)["log"]
    assert row["at"].isoformat() == "2026-10-09T12:00:20-03:00"


@freeze_time("2026-10-09T15:00:20Z")
def test_the_end_of_today_typed_with_its_hour_is_still_ahead(site: Site) -> None:
    site.run('note job.toml inspection result=passed --zone hall --at "2026-10-10 00:00"', code=2)
    assert "is still ahead" in site.err


@pytest.mark.parametrize("now", ["2026-10-10T03:00:00Z", "2026-10-10T15:00:00Z"])  # midnight, noon
@pytest.mark.parametrize("day", ["yesterday", "2026-10-09", "Fri"])
@pytest.mark.parametrize("kind", ["air", "surface", "floor"])
def test_a_temperature_of_a_day_gone_by_wants_its_hour(
    site: Site, now: str, day: str, kind: str
) -> None:
    before = site.text
    with freeze_time(now):
        site.run(f'note job.toml {kind} "{kind}=20 °C" --zone hall --at "{day}"', code=2)
        assert "At what time on Fri 9 Oct 2026?" in site.err
        assert f'--at "{day} 17:00"' in site.err
        assert site.text == before
        site.run(f'note job.toml {kind} "{kind}=20 °C" --zone hall --at "{day} 17:00"')
    (row,) = tomli.loads(site.text)["log"]
    assert row["at"].isoformat() == "2026-10-09T17:00:00-03:00"


@freeze_time("2026-10-10T03:00:00Z")  # midnight at the site
@pytest.mark.parametrize("said", ["now", "today", "today 12 am", "2026-10-10 00:00"])
def test_a_temperature_at_midnight_is_one_of_that_instant(site: Site, said: str) -> None:
    site.run(f'note job.toml air "air=20 °C" --zone hall --at "{said}"')
    (row,) = tomli.loads(site.text)["log"]
    assert row["at"].isoformat() == "2026-10-10T00:00:00-03:00"


@freeze_time("2026-10-10T15:00:00Z")
def test_what_was_done_on_a_day_gone_by_stays_on_that_day(site: Site) -> None:
    site.run("note job.toml inspection result=passed --zone hall --at yesterday")
    (row,) = tomli.loads(site.text)["log"]
    assert row["at"].isoformat() == "2026-10-09T23:59:00-03:00"
