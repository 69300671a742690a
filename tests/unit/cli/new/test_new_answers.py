"""`new --answers` and `new --from`: answers for scripts, and another job to start from."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli
from freezegun import freeze_time
from new_samples import NOW, SITE, sits_down

from curecal.cli.main import code_of_run
from curecal.job_files import parse_job
from curecal.job_files.new_job.build_ups import BUILD_UPS
from curecal.job_files.new_job.job_text import job_text

ROOT = Path(__file__).resolve().parents[4]
EXAMPLES = sorted(path.parent.name for path in ROOT.glob("examples/*/job.toml"))
HEAD = """
[job]
name = "Elm Road 7"
timezone = "America/Chicago"
code = "NEC"
[expected]
air = "66 °F"
below = "ground"
"""
ZONE = """
[[zone]]
name = "kitchen"
room = "living space"
covering = "ceramic tile"
"""
OF_BUILD_UP = {
    "mat in thinset": '[[zone.layer]]\nname = "base"\nmaterial = "concrete"\n',
    "cable in leveler": '[[zone.layer]]\nname = "base"\nmaterial = "plywood"\n'
    '[[zone.layer]]\nmaterial = "leveler"\nthickness = "10 mm"\ndone = 2026-11-27\n'
    '[[zone.layer]]\nmaterial = "primer"\ndone = 2026-11-26\n',
    "sheet with cable": '[[zone.layer]]\nname = "base"\nmaterial = "plywood"\n'
    '[[zone.layer]]\nname = "thinset over the cable"\nmaterial = "rapid thinset"\n',
    "screed with cable": '[[zone.layer]]\nname = "base"\nmaterial = "concrete"\n'
    '[[zone.layer]]\nmaterial = "rapid-drying screed"\nthickness = "50 mm"\n',
    "repair": "",
}
pytestmark = pytest.mark.usefixtures("in_folder")


def answers(text: str) -> str:
    Path("answers").mkdir(exist_ok=True)
    Path("answers/answers.toml").write_text(text, encoding="utf-8")
    return "answers/answers.toml"


@freeze_time(NOW)
@pytest.mark.parametrize("build_up", BUILD_UPS)
def test_each_build_up_is_planned_from_a_file_of_answers(
    build_up: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    person = sits_down(monkeypatch)
    given = answers(f'{HEAD}{ZONE}build_up = "{build_up}"\n{OF_BUILD_UP[build_up]}')
    assert code_of_run(["new", "elm.toml", "--answers", given, "--calendars", "cal"]) == 0
    said = capsys.readouterr().out
    assert person.asked == []
    assert said.startswith("\nWrote elm.toml.\n\nNo: not before ")
    assert Path("cal/owner.ics").is_file()
    layers = tomli.loads(Path("elm.toml").read_text(encoding="utf-8"))["zone"][0]["layer"]
    assert [layer["material"] for layer in layers if layer["name"] == "base"] == []
    assert len(layers) == len(BUILD_UPS[build_up].layers)
    assert code_of_run(["plan", "elm.toml", "--require", "date"]) == 0


@freeze_time(NOW)
def test_answers_stand_in_the_file_as_they_were_given(capsys: pytest.CaptureFixture[str]) -> None:
    listed = """
    heating = { voltage = "240 V", power = "640 W", resistance = "90 Ω" }
    layer = [
      { material = "plywood", existing = true },
      { material = "bag on site", done = 2026-11-27T16:00:00 },
      { material = "cement grout", planned_start = 2026-12-02T08:00:00 },
    ]
    [people.crew_lead]
    name = "Robin \\"Rob\\" Mistral"
    [[people.crew]]
    name = "Kim"
    [material."bag on site"]
    kind = "thinset"
    data_sheet = "rev. 2026-02, p. 2"
    rated = { temperature = "70 °F", humidity = "50 %" }
    wait = { grout = "24-48 h", heat = { "50 °F" = "28 d", "70 °F" = "21 d" } }
    """
    text = f"{HEAD}{ZONE}{listed}"
    assert code_of_run(["new", "elm.toml", "--answers", answers(text)]) == 0
    capsys.readouterr()
    made = tomli.loads(Path("elm.toml").read_text(encoding="utf-8"))
    given = tomli.loads(text)
    assert made["job"].pop("id") == "elm-road-7"
    # What the file shows as a comment only adds empty tables.
    assert {key: table for key, table in made.items() if key != "work"} == {
        **given,
        "zone": [{**given["zone"][0], "heat_up": {}}],
    }
    # And the file that came of it answers as well as the one it came from.
    again = Path("elm.toml").read_text(encoding="utf-8").replace('id = "elm-road-7"', "")
    assert code_of_run(["new", "again.toml", "--answers", answers(again)]) == 0
    capsys.readouterr()
    twice = tomli.loads(Path("again.toml").read_text(encoding="utf-8"))
    assert twice["job"].pop("id") == "elm-road-7-2"
    assert twice == made


@freeze_time(NOW)
def test_the_answers_of_the_manual_make_a_job(capsys: pytest.CaptureFixture[str]) -> None:
    chapter = (ROOT / "curecal" / "data" / "manual" / "start.md").read_text(encoding="utf-8")
    shown = chapter.partition("```toml\n")[2].partition("```")[0]
    assert "build_up" in shown
    assert code_of_run(["new", "--answers", answers(shown)]) == 0
    capsys.readouterr()
    assert code_of_run(["plan", "alder-lane-hall-bath.toml", "--require", "date"]) == 0
    for name in BUILD_UPS:
        assert f"| `{name}` |" in chapter


@freeze_time(NOW)
def test_all_that_is_unknown_or_missing_is_told_in_one_run(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = """
    log = [{ kind = "air" }]
    colour = "blue"
    [job]
    name = "Elm Road 7"
    timezone = "America/Chicag"
    unit = "imperial"
    [[zone]]
    build_up = "cable in leveller"
    [[zone]]
    name = "hall"
    build_up = "cable in leveler"
    [[zone.layer]]
    material = "grut"
    """
    assert code_of_run(["new", "elm.toml", "--answers", answers(text)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("The answers have mistakes, so no file was written.")
    for told in (
        "a new job has no log yet",
        'there is no key "colour" here',
        'there is no time zone "America/Chicag". Did you mean "America/Chicago"?',
        'there is no key "unit" here. Did you mean "units"?',
        "job, code: the answer is missing: the electrical code",
        "below: the answer is missing: what lies under the floor",
        'there is no build-up "cable in leveller". Did you mean "cable in leveler"?',
        'zone "hall": "grut" is not clearly one of the layers there are: base, primer, leveler',
        'zone "hall", room: the answer is missing',
        'layer "leveler over the cable", thickness: the answer is missing',
        'layer "base", material: "material" is missing',
    ):
        assert told in said, told
    assert not Path("elm.toml").exists()


@pytest.mark.parametrize(
    "text",
    [
        "job = 3",
        "zone = 3",
        "zone = [3]",
        'zone = [{ layer = [3], build_up = "repair" }]',
        'zone = [{ layer = 3, build_up = ["repair"] }]',
        "zone = [{ heating = { cable = 3 }, layer = [{ material = { a = 1 } }] }]",
        "people = [1]\nmaterial = 3\nsensor = 3\nwork = 3\nlog = 3\nexpected = []",
        '[material.x]\nkind = 3\n[[zone]]\nlayer = [{ material = "x" }]',
        '[job]\nid = "../../etc"\nname = 3',
        '[job]\nname = "a\\u0000b"',
        '[[zone]]\nname = { a = 1 }\nbuild_up = "repair"\n[[zone.layer]]\nname = [1]',
    ],
)
@pytest.mark.parametrize("source", [(), ("--from", "examples")])
def test_hostile_answers_are_refused_and_nothing_is_written(
    text: str, source: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    if source:
        source = ("--from", str(ROOT / "examples" / "bathroom" / "job.toml"))
    assert code_of_run(["new", "elm.toml", "--answers", answers(text), *source]) == 1
    assert "so no file was written" in capsys.readouterr().out
    assert not Path("elm.toml").exists()


@pytest.mark.parametrize(
    "text", ["zone = 3", "[[zone]]\nlayer = [3]", "people = 3", "[job]\nname = 3"]
)
def test_a_job_with_mistakes_is_no_source(text: str, capsys: pytest.CaptureFixture[str]) -> None:
    Path("old.toml").write_text(text, encoding="utf-8")
    assert code_of_run(["new", "--from", "old.toml"]) == 3
    assert "The job old.toml has mistakes" in capsys.readouterr().err


@freeze_time(NOW)
@pytest.mark.parametrize("text", ["people = 3", "material = 3", "materials = 'more.toml'"])
def test_a_company_file_with_mistakes_is_told(
    text: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("shop.toml").write_text(text, encoding="utf-8")
    Path("more.toml").write_text("material = 3", encoding="utf-8")
    given = answers(f'{HEAD}{ZONE}build_up = "repair"\n')
    assert code_of_run(["new", "--company", "shop.toml", "--answers", given]) == 1
    assert "so no file was written" in capsys.readouterr().out
    sits_down(monkeypatch, *SITE, ("Build-up", "repair"))
    assert code_of_run(["new", "--company", "shop.toml"]) == 1
    assert "Fix this in the file" in capsys.readouterr().out


def test_an_id_that_another_job_has_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    Path("old.toml").write_text('[job]\nid = "elm"\n', encoding="utf-8")
    Path("odd.toml").write_text("x", encoding="utf-8")
    text = HEAD.replace("[job]", '[job]\nid = "elm"') + ZONE + 'build_up = "repair"\n'
    assert code_of_run(["new", "elm.toml", "--answers", answers(text)]) == 1
    assert '"elm" is the id of another job here' in capsys.readouterr().out


def test_answers_that_are_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert code_of_run(["new", "elm.toml", "--answers", "none.toml"]) == 3
    assert "none.toml" in capsys.readouterr().err


@freeze_time(NOW)
def test_from_takes_people_products_and_build_up_and_no_past(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    source = ROOT / "examples" / "bathroom" / "job.toml"
    old = tomli.loads(source.read_text(encoding="utf-8"))
    person = sits_down(
        monkeypatch,
        ("Name of the job", "Elm Road 7"),
        ("Below", "1"),
        ("Thickness", "8 mm"),
        ("Power", "500 W"),
        ("Name of the owner", "Pat Quill"),
    )
    assert code_of_run(["new", "--from", str(source)]) == 0
    capsys.readouterr()
    assert person.left == []
    assert not any("Made of" in question or "Covering" in question for question in person.asked)
    new = tomli.loads(Path("elm-road-7.toml").read_text(encoding="utf-8"))
    assert new["job"] == {
        "id": "elm-road-7",
        "name": "Elm Road 7",
        "timezone": "America/Halifax",
        "units": "imperial",
        "code": "CEC",
    }
    assert "log" not in new
    assert new["material"] == old["material"]
    assert new["people"] == {**old["people"], "owner": {"name": "Pat Quill"}}
    zone = new["zone"][0]
    assert zone["heating"]["power"] == "500 W"
    assert "resistance" not in zone["heating"]
    assert [layer["material"] for layer in zone["layer"]] == [
        layer["material"] for layer in old["zone"][0]["layer"]
    ]
    assert not any("done" in layer for layer in zone["layer"])


@freeze_time(NOW)
def test_from_with_answers_fills_in_the_layers_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    source = ROOT / "examples" / "kitchen-two-zones" / "job.toml"
    zones = tomli.loads(source.read_text(encoding="utf-8"))["zone"]
    names = [[layer["name"] for layer in zone["layer"] if "thickness" in layer] for zone in zones]
    given = [
        {
            "name": zone["name"],
            "room": "living space",
            "layer": [{"name": name, "thickness": "12 mm"} for name in thick],
        }
        for zone, thick in zip(zones, names, strict=True)
    ]
    head = {**tomli.loads(HEAD), "people": {"owner": {"name": "Pat"}}}
    # In another order, zones are found by their names.
    text = job_text({**head, "zone": given[::-1]})
    code = code_of_run(["new", "elm.toml", "--answers", answers(text), "--from", str(source)])
    said = capsys.readouterr().out
    assert code == 0, said
    new = tomli.loads(Path("elm.toml").read_text(encoding="utf-8"))
    assert [zone["name"] for zone in new["zone"]] == [zone["name"] for zone in zones]
    filled = [
        [layer["name"] for layer in zone["layer"] if "thickness" in layer] for zone in new["zone"]
    ]
    assert filled == names
    assert new["people"]["owner"] == {"name": "Pat"}
    assert {"crew_lead", "electrician"} <= new["people"].keys()


@freeze_time(NOW)
def test_from_follows_the_companys_file_into_another_folder(
    in_folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (in_folder / "jobs").mkdir()
    (in_folder / "company.toml").write_text('[people.crew_lead]\nname = "Kim"\n', encoding="utf-8")
    text = f'{HEAD}{ZONE}build_up = "repair"\n'.replace(
        "[job]", '[job]\ncompany = "../company.toml"'
    )
    assert code_of_run(["new", "jobs/elm.toml", "--answers", answers(text)]) == 0
    over = '[job]\nname = "Oak Road 1"\n[expected]\nair = "66 °F"\nbelow = "ground"\n'
    asked = ["new", "oak.toml", "--from", "jobs/elm.toml", "--answers", answers(over)]
    assert code_of_run(asked) == 0
    capsys.readouterr()
    oak = tomli.loads(Path("oak.toml").read_text(encoding="utf-8"))
    assert oak["job"]["company"] == "company.toml"


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_whole_job_is_written_as_it_was(name: str) -> None:
    text = (ROOT / "examples" / name / "job.toml").read_text(encoding="utf-8")
    job = {key: table for key, table in tomli.loads(text).items() if key != "log"}
    made = tomli.loads(job_text(job))
    assert {key: made[key] for key in job if key != "zone"} == {
        key: job[key] for key in job if key != "zone"
    }
    for new, old in zip(made["zone"], job["zone"], strict=True):
        assert new == {"heating": {}, "heat_up": {}, **old}
    assert parse_job(job_text(job).encode()).job is not None
