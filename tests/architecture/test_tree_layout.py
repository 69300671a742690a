"""Where things lie, how long modules are, and that every exception to a rule has its reason."""

from __future__ import annotations

import ast
import io
import re
import subprocess
import tokenize
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "curecal"

TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "curecal",
    "tests",
    "config",
    "examples",
}
CORE = ("errors.py", "units", "instants", "trade", "science", "planning")
LONGEST = 400
MOST_NOQA = 15
MOST_IGNORED = 25

# Folders of one person's machine; spelled so that this file does not hold them itself.
MACHINE_PATH = re.compile(r"(?<![\w.~-])/(?:work|root|home)/")
NOQA = re.compile(r"#\s*noqa\b", re.IGNORECASE)
REASONED_NOQA = re.compile(
    r"#\s*noqa:\s*[A-Z]+\d+(?:,\s*[A-Z]+\d+)*\s*(?:#|-|:)\s*(?P<reason>\S.{7,})"
)
CODE = re.compile(r'"(?P<code>[A-Z]+\d*)"')
REASON = re.compile(r"#\s*\S.{7,}$")


@pytest.fixture(scope="module")
def files(needs: Callable[[str], str]) -> list[Path]:
    """Every file that a commit of the tree would hold: git's own, and new ones not ignored."""
    listed = subprocess.run(
        [needs("git"), "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=True,
    )
    names = {name for name in listed.stdout.decode().split("\0") if name}
    found = [ROOT / name for name in sorted(names) if (ROOT / name).is_file()]
    assert found, "git lists no file"
    return found


def sources(place: Path = PACKAGE) -> list[Path]:
    return [place] if place.suffix == ".py" else sorted(place.rglob("*.py"))


def comments(file: Path, said: str) -> Iterator[str]:
    """The comments of a file that says something; most say it nowhere, and are not taken apart."""
    text = file.read_text(encoding="utf-8")
    if said not in text.lower():
        return
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT:
            yield token.string


def unreasoned(settings: str, codes: list[str]) -> list[str]:
    """The codes without a line of their own, in the lint part of the settings, with a reason."""
    lines = settings.partition("[tool.ruff.lint]")[2].splitlines()
    reasoned = set()
    for line in lines:
        before, _, after = line.partition("#")
        found = CODE.findall(before)
        if len(found) == 1 and REASON.search("#" + after):
            reasoned.add(found[0])
    return [code for code in codes if code not in reasoned]


def ignored_codes(settings: str) -> list[str]:
    lint = tomllib.loads(settings)["tool"]["ruff"]["lint"]
    per_file = [code for codes in lint.get("per-file-ignores", {}).values() for code in codes]
    return [*lint["ignore"], *per_file]


def test_the_top_level_holds_what_belongs_there(files: list[Path]) -> None:
    tops = {file.relative_to(ROOT).parts[0] for file in files}
    assert {top for top in tops if not top.startswith(".")} <= TOP


def test_no_file_names_a_folder_of_one_machine(files: list[Path]) -> None:
    found = [
        f"{file.relative_to(ROOT)}:{number}"
        for file in files
        for number, line in enumerate(
            file.read_text(encoding="utf-8", errors="replace").splitlines(), start=1
        )
        if MACHINE_PATH.search(line)
    ]
    assert found == []


@pytest.mark.parametrize("folder", ["work", "root", "home"])
def test_a_folder_of_one_machine_is_seen(folder: str) -> None:
    assert MACHINE_PATH.search(f"cd /{folder}/main")
    assert MACHINE_PATH.search(f'"/{folder}/x"')
    assert not MACHINE_PATH.search(f"https://example.org/{folder}/x")


def test_the_package_itself_imports_nothing() -> None:
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]


@pytest.mark.parametrize("place", ["curecal", "tests"])
def test_no_module_is_too_long(place: str) -> None:
    lengths = {
        file.relative_to(ROOT).as_posix(): len(file.read_text(encoding="utf-8").splitlines())
        for file in sources(ROOT / place)
    }
    assert lengths
    assert {name: length for name, length in lengths.items() if length > LONGEST} == {}


def test_every_folder_says_what_belongs_there() -> None:
    folders = {file.parent for file in sources()}
    silent = []
    for folder in sorted(folders):
        said = folder / "__init__.py"
        if not said.is_file() or not ast.get_docstring(ast.parse(said.read_text(encoding="utf-8"))):
            silent.append(folder.relative_to(ROOT).as_posix())
    assert silent == []


def test_data_is_no_package() -> None:
    assert list((PACKAGE / "data").rglob("*.py")) == []


def test_noqa_is_rare_and_reasoned() -> None:
    found = [
        (file.relative_to(ROOT).as_posix(), comment)
        for file in sources()
        for comment in comments(file, "noqa")
        if NOQA.search(comment)
    ]
    assert [each for each in found if not REASONED_NOQA.search(each[1])] == []
    assert len(found) <= MOST_NOQA


@pytest.mark.parametrize(
    ("comment", "reasoned"),
    [
        ("# noqa: S603  # the program itself", True),
        ("# noqa: S603, S607 - the program itself", True),
        ("# noqa: S603", False),
        ("# noqa", False),
        ("# noqa: S603  # x", False),
    ],
)
def test_a_noqa_without_a_reason_is_seen(comment: str, *, reasoned: bool) -> None:
    assert bool(REASONED_NOQA.search(comment)) is reasoned


def test_the_core_hides_no_line_from_coverage() -> None:
    found = [
        f"{file.relative_to(ROOT)}: {comment}"
        for place in CORE
        for file in sources(PACKAGE / place)
        for comment in comments(file, "pragma")
        if "pragma" in comment
    ]
    assert found == []


def test_lint_exceptions_are_few_and_reasoned() -> None:
    settings = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    codes = ignored_codes(settings)
    assert codes
    assert len(codes) <= MOST_IGNORED
    assert unreasoned(settings, codes) == []


def test_a_lint_exception_without_a_reason_is_seen() -> None:
    settings = '[tool.ruff.lint]\nignore = [\n"A001",\n"B002", # it reads better here\n]\n'
    assert unreasoned(settings, ignored_codes(settings)) == ["A001"]
