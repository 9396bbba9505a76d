"""HTML to PDF by WeasyPrint, which needs Pango from the system: where it is missing, one clear sentence."""

import os
import subprocess
import sys
from typing import Any, NoReturn

from brinebook.sheets.errors import PaperUnavailable

LONGEST_S = 50
NICE = 10
NO_PAPER = 3


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


def pdf_apart(html: str) -> bytes:
    """
    Print a long page in a process of its own, so that phones need not wait for it.

    Raises ``PaperUnavailable`` when the libraries are not there, or it takes longer than ``LONGEST_S``.
    """
    try:
        done = subprocess.run(
            [sys.executable, "-m", "brinebook.sheets.pdf"], input=html.encode(), capture_output=True, check=False,
            timeout=LONGEST_S,
        )
    except subprocess.TimeoutExpired as problem:
        raise PaperUnavailable(value=f"{LONGEST_S} s were not enough") from problem
    if done.returncode:
        raise PaperUnavailable(value=done.stdout.decode()[:120] if done.returncode == NO_PAPER else "the printer ended")
    return done.stdout


def _main() -> int:
    os.nice(NICE)
    try:
        sys.stdout.buffer.write(pdf(sys.stdin.buffer.read().decode()))
    except PaperUnavailable as problem:
        sys.stdout.write(problem.value)
        return NO_PAPER
    return 0


if __name__ == "__main__":
    sys.exit(_main())
