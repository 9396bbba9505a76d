"""The small parts all sheets share: escaped text, tick boxes, codes as SVG, figures in words."""

from html import escape

from babel.numbers import format_decimal

from brinebook.planning.bottle_code import modules_of
from brinebook.sheets.geometry import QUIET_MODULES_N
from brinebook.words import Values, say

FONTS = '"Atkinson Hyperlegible Next", "Noto Sans", "DejaVu Sans", sans-serif'
PAPERS = {"a4": "210mm 297mm", "letter": "215.9mm 279.4mm"}
SHOWN_ERROR_FRAC = 0.005
SHOWN_TENTHS_BELOW_G = 100.0
MINUS, TIMES = "\u2212", "\u00d7"


class Paper:
    """One language's words and figures, escaped for a page."""

    def __init__(self, language: str) -> None:
        self.language = language

    def say(self, key: str, values: Values | None = None) -> str:
        """Say one sentence of the sheets' catalogue, escaped."""
        return escape(say(self.language, f"coolbox.{key}", values))

    def figure(self, value: float, digits: int = 0) -> str:
        """Write a number as the language writes it."""
        pattern = "#,##0" + ("." + "0" * digits if digits else "")
        return format_decimal(round(value, digits) + 0.0, format=pattern, locale=self.language)

    def litres(self, value_l: float) -> str:
        """Write litres with as many digits as a bucket's marks have."""
        return f"{self.figure(value_l, 2 if value_l < 1.0 else 1)} L"

    def grams(self, value_g: float) -> str:
        """Write grams as a kitchen scale shows them."""
        return f"{self.figure(value_g, 1 if value_g < SHOWN_TENTHS_BELOW_G else 0)} g"

    def percent(self, value_frac: float) -> str:
        """Write a signed share."""
        sign = "+" if value_frac >= 0.0 else MINUS
        return f"{sign}{self.figure(abs(value_frac) * 100.0, 1)} %"


def text(raw: str) -> str:
    """Escape what people typed."""
    return escape(raw)


def code_svg(qr_hex: str, side_n: int, side_mm: float) -> str:
    """Draw a code as one path, its quiet zone inside the side given."""
    whole = side_n + 2 * QUIET_MODULES_N
    path = "".join(
        f"M{column + QUIET_MODULES_N} {row + QUIET_MODULES_N}h1v1h-1z"
        for row, cells in enumerate(modules_of(qr_hex, side_n)) for column, is_dark in enumerate(cells) if is_dark
    )
    return (
        f'<svg class="code" width="{side_mm}mm" height="{side_mm}mm" viewBox="0 0 {whole} {whole}" '
        f'shape-rendering="crispEdges"><rect width="{whole}" height="{whole}" fill="#fff"/>'
        f'<path d="{path}" fill="#000"/></svg>'
    )


def page(title: str, language: str, style: str, body: str) -> str:
    """Wrap a body into a page of its own: no script, no link, nothing fetched."""
    return (
        f'<!doctype html><html lang="{language}"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{style}</style></head><body>{body}</body></html>"
    )
