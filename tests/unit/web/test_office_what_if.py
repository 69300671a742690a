"""What if, on the office's page: what the command answers, and nothing is written."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from office_samples import BATH, BATH_FILE, OfficeSite, words_of

from curecal.book.jobs.kept_answers import job_stamp

OPEN = BATH_FILE.read_text(encoding="utf-8")


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    return found


def test_what_usually_helps_is_tried(site: OfficeSite) -> None:
    said = words_of(site.get(f"/job/{BATH}/what-if"))
    assert "as it is Thu 3 Dec Mon 7 Dec" in said
    assert "work on Mon-Sat" in said
    assert "air 70 °F" in said


def test_a_warmer_room_brings_the_day_nearer(site: OfficeSite) -> None:
    said = words_of(site.get(f"/job/{BATH}/what-if?air=75+°F"))
    # Nothing counts faster than rated by a fallback of 28 days: what is rated warm may gain.
    assert "air 75 °F" in said
    assert "counts only as long as it is kept that way" in said


def test_nothing_is_written(site: OfficeSite) -> None:
    with site.book.reading() as connection:
        before = job_stamp(connection, BATH)
    site.get(f"/job/{BATH}/what-if?air=75+°F&days=Mon-Sat")
    with site.book.reading() as connection:
        assert job_stamp(connection, BATH) == before


@pytest.mark.parametrize("asked", ["air=75", "air=900+°C", "humidity=wet"])
def test_what_cannot_be_is_refused(site: OfficeSite, asked: str) -> None:
    answer = site.get(f"/job/{BATH}/what-if?{asked}")
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def test_a_layer_still_to_lay_can_be_another_product(tmp_path: Path) -> None:
    site = OfficeSite(tmp_path)
    sealer = OPEN.index('[[zone.layer]]\nid = "sealer"')
    text = OPEN[:sealer] + OPEN[OPEN.index('[material."thinset') :]
    site.add(text.replace("done = 2026-11-02T15:00:00\n", ""))
    page = site.get(f"/job/{BATH}/what-if")
    assert 'name="material0"' in page.text
    late = (site.now + timedelta(days=20)).strftime("%Y-%m-%dT09:00")
    said = words_of(site.get(f"/job/{BATH}/what-if?start0={late}"))
    assert "later" in said
    past = site.get(f"/job/{BATH}/what-if?start0=2026-10-01T09:00")
    assert past.status_code == 422


def test_german_is_german(site: OfficeSite) -> None:
    said = words_of(site.get(f"/job/{BATH}/what-if", "de"))
    assert "wie es ist" in said
    assert "as it is" not in said
