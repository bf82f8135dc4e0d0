"""Sheets on a printer: the same pages as in the PDF, each at its true size.

A page is drawn as a picture of 300 dots an inch, or into a PDF as lines; nothing is scaled to fit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QMarginsF, QRectF, QSizeF
from PySide6.QtGui import QImage, QPageLayout, QPageSize, QPaintEngine, QPainter

from nestplan.errors import InputError

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from nestplan.drawing.pages import Booklet

__all__ = ["preview_booklet", "print_booklet"]

_DOTS_PER_INCH = 300.0


_PREVIEW_DOTS_PER_INCH = 110.0
"""For looking at a sheet before it is printed."""


def preview_booklet(booklet: Booklet, printer: QPrinter) -> None:
    """Draw every page of a booklet for a look at it, or print it where the look is over and `printer` is to print.

    Raises InputError if that does not begin.
    """
    if printer.paintEngine().type() is not QPaintEngine.Type.Picture:
        print_booklet(booklet, printer)
        return
    # What is looked at has one size of paper: the smaller pages lie in the corner of a sheet for the largest.
    room = (max(page.width for page in booklet.pages), max(page.height for page in booklet.pages))
    _draw_pages(booklet, printer, _PREVIEW_DOTS_PER_INCH, room)


def print_booklet(booklet: Booklet, printer: QPrinter) -> None:
    """Print every page of a booklet at true size.

    Raises InputError if the printer does not begin.
    """
    from PySide6.QtPrintSupport import QPrinter

    from nestplan.drawing.pdf import write_pdf

    if printer.outputFormat() == QPrinter.OutputFormat.PdfFormat:
        write_pdf(booklet, printer.outputFileName())  # lines and letters, not pictures of them
        return
    _draw_pages(booklet, printer, _DOTS_PER_INCH)


def _draw_pages(
    booklet: Booklet, printer: QPrinter, dots_per_inch: float, room: tuple[float, float] | None = None
) -> None:
    """Draw each page on a sheet of its own size, or all on sheets of one size (`room`, width and height in mm)."""
    from nestplan.drawing.png import png_image

    printer.setFullPage(True)
    printer.setDocName(booklet.title)
    painter = QPainter()
    for number, page in enumerate(booklet.pages):
        size = QPageSize(QSizeF(*(room or (page.width, page.height))), QPageSize.Unit.Millimeter)
        layout = QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0))
        if number == 0 or layout != printer.pageLayout():
            # A printer at work complains of a layout, even of the one that it has.
            printer.setPageLayout(layout)
        if number == 0:
            if not painter.begin(printer):
                raise InputError(
                    "The printer does not answer.", mend="Choose another one, or write a PDF (File, Export)."
                )
        else:
            printer.newPage()
        picture = png_image(page, dots_per_inch=dots_per_inch).convert("RGB")
        raw = picture.tobytes()
        image = QImage(raw, picture.width, picture.height, 3 * picture.width, QImage.Format.Format_RGB888)
        dots = printer.resolution() / 25.4
        painter.drawImage(QRectF(0, 0, page.width * dots, page.height * dots), image)
    painter.end()
