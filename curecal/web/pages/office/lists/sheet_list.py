"""The company's data sheets: products that its files describe, and layers that lack one."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from curecal.book.jobs.book_overview import company_files
from curecal.errors import SourceError
from curecal.records import Record, record
from curecal.toml_files.toml_source import loads
from curecal.trade.data_sheets import Kind
from curecal.trade.names import told_apart
from curecal.web.page_request import job_address
from curecal.web.pages.office.office_parts import page_of_list
from curecal.web.rendering import render
from curecal.words.values import clean

if TYPE_CHECKING:
    from flask import Response

    from curecal.web.page_request import PageRequest

_MOST = 100


@record(kw_only=True)
class SheetLine(Record):
    """A product of the company: what it is, which sheet it is described from, and its waits."""

    name: str
    kind: str
    sheet: str
    waits: tuple[str, ...]


def show(page: PageRequest) -> Response:
    """Answer with the company's products, and the layers that no sheet is known of."""
    with page.serving.book.reading() as connection:
        files = company_files(connection)
    lines = {(one.name, one.sheet): one for data in files for one in _sheets(page, data)}
    ordered = sorted(lines.values(), key=lambda one: one.name.casefold())
    found = page.serving.answers.answers(page.language).jobs
    names = told_apart({job.job_id: clean(job.name) for job in found})
    lacking = [
        (
            names[job.job_id],
            job_address(job.job_id),
            ", ".join(map(clean, job.answer.without_sheet)),
        )
        for job in found
        if job.answer.without_sheet
    ]
    return render(
        page,
        "office/sheets.html",
        sheets=page_of_list(page, ordered, most=_MOST),
        lacking=lacking[:_MOST],
    )


def _sheets(page: PageRequest, data: bytes) -> Iterator[SheetLine]:
    try:
        materials = loads(data, "company").get("material")
    except SourceError:
        return
    for name, product in (materials if isinstance(materials, dict) else {}).items():
        if not isinstance(product, dict):
            continue
        kind = product.get("kind")
        known = kind in {one.value for one in Kind}
        waits = product.get("wait")
        yield SheetLine(
            name=clean(str(name)),
            kind=page.words.name("kind", str(kind)) if known else "",
            sheet=clean(str(product.get("data_sheet", ""))),
            waits=tuple(
                page.text("office.sheet-wait", milestone=_milestone(page, key), wait=str(value))
                for key, value in (waits if isinstance(waits, dict) else {}).items()
                if isinstance(value, str)
            ),
        )


def _milestone(page: PageRequest, key: str) -> str:
    name = f"name.milestone.{key}"
    return page.words.text(name) if name in page.words.catalogue else clean(key)
