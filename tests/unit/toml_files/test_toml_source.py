"""Files as they lie on a disk: missing, huge, foreign; a company's file, new files, the keys."""

from __future__ import annotations

from pathlib import Path

import pytest
import tomli

from curecal.book.jobs.job_sources import LOG_FILE
from curecal.cli.new.key_reference import reference
from curecal.cli.shared.job_source import Site
from curecal.errors import SourceError
from curecal.job_files import read_job
from curecal.job_files.job_keys import fresh_id, known_sensors, slug
from curecal.material_classes.rules import classes_by_use
from curecal.published.plan_equations import usual_thermistor
from curecal.toml_files.log_schema import BASE, KINDS
from curecal.toml_files.schema import CABLE_KEYS, TABLES, Key, headed
from curecal.toml_files.time_zones import REGIONAL
from curecal.toml_files.toml_source import LARGEST_BYTES, load, loads
from curecal.toml_files.values import READERS
from curecal.trade.job import Role, Work
from curecal.trade.site_log import Reading
from curecal.words.job_places import place
from curecal.words.sentences import plain_words

CONFIG = Path(__file__).parents[3] / "config"
JOB = """
[job]
id = "j"
name = "n"
timezone = "UTC"
{company}
[expected]
air = "20 °C"
below = "heated room"
[[zone]]
name = "z"
[[zone.layer]]
material = "{material}"
"""


def job_at(folder: Path, material: str = "thinset", company: str = "") -> Path:
    path = folder / "job.toml"
    path.write_text(JOB.format(material=material, company=company), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("data", "code", "params"),
    [
        (b"", "file-empty", {}),
        (b"\xef\xbb\xbf \n", "file-empty", {}),
        (b"a = 1\nb = '\xff'", "file-not-utf8", {"line": 2}),
        (b"a = 1\nb = ", "file-not-toml", {"line": 2, "column": 5}),
        (b"a = 1\na = 2", "file-not-toml", {}),
        (b"[a.b]\n[a.b]\n", "file-not-toml", {"reason": "Cannot declare [a.b] twice"}),
        (b"[a]\n[a]\n", "file-not-toml", {"reason": "Cannot declare [a] twice"}),
        (b"a = " + b"[" * 100_000, "file-nested-too-deeply", {}),
        (b"a = " + b"9" * 5000, "file-number-too-long", {}),
        (b"#" * (LARGEST_BYTES + 1), "file-too-large", {"limit": "1 MiB"}),
    ],
)
def test_bytes_that_are_no_file_of_ours(data: bytes, code: str, params: dict[str, object]) -> None:
    with pytest.raises(SourceError) as caught:
        loads(data, "x.toml")
    assert caught.value.code == code
    assert caught.value.params.items() >= {"path": "x.toml", **params}.items()


def test_a_byte_order_mark_is_read_over(tmp_path: Path) -> None:
    path = job_at(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    assert read_job(path).job is not None


def test_a_missing_file_a_folder_and_a_huge_file(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="file-missing"):
        load(tmp_path / "none.toml")
    with pytest.raises(SourceError, match="file-is-folder"):
        load(tmp_path)
    with pytest.raises(SourceError, match="file-not-regular"):
        load(Path("/dev/null"))
    with pytest.raises(SourceError, match="file-unreadable"):
        load(tmp_path / ("n" * 5000))
    with pytest.raises(SourceError, match="file-unreadable"):
        load(Path("a\0b"))
    huge = tmp_path / "huge.toml"
    with huge.open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(SourceError, match="file-too-large"):
        load(huge)


def test_the_company_beside_the_job(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    company = tmp_path / "shop" / "company.toml"
    company.write_text(
        'materials = "list.toml"\n[work]\nhours = "07:00-15:00"\n[people.owner]\nname = "O"\n'
        '[material.a]\nkind = "grout"\nhardens_by = "cement"\ndata_sheet = "own"\n',
        encoding="utf-8",
    )
    (tmp_path / "shop" / "list.toml").write_text(
        '[material.a]\nkind = "sealer"\ndata_sheet = "list"\n'
        '[material.b]\nkind = "sealer"\ndata_sheet = "list"\n[material.broken]\nkind = "x"\n',
        encoding="utf-8",
    )
    found = read_job(job_at(tmp_path, "a", 'company = "shop/company.toml"'))
    assert found.job is None
    assert [(finding.code, finding.path) for finding in found.findings] == [
        ("choice-unknown", "materials.material.broken.kind"),
        ("key-missing", "materials.material.broken.data_sheet"),
    ]
    (tmp_path / "shop" / "list.toml").write_text(
        '[material.b]\nkind = "sealer"\ndata_sheet = "list"\n', encoding="utf-8"
    )
    found = read_job(job_at(tmp_path, "b"), company=company)
    assert found.job is not None
    assert found.job.zones[0].layers[0].sheet.source.text == "list"
    assert found.job.work.start.hour == 7
    assert [(person.role, person.name) for person in found.job.people] == [(Role.OWNER, "O")]
    own = read_job(job_at(tmp_path, "a", 'company = "shop/company.toml"'))
    assert own.job is not None
    assert own.job.zones[0].layers[0].sheet.source.text == "own"


def test_a_company_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="file-missing"):
        read_job(job_at(tmp_path, company='company = "none.toml"'))


def test_what_is_wrong_in_a_company_file_is_found_under_its_name(tmp_path: Path) -> None:
    company = tmp_path / "company.toml"
    company.write_text('zone = 1\n[work]\nhours = "a\\u0007"\n', encoding="utf-8")
    found = read_job(job_at(tmp_path), company=company)
    assert [(finding.code, finding.path) for finding in found.findings] == [
        ("control-character", "company.work.hours"),
        ("key-unknown", "company.zone"),
        ("hours-unreadable", "company.work.hours"),
    ]


def test_further_logs_are_read_and_the_same_entry_counts_once(tmp_path: Path) -> None:
    entry = '[[log]]\nat = 2026-11-01T12:00:00Z\nkind = "air"\nair = "18 °C"\n'
    one, two = tmp_path / "one.toml", tmp_path / "two.toml"
    one.write_text(entry, encoding="utf-8")
    two.write_text(entry + '[[log]]\nkind = "air"\n', encoding="utf-8")
    path = job_at(tmp_path)
    found = read_job(path, extra_log=[one, one])
    assert found.job is not None
    assert [type(each) for each in found.log] == [Reading]
    assert [finding.path for finding in read_job(path, extra_log=[one, two]).findings] == [
        "further_log.1.log.1.at",
        "further_log.1.log.1",
    ]
    # The names behind a place tell which of several files it was.
    names = read_job(path, extra_log=[one, two]).raw
    where = place("further_log.1.log.1.at", names, plain_words())
    assert where == 'further log file "two.toml", log entry 2 (air), at'


@pytest.mark.parametrize(
    ("name", "entry", "said"),
    [
        ("job-book.toml", {"id": "e-12", "kind": "air"}, "log entry e-12 (air)"),
        ("job-book-2.toml", {"kind": "air"}, "log entry (air)"),
        ("log-of-the-command.toml", {"id": "e-12"}, "log entry e-12"),
    ],
)
def test_a_file_that_only_the_program_knows_is_not_named(
    name: str, entry: dict[str, object], said: str
) -> None:
    names = {"further_log": [{"name": name, "log": [entry]}]}
    assert place("further_log.0.log.0", names, plain_words()) == said
    assert name.startswith((Path(LOG_FILE).stem, Site(Path("job.toml")).new_log.stem))


def test_an_entry_of_a_log_that_is_not_at_hand_is_a_log_entry() -> None:
    assert place("further_log.0.log.3.at", {}, plain_words()) == "log entry, at"


def test_the_shipped_configuration_loads_and_agrees_with_the_defaults(tmp_path: Path) -> None:
    found = read_job(job_at(tmp_path, "site screed"), company=CONFIG / "company.toml")
    assert found.findings == ()
    assert found.job is not None
    assert found.job.work == Work()
    assert {person.role for person in found.job.people} == {Role.CREW_LEAD, Role.ELECTRICIAN}


def test_the_shipped_configuration_names_every_known_key() -> None:
    company = tomli.loads((CONFIG / "company.toml").read_text("utf-8"))
    materials = tomli.loads((CONFIG / "materials.toml").read_text("utf-8"))
    text = (CONFIG / "company.toml").read_text("utf-8")
    for key in (*TABLES["company"], *TABLES["work"], *TABLES["person"], *TABLES["sensor"]):
        assert key.name in text, key.name
    assert company.keys() == {key.name for key in TABLES["company"]}
    every = materials["material"]["every key"]
    assert every.keys() == {key.name for key in TABLES["material"]}
    assert every["wait"].keys() == {key.name for key in TABLES["wait"]}
    assert every["no_later"].keys() == {key.name for key in TABLES["no_later"]}


def test_the_reference_lists_every_built_in_material_by_its_use() -> None:
    blocks = reference().rstrip().split("\n\n")
    listed = {use: [one.names[0] for one in classes] for use, classes in classes_by_use().items()}
    shown = {}
    for block in blocks:
        heading, *lines = block.splitlines()
        if heading.startswith("built-in materials: "):
            names = [line.split('"')[1] for line in lines]
            shown[heading.removeprefix("built-in materials: ")] = names
    assert shown == listed
    silicone = 'material = "silicone"  # the silicone of the joints'
    assert silicone in blocks[list(shown).index("sealers, joints and edges") - len(shown)]
    leveler = "# a leveler bound by cement (also: cement leveler, self-leveler)"
    assert f'material = "leveler"  {leveler}' in reference()


def all_keys() -> list[Key]:
    tables = [*TABLES.values(), BASE, *KINDS.values()]
    return [key for keys in tables for key in keys]


def test_every_key_has_a_reader_an_example_and_a_meaning() -> None:
    forms = {"table", "tables", "named", "people", "raw", "instant", "work", "language"}
    for key in all_keys():
        assert key.reads in {*READERS, *REGIONAL, *forms}, key
        assert key.example, key
        assert key.means, key


def test_every_example_reads_as_its_key() -> None:
    for key in all_keys():
        if key.reads in READERS or key.reads in REGIONAL:
            value = tomli.loads(f"x = {key.example}")["x"]
            (REGIONAL.get(key.reads) or READERS[key.reads])(value, key)


def test_the_reference_names_every_key() -> None:
    text = reference()
    for key in all_keys():
        assert key.name in text
    assert next(heading for heading, _ in headed()) == "[job]"
    assert "voltage" in CABLE_KEYS


def test_the_known_sensor_is_the_one_of_the_published_checks() -> None:
    checked = usual_thermistor()
    sensor = known_sensors()["10 kΩ NTC"]
    assert sensor.coefficients == (checked.a, checked.b, checked.c)


def test_ids_made_of_names() -> None:
    assert slug("Hall bath, 1st floor", "zone") == "hall-bath-1st-floor"
    assert slug("床", "zone") == slug("床", "zone") != slug("窓", "zone")
    assert fresh_id("a", ["a", "a-2"]) == "a-3"
