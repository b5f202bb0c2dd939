"""From a template to HTML and from HTML to PDF, the same bytes every time."""

import base64
import gc
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from typing import Any

from ledger.reports.figures import grouped
from ledger.reports.svg import Drawing


@dataclass(frozen=True, slots=True)
class Attached:
    """A file inside a PDF: what the page was worked out from.

    Attributes:
        name: Name of the file.
        says: What it is, in a few words.
        content: Its bytes.
        made_at: When it was made, in UTC.
    """

    name: str
    says: str
    content: bytes
    made_at: datetime


def file_text(name: str) -> str:
    """Return a template or a style sheet of this package."""
    return (files("ledger.reports") / name).read_text(encoding="utf-8")


def render_html(template: str, **shown: object) -> str:
    """Return a template filled in; every value is escaped."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined  # noqa: PLC0415

    environment = Environment(
        loader=FunctionLoader(file_text),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["grouped"] = grouped
    environment.filters["image_address"] = image_address
    return environment.get_template(template).render(**shown)


def image_address(drawing: Drawing) -> str:
    """Return a drawing as an address that holds it whole."""
    encoded = base64.b64encode(drawing.svg.encode()).decode("ascii")
    return f"data:image/svg+xml;base64,{encoded}"


def render_pdf(html: str, *, style: str, attached: Iterable[Attached] = ()) -> bytes:
    """Return a page as tagged PDF/A-3a (ISO 19005-3, level A).

    Nothing is fetched: what a page needs, it holds.

    Args:
        html: The page.
        style: Name of the style sheet in this package.
        attached: Files that it was worked out from, to be found inside it as such
            (ISO 32000-2, 14.13, relationship Data).
    """
    from weasyprint import CSS, HTML, Attachment  # noqa: PLC0415 - slow to load
    from weasyprint.urls import URLFetcher  # noqa: PLC0415 - as above

    fetcher = URLFetcher(allowed_protocols=["data"], fail_on_errors=True)
    page = HTML(string=html, url_fetcher=fetcher)
    with _without_collecting(), warnings.catch_warnings():
        # WeasyPrint leaves closing its colour profile to the interpreter.
        warnings.filterwarnings("ignore", r"unclosed file .*\.icc", ResourceWarning)
        made = page.write_pdf(
            stylesheets=[CSS(string=file_text(style), url_fetcher=fetcher)],
            pdf_variant="pdf/a-3a",
            finisher=_name_attached_once,
            attachments=[
                Attachment(
                    string=one.content,
                    name=one.name,
                    description=one.says,
                    created=one.made_at,
                    modified=one.made_at,
                    relationship="Data",
                )
                for one in attached
            ],
        )
    if not isinstance(made, bytes):
        raise TypeError(made)
    return made


def _name_attached_once(_document: object, pdf: Any) -> None:  # noqa: ANN401 - untyped
    """Leave each attached file in the list of them once; WeasyPrint notes it twice."""
    listed = pdf.catalog.get("AF", [])
    listed[:] = dict.fromkeys(listed)


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Put garbage collection off: layout makes millions of objects that all stay."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
