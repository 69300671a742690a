"""A person changed in every job, a job closed, and the company's sheets."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from office_samples import BATH, BATH_FILE, OfficeSite, words_of

from curecal.book.jobs.import_job import append_entries
from curecal.book.jobs.jobs import content_of, newest_revision, read_in
from curecal.job_files.file_edits.person_edit import edit_person, names_person
from curecal.toml_files.toml_source import loads
from curecal.web.pages.office import person_change

TEXT = BATH_FILE.read_text(encoding="utf-8")
EXAMPLES = BATH_FILE.parents[1]


@pytest.fixture
def site(tmp_path: Path) -> OfficeSite:
    found = OfficeSite(tmp_path)
    found.add_bath()
    other = TEXT.replace(f'id = "{BATH}"', 'id = "birch"').replace(
        'name = "Alder Lane, hall bath"', 'name = "Birch Road"'
    )
    found.add(other, "birch")
    return found


def file_of(site: OfficeSite, job_id: str = BATH) -> str:
    with site.book.reading() as connection:
        return content_of(connection, newest_revision(connection, job_id).job_sha256).decode()


def test_an_edit_changes_its_lines_and_nothing_else() -> None:
    changes = {"email": "ida@new.example", "phone": '+1 902 555 "0199"'}
    made = edit_person(TEXT.encode(), "ida  FENNELL", changes)
    assert made.data is not None
    old, new = TEXT.splitlines(), made.data.decode().splitlines()
    assert [line for line in new if line not in old] == [
        'phone = "+1 902 555 \\"0199\\""',
        'email = "ida@new.example"',
    ]
    assert [line for line in old if line not in new] == ['email = "ida@home.example"']
    assert loads(made.data, "job")["people"]["owner"]["phone"] == '+1 902 555 "0199"'


def test_comments_and_line_ends_stay() -> None:
    data = b"[people.owner]\r\nname = \"Ida\" # the owner\r\nemail = 'a@b.example' # old\r\n"
    made = edit_person(data, "Ida", {"email": "c@d.example", "language": "de"})
    assert made.data == (
        b'[people.owner]\r\nname = "Ida" # the owner\r\nlanguage = "de"\r\n'
        b'email = "c@d.example" # old\r\n'
    )


@pytest.mark.parametrize(
    "text",
    [
        'people = { owner = { name = "Ida", email = "a@b.example" } }\n',
        '[people]\nowner = { name = "Ida", email = "a@b.example" }\n',
        '[people.owner]\nname = "Ida"\nemail = """a@b.example"""\n',
        '[people]\nowner.name = "Ida"\nowner.email = "a@b.example"\n',
    ],
)
def test_what_cannot_be_edited_safely_is_left_to_a_person(text: str) -> None:
    made = edit_person(text.encode(), "Ida", {"email": "c@d.example"})
    assert made.data is None
    assert "Ida" in text.splitlines()[made.line - 1] or text.splitlines()[made.line - 1][0] == "["


def test_a_text_that_only_looks_like_a_table_is_no_person() -> None:
    text = '[job]\nname = """\n[people.owner]\nname = "Ida"\n"""\n[people.owner]\nname = "Ida"\n'
    made = edit_person(text.encode(), "Ida", {"phone": "+1 1"})
    # It would have changed the job's name: nothing is given back.
    assert made.data is None
    assert names_person(text.encode(), "Ida")


def test_a_person_of_a_list_is_found() -> None:
    text = '[[people.crew]]\nname = "Ann"\n\n[[people.crew]]\nname = "Bo"\nphone = "1"\n'
    made = edit_person(text.encode(), "Bo", {"phone": "2"})
    assert made.data == text.replace('"1"', '"2"').encode()


def test_a_mail_is_changed_in_every_job_after_it_was_shown(site: OfficeSite) -> None:
    form = {"person": "Ida Fennell", "email": "ida@new.example"}
    shown = words_of(site.post("/person", **form))
    assert "Alder Lane, hall bath : will be changed." in shown
    assert "Birch Road : will be changed." in shown
    assert "ida@new.example" not in file_of(site)
    done = words_of(site.post("/person", **form, confirm="yes"))
    assert "Birch Road : changed." in done
    for job_id in (BATH, "birch"):
        assert 'email = "ida@new.example"' in file_of(site, job_id)
        with site.book.reading() as connection:
            assert newest_revision(connection, job_id).number == 2
            assert newest_revision(connection, job_id).told is not None
            read = read_in(connection, job_id)
        assert read.job is not None
        # The log stays as it was.
        assert len(read.log) == 7


def test_a_name_that_signed_stands(site: OfficeSite) -> None:
    form = {"person": "Sam Okoro-Lind", "name": "Sam Lind"}
    shown = words_of(site.post("/person", **form))
    assert "Sam Okoro-Lind has signed entries of this job" in shown
    site.post("/person", **form, confirm="yes")
    assert "Sam Okoro-Lind" in file_of(site)
    # Who signed nothing may have another name.
    site.post("/person", person="Ida Fennell", name="Ida Fenn", confirm="yes")
    assert 'name = "Ida Fenn"' in file_of(site)


@pytest.mark.parametrize("meanwhile", ["a file", "a name", "a signature"])
def test_what_came_in_since_it_was_looked_at_stays(
    site: OfficeSite, monkeypatch: pytest.MonkeyPatch, meanwhile: str
) -> None:
    revise, turns = person_change.revise_files, []
    form = {"person": "Ida Fennell", "name": "Ida Fenn"}

    def revised(*how: Any, **more: Any) -> Any:
        turns.append(how[1])
        if len(turns) == 1 and meanwhile == "a file":
            site.add(file_of(site).replace("15 A", "20 A"))
        elif len(turns) == 1 and meanwhile == "a name":
            site.add(file_of(site).replace("Ida Fennell", "Ida Marsh"))
        elif len(turns) == 1:
            air = {"id": "air-9", "kind": "air", "at": site.now, "recorded": site.now}
            entry = {**air, "zone": "hall", "air": "19 °C", "by": "Ida Fennell"}
            append_entries(site.book, BATH, [entry], source="test", now=site.now)
        return revise(*how, **more)

    monkeypatch.setattr(person_change, "revise_files", revised)
    told = words_of(site.post("/person", **form, confirm="yes"))
    assert turns == [BATH, "birch"]
    assert "Birch Road : changed." in told
    if meanwhile == "a file":
        assert 'breaker = "20 A"' in file_of(site)
        assert 'name = "Ida Fenn"' in file_of(site)
    elif meanwhile == "a name":
        assert "somebody else has just changed this person there" in told
        assert 'name = "Ida Marsh"' in file_of(site)
    else:
        # What somebody signed stands under the name they signed with.
        assert "Ida Fennell has signed entries of this job" in told
        assert 'name = "Ida Fennell"' in file_of(site)


def test_what_is_no_mail_is_refused(site: OfficeSite) -> None:
    shown = site.post("/person", person="Ida Fennell", email="no mail")
    assert "not here:" in words_of(shown)
    assert 'value="yes"' not in shown.text
    site.post("/person", person="Ida Fennell", email="no mail", confirm="yes")
    assert "ida@home.example" in file_of(site)


@pytest.mark.parametrize("form", [{"person": "Nobody"}, {"person": "Ida Fennell"}])
def test_nothing_to_change_is_said(site: OfficeSite, form: dict[str, str]) -> None:
    assert site.post("/person", **form).status_code == 422


def test_a_floor_not_in_service_is_closed_only_on_purpose(site: OfficeSite) -> None:
    refused = site.post(f"/job/{BATH}/close")
    assert refused.status_code == 422
    assert site.post(f"/job/{BATH}/close", sure="yes").status_code == 303
    assert "Alder Lane" not in words_of(site.get("/"))
    assert site.post(f"/job/{BATH}/open").status_code == 303
    assert "Alder Lane" in words_of(site.get("/"))


def test_the_file_is_shown_and_can_be_had(site: OfficeSite) -> None:
    assert 'breaker = "15 A"' in words_of(site.get(f"/job/{BATH}/file"))
    answer = site.get(f"/job/{BATH}/file.toml")
    assert answer.data.decode() == file_of(site)


def test_the_companys_products_are_listed(tmp_path: Path) -> None:
    site = OfficeSite(tmp_path)
    (tmp_path / "company.toml").write_text(
        '[material."bag mortar"]\nkind = "thinset"\ndata_sheet = "rev. 3, p. 2"\n'
        'rated = { temperature = "20 °C", humidity = "50 %" }\nwait = { heat = "28 d" }\n',
        encoding="utf-8",
    )
    site.add(TEXT.replace("[job]\n", '[job]\ncompany = "company.toml"\n', 1))
    said = words_of(site.get("/sheets"))
    assert "bag mortar" in said
    assert "rev. 3, p. 2" in said
    assert "28 d" in said
    assert "Alder Lane, hall bath" in said
    assert "bag mortar" in words_of(site.get("/sheets", "de"))
