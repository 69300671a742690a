"""`new` on a terminal: what is asked, what a slip costs, and the file it ends in."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import click
import pytest
import tomli
from freezegun import freeze_time
from new_samples import LABEL, NOW, OF_BUILD_UP, PEOPLE, SITE, layers_of, sits_down

from curecal.cli.main import code_of_run
from curecal.job_files.new_job.build_ups import BUILD_UPS

pytestmark = pytest.mark.usefixtures("in_folder")


@freeze_time(NOW)
@pytest.mark.parametrize("build_up", BUILD_UPS)
def test_each_build_up_ends_in_a_plan(
    build_up: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch, *SITE, ("Build-up", build_up), *OF_BUILD_UP[build_up], *LABEL, *PEOPLE
    )
    assert code_of_run(["new"]) == 0
    said = capsys.readouterr().out
    assert person.left == []
    assert "Wrote alder-lane-hall-bath.toml." in said
    assert "\nNo: not before " in said
    assert "  - See the whole plan: curecal plan alder-lane-hall-bath.toml\n" in said
    assert len(layers_of("alder-lane-hall-bath.toml")) == len(BUILD_UPS[build_up].layers)
    assert code_of_run(["plan", "alder-lane-hall-bath.toml", "--require", "date"]) == 0
    # The picture stands as the floor does: what was asked last is on top.
    drawn = said[said.index("  top\n") : said.index("  bottom\n")]
    top = str(BUILD_UPS[build_up].layers[-1]["name"])
    assert drawn.index(top) < drawn.index("there before")
    assert build_up == "repair" or "heating cable  ○" in drawn


@freeze_time(NOW)
def test_what_was_typed_stands_in_the_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "2"),
        ("Made of", "plywood"),
        ("Made of [primer]", "-"),
        ("Finished", "yesterday 14:00"),
        ("Thickness", "3/8 in"),
        ("Data sheet", ""),
        ("Made of [thinset]", "Rapid Thinset"),
        ("Finished", ""),
        ("Begins", "tomorrow"),
        ("Data sheet", "rev. 2026-02, p. 2"),
        ("times are for", "70 °F"),
        ("Coldest it cures", "50 °F"),
        ("before grouting", "6 h"),
        ("before heat", "7 d"),
        ("Layer 5", "sealer"),
        *LABEL,
        ("Wait before heat in the mat's own guide", "28 d"),
        ("Which guide", "guide, p. 14"),
        *PEOPLE,
        ("Write the calendars", "yes"),
    )
    assert code_of_run(["new", "bath.toml"]) == 0
    capsys.readouterr()
    job = tomli.loads(Path("bath.toml").read_text(encoding="utf-8"))
    assert job["job"] == {
        "id": "alder-lane-hall-bath",
        "name": "Alder Lane, hall bath",
        "timezone": "America/Halifax",
        "units": "imperial",
        "code": "CEC",
    }
    assert job["expected"] == {
        "air": "66 °F",
        "below": "heated room",
        "heated_by": "house system",
    }
    assert job["people"]["electrician"] == {"name": "Sam Okoro-Lind", "license": "E 2214"}
    zone = job["zone"][0]
    assert zone["covering"] == {"kind": "ceramic tile", "size": "6 x 6 in"}
    assert zone["heating"]["wait"] == "28 d"
    assert zone["heating"]["data_sheet"] == "guide, p. 14"
    names = [layer["name"] for layer in zone["layer"]]
    assert names == ["plywood", "leveler over the cable", "thinset", "grout", "sealer"]
    assert zone["layer"][1]["done"].isoformat() == "2026-11-29T14:00:00"
    # A day alone begins with the working hours.
    assert zone["layer"][2]["planned_start"].isoformat() == "2026-12-01T08:00:00"
    assert job["material"] == {
        "rapid thinset by its sheet": {
            "kind": "thinset",
            "hardens_by": "cement",
            "modified": True,
            "rapid": True,
            "data_sheet": "rev. 2026-02, p. 2",
            "rated": {"temperature": "70 °F"},
            "minimum": "50 °F",
            "wait": {"grout": "6 h", "heat": "7 d"},
        }
    }
    assert {path.name for path in Path("bath-calendars").glob("*.ics")} == {
        "crew.ics",
        "electrician.ics",
        "owner.ics",
    }


@freeze_time(NOW)
def test_two_zones_and_one_product_for_two_layers(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "sheet with cable"),
        ("Made of", "plywood"),
        ("Data sheet", "rev. 2026-02, p. 2"),
        ("before heat", "14 d"),
        ("Another zone", "yes"),
        ("What the thermostat heats", "Hall Bath"),
        ("What the thermostat heats", "dressing room"),
        ("Covering", "vinyl"),
        ("Laid [", "floating"),
        ("Build-up", "own list"),
        ("Layer 1", "plywood"),
        ("Layer 2", "leveler"),
        ("Thickness", "10 mm"),
    )
    assert code_of_run(["new"]) == 0
    assert person.left == []
    assert 'The name "Hall Bath" is used twice.' in capsys.readouterr().out
    job = tomli.loads(Path("alder-lane-hall-bath.toml").read_text(encoding="utf-8"))
    assert [zone["name"] for zone in job["zone"]] == ["hall bath", "dressing room"]
    assert job["zone"][1]["covering"] == {"kind": "vinyl", "laid": "floating"}
    materials = [layer["material"] for layer in job["zone"][0]["layer"]]
    assert materials[1] == materials[3] == "thinset by its sheet"
    assert code_of_run(["plan", "alder-lane-hall-bath.toml", "--require", "date"]) == 0


@freeze_time(NOW)
def test_a_second_job_of_one_name_gets_an_id_and_a_file_of_its_own(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for _ in range(2):
        sits_down(monkeypatch, *SITE, ("Build-up", "1"), *OF_BUILD_UP["mat in thinset"])
        assert code_of_run(["new"]) == 0
    capsys.readouterr()
    second = tomli.loads(Path("alder-lane-hall-bath-2.toml").read_text(encoding="utf-8"))
    assert second["job"]["id"] == "alder-lane-hall-bath-2"


@freeze_time(NOW)
def test_the_company_gives_people_and_products(
    in_folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shop = in_folder / "shop"
    shop.mkdir()
    (shop / "company.toml").write_text(
        'materials = "products.toml"\n[people.crew_lead]\nname = "Kim"\n', encoding="utf-8"
    )
    (shop / "products.toml").write_text(
        '[material."deep fill"]\nkind = "leveler"\ndata_sheet = "p. 2"\n'
        'wait = { cover = "24 h", heat = "21 d" }\n',
        encoding="utf-8",
    )
    monkeypatch.setenv("CURECAL_COMPANY", str(shop / "company.toml"))
    person = sits_down(
        monkeypatch,
        *SITE,
        ("Build-up", "cable in leveler"),
        *BASE_AND_DEEP_FILL,
    )
    assert code_of_run(["new"]) == 0
    capsys.readouterr()
    assert person.left == []
    assert not any("crew lead" in question for question in person.asked)
    monkeypatch.delenv("CURECAL_COMPANY")
    job = tomli.loads(Path("alder-lane-hall-bath.toml").read_text(encoding="utf-8"))
    assert job["job"]["company"] == "shop/company.toml"
    assert job["zone"][0]["layer"][2]["material"] == "deep fill"
    assert code_of_run(["plan", "alder-lane-hall-bath.toml", "--require", "date"]) == 0


BASE_AND_DEEP_FILL = (
    ("Made of", "plywood"),
    ("Made of [leveler]", "deep fill"),
    ("Thickness", "10 mm"),
)


@pytest.mark.parametrize(
    ("path", "told"),
    [("here.toml", "already exists and was left as it is"), ("none/job.toml", "no folder none")],
)
def test_a_file_that_has_no_place_is_told_before_the_first_question(
    path: str, told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("here.toml").write_text("mine", encoding="utf-8")
    person = sits_down(monkeypatch)
    assert code_of_run(["new", path]) == 3
    assert told in capsys.readouterr().err
    assert person.asked == []
    assert Path("here.toml").read_text(encoding="utf-8") == "mine"


def test_nobody_answers(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], in_folder: Path
) -> None:
    monkeypatch.setattr(sys, "stdin", io.StringIO(""))
    assert code_of_run(["new"]) == 130
    capsys.readouterr()
    assert list(in_folder.glob("*.toml")) == []


@freeze_time(NOW)
def test_who_stops_in_the_middle_loses_no_answer(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], in_folder: Path
) -> None:
    person = sits_down(monkeypatch, *SITE, ("Build-up", "1"), *OF_BUILD_UP["mat in thinset"])

    def leaves(question: str, **how: object) -> str:
        if "crew lead" in question:
            raise click.Abort
        return person.answer(question, **how)

    monkeypatch.setattr(click, "prompt", leaves)
    assert code_of_run(["new"]) == 130
    assert "Your answers so far are in alder-lane-hall-bath.answers." in capsys.readouterr().out
    assert list(in_folder.glob("*.toml")) == []
    assert code_of_run(["new", "--answers", "alder-lane-hall-bath.answers"]) == 0
    capsys.readouterr()
    assert layers_of("alder-lane-hall-bath.toml")[1]["name"] == "thinset over the mat"


def test_calendars_into_an_unset_variable(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["new", "--calendars", ""]) == 2
    capsys.readouterr()


def test_keys_prints_the_reference_and_the_build_ups(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["new", "--keys"]) == 0
    said = capsys.readouterr().out
    assert "[[zone.layer]]\n" in said
    for name in BUILD_UPS:
        assert f'build_up = "{name}"' in said
