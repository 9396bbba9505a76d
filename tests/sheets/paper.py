"""A PDF looked at again: pages as images, the codes on them with their places, the words."""

from dataclasses import dataclass

import numpy as np
import pypdfium2
import zxingcpp

MM_PER_IN = 25.4
PT_PER_IN = 72.0
DARK = 128


@dataclass
class Code:
    """A decoded code and where its top left module begins."""

    text: str
    top_left_mm: tuple[float, float]


class Rendered:
    """All pages of a PDF at a resolution."""

    def __init__(self, body, dpi):
        self.dpi = dpi
        self._document = pypdfium2.PdfDocument(body)
        self.images = [page.render(scale=dpi / PT_PER_IN).to_pil().convert("L") for page in self._document]
        self.sizes_mm = [tuple(side / PT_PER_IN * MM_PER_IN for side in page.get_size()) for page in self._document]

    def codes(self, n_page):
        found = zxingcpp.read_barcodes(self.images[n_page], formats=zxingcpp.BarcodeFormat.QRCode)
        return [Code(one.text, (self._mm(one.position.top_left.x), self._mm(one.position.top_left.y)))
                for one in found]

    def _mm(self, pixels):
        return pixels / self.dpi * MM_PER_IN

    def ink_corner_mm(self, n_page):
        """Return the leftmost and the topmost ink of the page's upper third."""
        whole = np.asarray(self.images[n_page]) < DARK
        dark = whole[: whole.shape[0] // 3]
        return self._mm(float(np.argmax(dark.any(axis=0)))), self._mm(float(np.argmax(dark.any(axis=1))))

    @property
    def text(self):
        return "\n".join(page.get_textpage().get_text_range() for page in self._document)

    def font_sizes_pt(self):
        """Return each run of text with the height of its font."""
        runs = []
        for page in self._document:
            textpage = page.get_textpage()
            for one in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT]):
                size = pypdfium2.raw.c_float()
                pypdfium2.raw.FPDFTextObj_GetFontSize(one.raw, size)
                text = textpage.get_text_bounded(*one.get_bounds()).strip()
                runs.append((text, size.value * abs(one.get_matrix().d)))
        return runs
