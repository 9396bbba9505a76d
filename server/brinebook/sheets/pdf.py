"""HTML to PDF by WeasyPrint, which needs Pango from the system: where it is missing, one clear sentence."""

from typing import Any, NoReturn

from brinebook.sheets.errors import PaperUnavailable


def _refuse(url: str, *_: Any, **__: Any) -> NoReturn:
    raise ValueError(f"a sheet fetches nothing: {url[:40]}")


def pdf(html: str) -> bytes:
    """Print a page as tagged PDF; raise ``PaperUnavailable`` when the libraries are not there."""
    try:
        from weasyprint import HTML  # noqa: PLC0415 - heavy, and absent where nobody prints
    except (ImportError, OSError) as problem:
        raise PaperUnavailable(value=str(problem).splitlines()[0][:120]) from problem
    made = HTML(string=html, url_fetcher=_refuse).write_pdf(pdf_variant="pdf/ua-1", pdf_tags=True)
    if made is None:
        raise PaperUnavailable(value="no pages")
    return bytes(made)
