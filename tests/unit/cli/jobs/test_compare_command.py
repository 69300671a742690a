"""`curecal compare`: each change beside the same plan made by hand, refusals, and what is said."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from curecal.cli.main import code_of_run
from curecal.job_files import load_rules, read_job
from curecal.job_files.days_off import day_off_for
from curecal.planning.make_plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from curecal.trade.job import Job, Layer

EXAMPLES = Path(__file__).parents[4] / "examples"
RULES = load_rules()
AS_OF = datetime(2026, 11, 2, 7, tzinfo=UTC)
# Nothing is laid yet, so a plan made by hand may change what is expected from the beginning.
JOB = """
[job]
id = "heron-quay"
name = "Heron Quay, studio"
timezone = "UTC"
[expected]
air = "15 °C"
humidity = "60 %"
below = "heated room"
[[zone]]
name = "studio"
covering = "ceramic tile"
[[zone.layer]]
name = "slab"
material = "concrete"
existing = true
[[zone.layer]]
name = "base"
material = "leveler"
thickness = "5 mm"
[[zone.layer]]
name = "sheet"
material = "membrane"
[[zone.layer]]
name = "bed"
material = "thinset"
planned_start = 2026-11-23T08:00:00
[[zone.layer]]
name = "joints"
material = "cement grout"
duration = "4 h"
[material."bag in the shed"]
kind = "thinset"
data_sheet = "invented sheet, p. 2"
rapid = true
wait = { grout = "4 h", heat = "7 d" }
"""


def layers_changed(job: Job, change: Callable[[Layer], Layer]) -> Job:
    (zone,) = job.zones
    return replace(job, zones=(replace(zone, layers=tuple(map(change, zone.layers))),))


def of(name: str, **more: object) -> Callable[[Job], Job]:
    """Return the change of one layer."""

    def changed(job: Job) -> Job:
        return layers_changed(
            job,
            lambda layer: replace(layer, **more) if layer.name == name else layer,  # type: ignore[arg-type]
        )

    return changed


def expecting(**more: object) -> Callable[[Job], Job]:
    return lambda job: replace(job, expected=replace(job.expected, **more))  # type: ignore[arg-type]


def working(**more: object) -> Callable[[Job], Job]:
    return lambda job: replace(job, work=replace(job.work, **more))  # type: ignore[arg-type]


def swapped(job: Job) -> Job:
    (zone,) = job.zones
    slab, base, sheet, bed, joints = zone.layers
    return replace(job, zones=(replace(zone, layers=(slab, sheet, base, bed, joints)),))


def start(day: int, hour: int = 8) -> datetime:
    return datetime(2026, 11, day, hour, tzinfo=UTC)


BY_HAND: list[tuple[str, Callable[[Job], Job]]] = [
    ("air=20 °C", expecting(air_c=20.0)),
    ("humidity=40 %", expecting(humidity=0.4)),
    ("coldest=15 °C", expecting(coldest_c=15.0)),
    ("dampest=60 %", expecting(dampest=0.6)),
    ("bed=rapid thinset", of("bed", sheet=RULES.classes["rapid thinset"])),
    ("joints=epoxy grout", of("joints", sheet=RULES.classes["epoxy grout"])),
    ("base=rapid leveler", of("base", sheet=RULES.classes["rapid leveler"])),
    ("bed start=2026-11-12 08:00", of("bed", planned_start_at=start(12))),
    ("bed start=earliest", of("bed", planned_start_at=None)),
    ("days=Mon-Sat", working(days=frozenset(range(6)))),
    ("hours=06:00-20:00", working(start=time(6), end=time(20))),
    ("order=sheet, base, bed, joints", swapped),
]


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    path = tmp_path / "job.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


def compared(
    capsys: pytest.CaptureFixture[str], path: Path, *changes: str, as_of: str = "2026-11-02 07:00"
) -> dict[str, Any]:
    options = [word for change in changes for word in ("--with", change)]
    assert code_of_run(["compare", str(path), "--as-of", as_of, "--json", *options]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert found["schema"] == 1
    return found


def days_of(job: Job) -> tuple[str | None, str | None]:
    """Return the crew's and the owner's day of a job planned by hand."""
    plan = make_plan(job, (), AS_OF, rules=RULES, day_off=day_off_for(job))
    energize = plan.zones[0].energize
    start_on, owner_on = energize.start_on, energize.owner_date
    return start_on and start_on.isoformat(), owner_on and owner_on.isoformat()


def own(path: Path) -> Job:
    job = read_job(path).job
    assert job is not None
    return job


@pytest.mark.parametrize(("text", "by_hand"), BY_HAND)
def test_a_change_is_the_plan_of_the_changed_job(
    job_file: Path, capsys: pytest.CaptureFixture[str], text: str, by_hand: Callable[[Job], Job]
) -> None:
    found = compared(capsys, job_file, text)
    (now,), (change,) = found["now"], found["changes"]
    job = own(job_file)
    assert (now["start_on"], now["owner_date"]) == days_of(job)
    (zone,) = change["zones"]
    assert (zone["start_on"], zone["owner_date"]) == days_of(by_hand(job))
    if zone["start_on"] is None:
        assert zone["days_earlier"] is None
    else:
        first, then = (datetime.fromisoformat(one["start_on"]) for one in (now, zone))
        assert zone["days_earlier"] == (first - then).days
    assert found["together"] is None


def test_some_changes_of_the_table_gain_and_some_do_not(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gains = [
        compared(capsys, job_file, text)["changes"][0]["zones"][0]["days_earlier"]
        for text, _ in BY_HAND
    ]
    # Epoxy wants a warmer room than this one has.
    assert None in gains
    assert 0 in gains
    assert max(gain for gain in gains if gain is not None) > 5


def test_a_product_of_the_job_counts_by_its_own_sheet(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = compared(capsys, job_file, "BED = bag in the shed")
    named = JOB.replace('material = "thinset"', 'material = "bag in the shed"')
    job_file.write_text(named, encoding="utf-8")
    (zone,) = found["changes"][0]["zones"]
    assert (zone["start_on"], zone["owner_date"]) == days_of(own(job_file))


def test_all_together_is_the_plan_of_all_changes(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    texts = ("air=20 °C", "bed=rapid thinset", "bed start=earliest")
    found = compared(capsys, job_file, *texts)
    job = own(job_file)
    for text, by_hand in BY_HAND:
        job = by_hand(job) if text in texts else job
    (zone,) = found["together"]["zones"]
    assert (zone["start_on"], zone["owner_date"]) == days_of(job)
    totals = [
        sum(one["days_earlier"] + one["owner_days_earlier"] for one in change["zones"])
        for change in found["changes"]
    ]
    assert totals == sorted(totals, reverse=True)
    assert totals[0] > 0


def test_nobody_warms_the_past(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # Three weeks at 10 °C are behind the mortar: only what is left of the wait goes faster.
    laid = "[[zone.layer]]\nname = 'bed'\nmaterial = 'thinset'\ndone = 2026-11-02T12:00:00\n"
    head = JOB.partition("[[zone]]")[0].replace('"15 °C"', '"10 °C"')
    path = tmp_path / "job.toml"
    path.write_text(f'{head}[[zone]]\nname = "studio"\n{laid}', encoding="utf-8")
    late = compared(capsys, path, "air=20 °C", as_of="2026-11-23 12:00")
    early = compared(capsys, path, "air=20 °C", as_of="2026-11-02 13:00")
    (then,), (at_once,) = (found["changes"][0]["zones"] for found in (late, early))
    # From the first hour on 28 days at 20 °C, as the class has it: 30 November, 12:00.
    assert at_once["start_on"] == "2026-12-01"
    assert at_once["start_on"] < then["start_on"] < late["now"][0]["start_on"]


def test_without_a_change_what_usually_helps_is_tried(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = compared(capsys, job_file)
    said = [change["change"] for change in found["changes"]]
    assert sorted(said) == [
        "air = 20 °C",
        "base = rapid leveler",
        "bed = rapid thinset",
        "bed start = earliest",
        "coldest = 15 °C",
        "dampest = 60 %",
        "days = Mon-Sat",
        "joints = rapid grout",
    ]
    assert found["together"]["helps"]


def test_what_is_usual_fits_the_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # A warm room, work on all days but one, all of it rapid or laid, a name no command can say.
    path = tmp_path / "job.toml"
    text = JOB.replace('"15 °C"', '"22 °C"').replace('humidity = "60 %"\n', "")
    text = text.replace('name = "bed"', 'name = "bed=2"').replace(
        'material = "leveler"', 'material = "rapid leveler"'
    )
    text = text.replace("[[zone]]", '[work]\ndays = ["Mon", "Wed"]\n[[zone]]', 1)
    path.write_text(text, encoding="utf-8")
    said = [change["change"] for change in compared(capsys, path)["changes"]]
    assert sorted(said) == ["coldest = 22 °C", "days = Mon, Wed, Sat", "joints = rapid grout"]
    path.write_text(text.replace('["Mon", "Wed"]', '"Mon-Sun"'), encoding="utf-8")
    every_day = [change["change"] for change in compared(capsys, path)["changes"]]
    assert sorted(every_day) == ["coldest = 22 °C", "joints = rapid grout"]


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("warmer", '"warmer" is no change'),
        ("=20 °C", "is no change"),
        ("air=", "is no change"),
        ("air=20", "has no unit"),
        ("air=12 °C", None),
        ("coldest=19 °C", "warmer than the expected air"),
        ("bedd=rapid thinset", '"bed" is the nearest'),
        ("bed=rapid thinsett", "there is no material"),
        ("slab=thinset", "was there before this job"),
        ("joints start=2026-10-01", "that is past"),
        ("joints start=soon", "not a date and time"),
        ("order=bed, joints", "sheet"),
        ("order=base, base, sheet, bed, joints", "once"),
        ("order=joints, bed, sheet, base", "cannot be"),
        ("attic order=bed", 'no zone "attic"'),
        ("attic: bed=rapid thinset", "nothing that can be changed"),
        ("attic start=earliest", "nothing that can be changed"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(
    job_file: Path, capsys: pytest.CaptureFixture[str], text: str, why: str | None
) -> None:
    code = code_of_run(["compare", str(job_file), "--as-of", "2026-11-02 07:00", "--with", text])
    said = capsys.readouterr()
    if why is None:
        assert code == 0
        assert "later" in said.out
        return
    assert code == 2
    assert why in said.err
    assert said.out == ""


def test_what_is_laid_cannot_be_another(capsys: pytest.CaptureFixture[str]) -> None:
    path = EXAMPLES / "kitchen-two-zones" / "job.toml"
    words = ["compare", str(path), "--as-of", "2026-11-20 12:00", "--with"]
    assert code_of_run([*words, "primer=membrane"]) == 2
    assert "The primer was laid on 2026-11-16 09:00" in capsys.readouterr().err
    assert code_of_run([*words, "order=grout, tile mortar"]) == 2
    assert "kitchen, bay window" in capsys.readouterr().err


def test_a_change_may_name_its_zone(capsys: pytest.CaptureFixture[str]) -> None:
    path = EXAMPLES / "kitchen-two-zones" / "job.toml"
    (change,) = compared(capsys, path, "kitchen: grout=epoxy grout", as_of="2026-11-20 12:00")[
        "changes"
    ]
    kitchen, bay = change["zones"]
    assert kitchen["days_earlier"] > 0
    assert bay["days_earlier"] == 0


def shown(capsys: pytest.CaptureFixture[str], path: Path, *words: str) -> str:
    assert code_of_run(["compare", str(path), "--as-of", "2026-11-02 07:00", *words]) == 0
    text = capsys.readouterr().out
    assert all(len(line) <= 80 for line in text.splitlines())
    return text


def test_the_days_stand_side_by_side(job_file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = shown(capsys, job_file, "--with", "bed=rapid thinset", "--with", "dampest=60 %")
    assert text.startswith("What if: Heron Quay, studio. As of Mon 2 Nov, 07:00.\n")
    rows = [line.split("  ")[1] for line in text.splitlines() if line.startswith("  ")]
    assert [row.strip() for row in rows[:3]] == ["change", "as it is", "bed = rapid thinset"]
    assert "This moves no day:\n  - dampest = 60 %\n" in text
    assert "read its own data sheet." in text.replace("\n", " ")
    assert "Log the temperature to show it." in text.replace("\n", " ")


def test_two_changes_of_one_thing_are_not_put_together(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    changes = ("--with", "air=18 °C", "--with", "air=20 °C")
    text = shown(capsys, job_file, *changes)
    assert "Two of these change the same thing" in text
    assert "all together" not in text


def test_what_brings_nothing_forward_is_said(
    job_file: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = shown(capsys, job_file, "--with", "dampest=60 %")
    assert "None of this brings a day forward." in text


def test_a_file_with_mistakes_is_refused_as_plan_refuses_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "job.toml"
    path.write_text(JOB.replace('"15 °C"', '"15"'), encoding="utf-8")
    assert code_of_run(["compare", str(path)]) == 1
    assert "has no unit" in capsys.readouterr().out


def test_a_job_of_the_book_is_compared_by_its_id(
    job_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CURECAL_BOOK", str(job_file.parent / "book.sqlite3"))
    assert code_of_run(["book", "add", str(job_file)]) == 0
    capsys.readouterr()
    in_book = compared(capsys, Path("heron-quay"), "air=20 °C")
    assert in_book == compared(capsys, job_file, "air=20 °C")


def test_without_a_name_the_only_job_of_the_folder_is_taken(
    job_file: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(job_file.parent)
    assert code_of_run(["compare", "--as-of", "2026-11-02 07:00"]) == 0
    assert "Heron Quay" in capsys.readouterr().out
