"""A logger's file uploaded by the office: shown first, taken only once it was confirmed."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from office_samples import BATH, BATH_FILE, ORIGIN, OfficeSite, words_of

from curecal.book.jobs.book_overview import names_by_id
from curecal.book.jobs.jobs import read_in, series_of
from curecal.trade.site_log import Place, Series
from curecal.web.pages.office import logger_upload

if TYPE_CHECKING:
    from werkzeug.test import TestResponse

ROWS = [(f"2026-11-06 {hour:02}:00", 18.0 + hour / 10, 55) for hour in range(24)]
FILE = "Time;Temperature (°C);Humidity (%)\n" + "".join(
    f"{at};{warm:.1f};{damp}\n" for at, warm, damp in ROWS
)
_MARK = re.compile(r'name="upload" value="([0-9a-f]{32})"')


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    found.now += timedelta(days=1)
    return found


def upload(site: OfficeSite, text: str | bytes = FILE, **form: str) -> TestResponse:
    data = text.encode() if isinstance(text, str) else text
    parts = {**form, "file": (io.BytesIO(data), "hall.csv")}
    return site.client.post(
        f"/office/job/{BATH}/readings",
        data=parts,
        headers={**ORIGIN, "Accept-Language": form.get("language", "en")},
        content_type="multipart/form-data",
    )


def series(site: OfficeSite) -> list[Series]:
    with site.book.reading() as connection:
        read = read_in(connection, BATH)
    return [entry for entry in read.log if isinstance(entry, Series)]


def confirm(site: OfficeSite, mark: str, **form: str) -> TestResponse:
    return site.post(f"/job/{BATH}/readings", upload=mark, confirm="yes", **form)


def test_what_was_understood_is_shown_before_it_counts(site: OfficeSite) -> None:
    shown = upload(site)
    said = words_of(shown)
    assert "hall.csv: this is how it was understood" in said
    assert "None of it counts yet." in said
    assert "24 readings, 24 of them new to this job." in said
    # 18.0 to 20.3 °C, in the job's units.
    assert "64.4 °F to 68.5 °F" in said
    assert series(site) == []
    mark = _MARK.search(shown.text)
    assert mark is not None
    assert confirm(site, mark[1]).headers["Location"].endswith("/readings?added=24")
    (taken,) = series(site)
    assert len(taken.points) == 24
    assert (taken.place, taken.zone) == (Place.AIR, "hall")
    with site.book.reading() as connection:
        (name,) = series_of(connection, BATH)
    assert name.startswith("job.readings/")
    assert "24 new readings are in the job now." in words_of(
        site.get(f"/job/{BATH}/readings?added=24")
    )


def test_confirmed_twice_at_once_it_is_in_the_log_once(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    append, turns = logger_upload.append_entries, []
    mark = _MARK.search(upload(site).text)
    assert mark is not None

    def appended(*how: Any, **more: Any) -> Any:
        turns.append(how)
        if len(turns) == 1:
            again = confirm(site, mark[1])
            assert again.headers["Location"].endswith("/readings?added=24")
        return append(*how, **more)

    monkeypatch.setattr(logger_upload, "append_entries", appended)
    assert confirm(site, mark[1]).headers["Location"].endswith("/readings?added=24")
    # Whoever takes the entry back must not leave another one that still counts.
    assert len(series(site)) == 1


def test_a_sensor_that_came_in_meanwhile_is_in_the_log_once_and_the_other_one_too(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    head = "Time (UTC),Device,Temperature (°C),Humidity (%)\n"
    sensors = [
        "".join(f"{at}:00,{name},{warm:.1f},{damp}\n" for at, warm, damp in ROWS)
        for name in ("A-17", "B-22")
    ]
    alone, both = (
        _MARK.search(upload(site, head + rows).text) for rows in (sensors[0], "".join(sensors))
    )
    assert alone is not None
    assert both is not None
    append, turns = logger_upload.append_entries, []

    def appended(*how: Any, **more: Any) -> Any:
        turns.append(how)
        if len(turns) == 1:
            confirm(site, alone[1])
        return append(*how, **more)

    monkeypatch.setattr(logger_upload, "append_entries", appended)
    assert confirm(site, both[1]).headers["Location"].endswith("/readings?added=48")
    assert sorted(entry.device for entry in series(site)) == ["A-17", "B-22"]


def test_the_same_file_again_adds_nothing(site: OfficeSite) -> None:
    mark = _MARK.search(upload(site).text)
    assert mark is not None
    confirm(site, mark[1])
    again = upload(site)
    assert "24 readings, 0 of them new to this job." in words_of(again)
    assert 'value="yes"' not in again.text
    # A mark that was used is gone.
    assert confirm(site, mark[1]).status_code == 422
    assert len(series(site)) == 1


def test_what_the_file_leaves_open_is_asked(site: OfficeSite) -> None:
    bare = FILE.replace("Temperature (°C)", "Temperature")
    asked = upload(site, bare)
    assert asked.status_code == 422
    assert "does not say whether its temperatures are °C or °F" in words_of(asked)
    mark = _MARK.search(asked.text)
    assert mark is not None
    shown = site.post(f"/job/{BATH}/readings", upload=mark[1], unit="C")
    assert shown.status_code == 200
    assert "°C, as you say" in words_of(shown)
    assert series(site) == []


@pytest.mark.parametrize(
    "data", [b"", b"no table at all", b"\x00\xff\x00" * 50, b"PK\x03\x04 junk"]
)
def test_what_is_no_loggers_file_is_refused(site: OfficeSite, data: bytes) -> None:
    answer = upload(site, data)
    assert answer.status_code == 422
    assert series(site) == []


def test_of_an_oven_nothing_is_taken(site: OfficeSite) -> None:
    hot = FILE.replace(";18.", ";88.").replace(";19.", ";89.").replace(";20.", ";90.")
    answer = upload(site, hot)
    assert 'value="yes"' not in answer.text
    assert series(site) == []


def test_nobody_takes_what_somebody_else_sent(site: OfficeSite) -> None:
    mark = _MARK.search(upload(site).text)
    assert mark is not None
    kept = site.serving.uploads
    assert kept.find(mark[1], BATH, "l-00000000") is None
    assert kept.find(mark[1], "another-job", "l-00000000") is None


def test_only_a_few_files_wait(site: OfficeSite) -> None:
    marks = [site.serving.uploads.keep(BATH, "l-1", "a.csv", b"x") for _ in range(9)]
    assert site.serving.uploads.find(marks[0], BATH, "l-1") is None
    assert site.serving.uploads.find(marks[-1], BATH, "l-1") is not None


def test_german_says_it_in_german(site: OfficeSite) -> None:
    said = words_of(upload(site, language="de"))
    assert "so wurde die Datei verstanden" in said
    assert "as the header says" not in said
    assert "laut Kopfzeile" in said


def test_two_floors_are_told_apart(tmp_path: Path) -> None:
    site = OfficeSite(tmp_path)
    site.now += timedelta(days=30)
    kitchen = BATH_FILE.parents[1] / "kitchen-two-zones" / "job.toml"
    site.add(kitchen.read_text(encoding="utf-8"))
    with site.book.reading() as connection:
        (job_id,) = names_by_id(connection)
    assert site.get(f"/job/{job_id}/readings").text.count('name="zone"') == 2
