"""A cold place read in the wrong unit is no hot place: job, log, note and logger refuse it alike.

51 °F is 10.6 °C, and 51 °C is no room's; the span of -40 to 45 °C is the project's own choice.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from append_samples import open_folder
from logger_samples import FOLDER, laid, utc
from note_samples import Site
from test_add_to_job import correct, found, put, series
from test_readings_command import Said, job, run

from curecal.errors import SourceError
from curecal.job_files import read_job
from curecal.toml_files.spans import UNHEATED_C, median_c, refuse_hot

__all__ = ["job", "open_folder", "run"]
HEAD = "Time (UTC),Temperature"


@pytest.fixture
def site(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Site:
    return Site(tmp_path, monkeypatch, capsys)


def rows(*figures: float) -> str:
    """A file without unit, a reading every half hour."""
    lines = [
        f"2026-11-13 {20 + i // 2 % 4:02d}:{30 * (i % 2):02d}:00,{figure}"
        for i, figure in enumerate(figures)
    ]
    return "\n".join([HEAD, *lines]) + "\n"


def files_beside(job: Path) -> list[str]:
    return sorted(path.name for path in job.parent.rglob("*"))


# ---- a logger's file --------------------------------------------------------------------------


@pytest.mark.parametrize("place", [[], ["--surface"], ["--floor"]])
def test_a_porch_of_51_f_is_not_added_as_51_c(
    run, job: Path, tmp_path: Path, place: list[str]
) -> None:
    porch = laid(tmp_path, rows(*(51.0 + 0.1 * (i % 3) for i in range(8))), "porch.csv")
    before = (job.read_bytes(), files_beside(job))
    said: Said = run(porch, "--unit", "C", "--into", job, *place)
    assert said.code == 3
    assert "no room and no unheated floor is hotter than" in " ".join(said.err.split())
    assert "--unit F" in said.err
    assert "Added" not in said.out
    assert (job.read_bytes(), files_beside(job)) == before
    assert run(porch, "--unit", "F", "--into", job, *place).code == 0
    (entry,) = series(job)
    assert entry.points[0][1] == pytest.approx((51 - 32) / 1.8, abs=1e-5)


def test_it_is_refused_where_no_job_is_named_too(run, tmp_path: Path) -> None:
    porch = laid(tmp_path, rows(*[51.0] * 8), "porch.csv")
    said = run(porch, "--unit", "C")
    assert (said.code, said.out) == (3, "")
    assert "--unit F" in said.err
    assert run(porch, "--unit", "F").code == 0


def test_the_part_of_a_file_that_counts_is_judged(run, job: Path, tmp_path: Path) -> None:
    van = laid(tmp_path, rows(48.0, 49.0, 50.0, 50.0, 47.0, 19.0, 19.1, 19.0), "van.csv")
    assert run(van, "--unit", "C", "--into", job).code == 3
    late = run(van, "--unit", "C", "--into", job, "--from", "2026-11-13T22:30:00Z")
    assert late.code == 0
    assert found(read_job(job)) == []
    assert [warm for _, warm, _ in series(job)[0].points] == [19.0, 19.1, 19.0]


def test_single_hot_rows_are_left_to_the_rule_for_sudden_changes(job: Path, tmp_path: Path) -> None:
    van = laid(
        tmp_path,
        rows(50.0, 48.0, 19.0, 19.1, 19.0, 19.2, 19.1, 19.0).replace("ture", "ture (°C)", 1),
    )
    assert put(job, van).new == 8
    assert put(job, FOLDER / "warm_van.csv").new == 90
    assert [code for _, code in found(read_job(job)) if code == "readings-no-room"] == []


def test_hot_readings_that_a_job_holds_already_are_an_error(job: Path, tmp_path: Path) -> None:
    names = (19.0, 19.1, 19.0, 50.0, 50.5, 51.0, 19.0, 19.0)
    van = laid(tmp_path, rows(*names).replace("ture", "ture (°C)", 1))
    added = put(job, van)
    assert added.id is not None
    start, end = utc("2026-11-13T21:30:00"), utc("2026-11-13T22:30:00")
    # The correction leaves three readings, and all of them are of the van.
    last = correct(job, added.id, **{"from": start, "until": end})
    assert ("error", "readings-no-room") in found(read_job(job))
    correct(job, last, withdrawn=True)
    assert ("error", "readings-no-room") not in found(read_job(job))


def test_the_median_of_many_readings_is_that_of_a_part_of_them() -> None:
    assert median_c([]) is None
    assert median_c([1.0, 3.0]) == 3.0
    assert median_c([10.0] * 30_000 + [60.0] * 20_000) == 10.0


@pytest.mark.parametrize("usual_c", [45.1, 51.0, 85.0, -40.1])
def test_a_usual_temperature_outside_the_span_is_refused(usual_c: float) -> None:
    with pytest.raises(SourceError, match="readings-no-room") as refused:
        refuse_hot("porch", [usual_c] * 3 + [19.0])
    assert refused.value.params["usual_c"] == usual_c


@pytest.mark.parametrize("usual_c", [*UNHEATED_C, 19.0])
def test_a_usual_temperature_inside_it_is_not(usual_c: float) -> None:
    refuse_hot("porch", [usual_c, usual_c, 60.0])
    refuse_hot("porch", [])


# ---- a single look ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "said", "code"),
    [
        ("air", '"air=51 C"', "a room cannot be at"),
        ("air", '"low=51 °C"', "a room cannot be at"),
        ("surface", '"surface=51 C"', "a room cannot be at"),
        ("surface", '"surface=55 °F" "low=51 C"', "a room cannot be at"),
        ("floor", '"floor=51 C" heating=off', "an unheated floor cannot be at"),
        ("floor", '"floor=51 C"', "an unheated floor cannot be at"),
        ("floor", '"floor=55 °F" "low=51 C" heating=off', "a room cannot be at"),
        (
            "kept",
            '"above=51 C" "from=2026-10-05 08:00" "to=2026-10-06 07:00"',
            "a room cannot be at",
        ),
    ],
)
def test_a_look_at_51_c_is_refused_with_the_other_unit(
    site: Site, kind: str, said: str, code: str
) -> None:
    before = site.text
    line = f'note job.toml {kind} {said} --zone hall --at "2026-10-06 07:30"'
    told = " ".join(site.run(line, code=1).split())
    assert code in told
    assert "(-40 °C to 45 °C)" in told
    assert "Did you mean" in told
    assert site.text == before
    # What is offered is accepted when it is typed.
    site.run(line.replace("51 C", "51 °F").replace("51 °C", "51 °F"))


def test_a_heated_floor_may_be_as_hot(site: Site) -> None:
    line = 'note job.toml floor "floor=51 C" heating=on --zone hall --at "2026-10-06 07:30"'
    # Written, and judged: it was on without a release.
    assert "Added to job.toml" in site.run(line)
    assert 'floor = "51 C"' in site.text


def test_a_heated_floor_is_no_hotter_than_any_is(site: Site) -> None:
    line = 'note job.toml floor "floor=66 C" heating=on --zone hall --at "2026-10-06 07:30"'
    assert "(-40 °C to 60 °C)" in " ".join(site.run(line, code=1).split())
