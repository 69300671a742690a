"""Papers as PDF: every word arrives, faces are embedded, the same paper gives the same bytes."""

from __future__ import annotations

import importlib
import re
import subprocess
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from honest_jobs import NAMES, seen_at, text_of
from paper_samples import paper_context, texts

from curecal.errors import CurecalError, SourceError
from curecal.job_files import load_rules
from curecal.papers.blocks import Paper, PaperContext
from curecal.papers.commissioning_record import commissioning_record
from curecal.papers.hold_card import hold_card
from curecal.papers.owner_sheet import owner_sheet
from curecal.papers.typeset import typeset
from curecal.words.catalogue import catalogue, languages
from curecal.words.sentences import words_for

ROOT = Path(__file__).parents[3]
EXAMPLES = sorted((ROOT / "examples").glob("*/job.toml"))
BATH = (ROOT / "examples" / "bathroom" / "job.toml").read_text(encoding="utf-8")
AS_OF = datetime(2026, 11, 30, 12, tzinfo=UTC)
HEAD = """
[job]
id = "many"
name = "Many"
timezone = "America/Halifax"
[expected]
air = "20 °C"
below = "heated room"
[people.crew_lead]
name = "Robin Example"
[[zone]]
name = "hall"
"""
LAYER = """
[[zone.layer]]
name = "coat {at}"
material = "cement leveler"
thickness = "5 mm"
done = 2026-10-{day:02d}T{hour:02d}:00:00
"""
READING = """
[[log]]
at = 2026-11-{day:02d}T{hour:02d}:00:00Z
kind = "surface"
surface = "{degrees} °C"
by = "Robin Example"
"""
PHOTO = """
[[log]]
at = 2026-11-21T{hour:02d}:00:00Z
kind = "photo"
file = "photo-{at}.jpg"
text = "the cable beside the door, with a tape measure"
by = "Robin Example"
"""

Run = Callable[[bytes], str]
Point = tuple[float, float]


@pytest.fixture
def pdf_words(needs: Callable[[str], str], tmp_path: Path) -> Run:
    """The words of a PDF as another program reads them."""
    needs("typst")
    program = needs("pdftotext")

    def read(octets: bytes) -> str:
        path = tmp_path / "paper.pdf"
        path.write_bytes(octets)
        ended = subprocess.run(
            [program, "-raw", str(path), "-"], capture_output=True, check=True, text=True
        )
        return ended.stdout

    return read


@pytest.fixture
def placed(needs: Callable[[str], str], tmp_path: Path) -> Callable[[bytes], list[Point]]:
    """The right and the lower edge of every word of a PDF, in points from its upper left."""
    program = needs("pdftotext")

    def read(octets: bytes) -> list[Point]:
        path = tmp_path / "placed.pdf"
        path.write_bytes(octets)
        shown = subprocess.run(
            [program, "-bbox", str(path), "-"], capture_output=True, check=True, text=True
        ).stdout
        edges = re.findall(r'xMax="([-\d.]+)" yMax="([-\d.]+)"', shown)
        return [(float(right), float(bottom)) for right, bottom in edges]

    return read


def papers(ctx: PaperContext) -> list[Paper]:
    made = [hold_card(ctx), owner_sheet(ctx), commissioning_record(ctx)]
    return [paper for paper in made if paper is not None]


def words(text: str) -> Counter[str]:
    return Counter(re.sub(r"\s+", " ", text).split())


def lost(paper: Paper, read: str) -> Counter[str]:
    """The words of a paper that its PDF has not, or not as often.

    A card has its title only as a document, and instead of "Phone:" the number, or a line.
    """
    said = texts(paper)
    if paper.kind == "card":
        of_card = catalogue(paper.language)
        unsaid = {
            of_card.text(key).other for key in ("paper.told.not-recorded", "paper.fact.phone")
        }
        unsaid = {text.replace("\u00a0", " ") for text in {paper.title, *unsaid}}
        said = [text for text in said if text not in unsaid]
    # A word with a hyphen may be parted there.
    return words(" ".join(said).replace("-", "- ")) - words(read.replace("-", "- "))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
@pytest.mark.parametrize("language", languages())
def test_every_word_of_every_paper_arrives(language: str, path: Path, pdf_words: Run) -> None:
    ctx = paper_context(path.read_text(encoding="utf-8"), AS_OF, language)
    for paper in papers(ctx):
        assert not lost(paper, pdf_words(typeset(paper)))


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_every_word_of_every_honest_job_arrives(name: str, pdf_words: Run) -> None:
    text = text_of(name)
    for paper in papers(paper_context(text, seen_at(text))):
        assert not lost(paper, pdf_words(typeset(paper)))


def test_thirty_layers_two_hundred_readings_and_twelve_photos_break_no_table(
    pdf_words: Run, placed: Callable[[bytes], list[Point]]
) -> None:
    layers = "".join(LAYER.format(at=at, day=1 + at, hour=at % 9 + 8) for at in range(30))
    readings = "".join(
        READING.format(day=1 + at // 10, hour=at % 10 + 8, degrees=f"18.{at % 10}")
        for at in range(200)
    )
    photos = "".join(PHOTO.format(at=at, hour=8 + at % 10) for at in range(12))
    ctx = paper_context(HEAD + layers + readings + photos, AS_OF)
    record = commissioning_record(ctx)
    octets = typeset(record)
    read = pdf_words(octets)
    assert not lost(record, read)
    assert all(f"photo-{at}.jpg" in read for at in range(12))
    # The head of a table stands on each of its pages again.
    assert read.count("Temperature Humidity By") >= 4
    # Timeline and section name each layer once more, and all of it lies on the page.
    said = "\n".join(texts(record))
    # The last one, which decides, stands in the answer over both pictures as well.
    for at in range(29):
        name = re.compile(rf"coat {at}\b")
        assert len(name.findall(read)) == len(name.findall(said)) + 2
    assert all(0 < bottom < 842 and 0 < right < 595 for right, bottom in placed(octets))


def test_names_that_look_like_markup_stay_names(pdf_words: Run) -> None:
    hostile = r"#panic() *b* _i_ $x$ <a> \u{41} @ref = // [c] `r` https://a.example ~ -- ..."
    text = BATH.replace('name = "Robin Mistral"', f"name = '{hostile}'")
    text = text.replace('by = "Robin Mistral"', f"by = '{hostile}'")
    ctx = paper_context(text, AS_OF)
    for paper in papers(ctx):
        said = "".join(" ".join(texts(paper)).split())
        # A long name is parted at the end of a line.
        read = "".join(pdf_words(typeset(paper)).split())
        name = "".join(hostile.split())
        assert said.count(name) >= 1
        assert read.count(name) == said.count(name)


def test_signs_that_no_face_has_are_spelled_out(pdf_words: Run) -> None:
    text = BATH.replace('name = "Ida Fennell"', 'name = "王 Łucja 😀 Ωμέγα Ёлка"')
    read = pdf_words(typeset(commissioning_record(paper_context(text, AS_OF))))
    assert "[U+738B] Łucja [U+1F600] Ωμέγα Ёлка" in read


def test_the_same_paper_gives_the_same_bytes(needs: Callable[[str], str]) -> None:
    needs("typst")
    made = papers(paper_context(BATH, AS_OF))
    first = [typeset(paper) for paper in made]
    # A clock's second would show.
    time.sleep(1.1)
    assert [typeset(paper) for paper in papers(paper_context(BATH, AS_OF))] == first


def test_faces_are_embedded_and_all_is_tagged(needs: Callable[[str], str], tmp_path: Path) -> None:
    """The standards themselves are held by typst: what breaks one of them is not written."""
    needs("typst")
    fonts, info = needs("pdffonts"), needs("pdfinfo")
    path = tmp_path / "paper.pdf"
    for paper in papers(paper_context(BATH, AS_OF)):
        octets = typeset(paper)
        path.write_bytes(octets)
        listed = subprocess.run([fonts, str(path)], capture_output=True, check=True, text=True)
        faces = listed.stdout.splitlines()[2:]
        assert faces
        # emb, sub, uni: embedded, as a subset, with a way back to text.
        assert all(re.search(r" yes yes yes +\d+ +\d+$", face) for face in faces)
        about = subprocess.run([info, str(path)], capture_output=True, check=True, text=True).stdout
        assert re.search(r"^Tagged: +yes$", about, re.MULTILINE)
        title = f"{paper.title} – {paper.subtitle}" if paper.subtitle else paper.title
        assert re.search(rf"^Title: +{re.escape(title)}$", about, re.MULTILINE)
        assert b"pdfaid:part>2<" in octets
        assert b"pdfuaid:part>1<" in octets


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.parent.name)
@pytest.mark.parametrize("language", languages())
def test_another_program_finds_every_paper_accessible(
    language: str, path: Path, needs: Callable[[str], str], tmp_path: Path
) -> None:
    """PDF/UA-1 (ISO 14289-1) as far as the checker reaches: tags, title, language, pictures."""
    needs("typst")
    needs("pdfua")
    needs("segno")
    validate = importlib.import_module("pdfua").validate
    ctx = paper_context(path.read_text(encoding="utf-8"), AS_OF, language)
    file = tmp_path / "paper.pdf"
    scanned = hold_card(ctx, page=f"https://pages.example/p/{'x' * 43}/")
    for paper in (*papers(ctx), *([] if scanned is None else [scanned])):
        file.write_bytes(typeset(paper))
        found = validate(str(file))
        assert found.exit_code == 0
        assert [finding.message for finding in found.findings] == []
    # The checker does see a paper that says not what language it speaks.
    file.write_bytes(re.sub(rb"/Lang ?\([a-z-]+\)", b"", file.read_bytes()))
    assert validate(str(file)).exit_code != 0


def test_the_sheet_is_one_page_and_the_card_one_a_zone(
    needs: Callable[[str], str], tmp_path: Path
) -> None:
    needs("typst")
    program = needs("pdfinfo")
    kitchen = ROOT / "examples" / "kitchen-two-zones" / "job.toml"
    ctx = paper_context(kitchen.read_text(encoding="utf-8"), AS_OF)
    many = replace(ctx, plan=replace(ctx.plan, zones=ctx.plan.zones * 3))
    sizes = []
    others = [
        replace(ctx, words=words_for(ctx.plan.job, load_rules(), language=language))
        for language in languages()
    ]
    sheets = [owner_sheet(other) for other in (ctx, many, *others)]
    for paper in (hold_card(ctx), *sheets):
        assert paper is not None
        path = tmp_path / "paper.pdf"
        path.write_bytes(typeset(paper))
        about = subprocess.run(
            [program, str(path)], capture_output=True, check=True, text=True
        ).stdout
        pages = re.search(r"^Pages: +(\d+)$", about, re.MULTILINE)
        size = re.search(r"^Page size: +(\S+) x (\S+) pts", about, re.MULTILINE)
        assert pages
        assert size
        sizes.append((int(pages[1]), round(float(size[1])), round(float(size[2]))))
    # A5 is 148 x 210 mm, A4 210 x 297 mm (ISO 216); a point is 1/72 in.
    assert sizes == [(2, 420, 595), *[(1, 595, 842)] * len(sheets)]


def test_what_a_card_says_is_seven_millimeters_high_or_more(
    needs: Callable[[str], str], tmp_path: Path
) -> None:
    """Common practice: letters of 1/300 of the distance are read at it; 2 m want 7 mm."""
    needs("typst")
    text = BATH.replace(
        'name = "Robin Mistral"', 'name = "Robin Mistral"\nphone = "+1 902 555 0100"'
    )
    card = hold_card(paper_context(text, AS_OF))
    assert card is not None
    path = tmp_path / "card.pdf"
    path.write_bytes(typeset(card))
    boxes = subprocess.run(
        [needs("pdftotext"), "-bbox", str(path), "-"], capture_output=True, check=True, text=True
    ).stdout
    found = re.findall(r'yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">([^<]+)<', boxes)
    high_mm = {word: (float(bottom) - float(top)) / 72 * 25.4 for top, bottom, word in found}
    for word in ("switch", "Robin", "902", "stays"):
        assert high_mm[word] >= 7.0, word


def test_without_the_extra_the_way_to_it_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "typst", None)
    with pytest.raises(SourceError, match="paper-extra"):
        typeset(owner_sheet(paper_context(BATH, AS_OF)))


def test_a_broken_template_is_a_mistake_of_the_program(
    needs: Callable[[str], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs("typst")
    (tmp_path / "owner.typ").write_text("#nonsense", encoding="utf-8")
    monkeypatch.setattr("curecal.papers.typeset._TEMPLATES", tmp_path)
    with pytest.raises(CurecalError, match="template-broken"):
        typeset(owner_sheet(paper_context(BATH, AS_OF)))


def test_a_draft_says_so_on_every_page(pdf_words: Run) -> None:
    ctx = paper_context(BATH, AS_OF)
    pages = pdf_words(typeset(commissioning_record(ctx, draft=True))).split("\f")[:-1]
    assert len(pages) > 1
    assert all("Draft" in page for page in pages)
    assert "Draft" in pdf_words(typeset(owner_sheet(ctx, draft=True)))
