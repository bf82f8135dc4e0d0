"""Printing and exporting from the window: every paper, on the chosen size, at true size."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QAction, QPageLayout
from PySide6.QtPrintSupport import QPrinter

from nestplan.desk.output.exporting import booklet
from nestplan.drawing.pages import Booklet, Page
from nestplan.sheets.catalogue import Sheet, everything_to_export, register_sheet, unregister_sheet
from nestplan.tasks.contents import Contents
from tests.desk.small_work import laid_work

pdfium = pytest.importorskip("pypdfium2")


def printer_to(path):
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(path))
    return printer


@pytest.mark.parametrize("name", sorted(everything_to_export()))
def test_every_paper_is_written(window, tmp_path, name):
    window.document.open(laid_work(4), {})
    for ending in everything_to_export()[name].endings or ("",):
        path = tmp_path / f"made{ending}"
        assert window.session.papers.export_to(name, path), window.notice.words.text()
        assert path.exists()
        assert "Written" in window.notice.words.text()
        if not ending:
            assert {"cut-sheet.pdf", "full-size.pdf", "job-sheet.pdf"} <= {
                made.name for made in path.iterdir()
            }


def test_a_paper_that_needs_a_plan_says_so(window, tmp_path):
    assert not window.session.papers.export_to("cut sheet", tmp_path / "sheet.pdf")
    assert "needs a plan (step 4)" in window.notice.words.text()
    assert not (tmp_path / "sheet.pdf").exists()


def test_a_folder_that_cannot_be_written_is_told(window, tmp_path):
    window.document.open(laid_work(2), {})
    assert not window.session.papers.export_to("picture", tmp_path / "no such folder" / "plan.png")
    assert window.notice.isVisible()


@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_printed_sheets_are_of_the_chosen_paper_and_at_true_size(window, tmp_path, paper, size):
    window.document.open(laid_work(4), {})
    window.settings.paper = paper
    assert window.session.papers.print_on("full size", printer_to(tmp_path / "printed.pdf"))
    pages = booklet("full size", window.document.contents, "mm", paper).pages
    printed = pdfium.PdfDocument(tmp_path / "printed.pdf")
    try:
        assert len(printed) == len(pages)
        for number in range(len(printed)):
            # Qt rounds a page to whole points.
            assert [side * 25.4 / 72 for side in printed[number].get_size()] == pytest.approx(size, abs=0.5)
        dots = 200
        picture = printed[0].render(scale=dots / 72).to_pil().convert("L")
    finally:
        printed.close()
    from nestplan.drawing.png import png_image

    meant = png_image(pages[0], dots_per_inch=dots).convert("L")
    where = [image.point(lambda value: 255 if value < 128 else 0).getbbox() for image in (picture, meant)]
    # All that is drawn begins and ends at the same places, to a quarter of a millimetre.
    assert where[0] == pytest.approx(where[1], abs=2)


def test_nothing_is_printed_without_a_plan(window, tmp_path):
    window.document.open(Contents(), {})
    assert not window.session.papers.print_on("cut sheet", printer_to(tmp_path / "printed.pdf"))
    assert "needs a plan" in window.notice.words.text()


@pytest.fixture
def toy_sheet():
    """A toy sheet in the catalogue for as long as a test runs."""

    def pages(given):
        page = Page(100.0, 100.0)
        page.picture.text(20.0, 50.0, given.the_plan.name)
        return Booklet("Toy", [page])

    register_sheet(Sheet("toy", "toy sheet", "Toy sheet", "Toy sheet (PDF)", "toy.pdf", pages))
    yield
    unregister_sheet("toy")


def test_a_sheet_put_into_the_catalogue_is_found_in_the_menus_printed_and_written(
    toy_sheet, window, tmp_path
):
    words = [action.text() for action in window.findChildren(QAction)]
    assert "Print: toy sheet …" in words
    assert "Toy sheet (PDF) …" in words
    window.document.open(laid_work(4), {})
    assert window.session.papers.export_to("toy", tmp_path / "toy.pdf"), window.notice.words.text()
    assert window.session.papers.print_on("toy", printer_to(tmp_path / "printed.pdf")), (
        window.notice.words.text()
    )
    for name in ("toy", "printed"):
        document = pdfium.PdfDocument(tmp_path / f"{name}.pdf")
        assert len(document) == 1
        document.close()


def previewed(pages, qtbot, tmp_path, then=lambda view: None):
    """The sizes (mm) of the pages that a preview of a booklet shows, and what Qt complained of meanwhile."""
    from PySide6.QtCore import QtMsgType, qInstallMessageHandler
    from PySide6.QtPrintSupport import QPrintPreviewWidget

    from nestplan.desk.output.printing import preview_booklet

    said = []
    before = qInstallMessageHandler(
        lambda kind, _, words: said.append(words) if kind is not QtMsgType.QtDebugMsg else None
    )
    try:
        printer = printer_to(tmp_path / "from the preview.pdf")
        view = QPrintPreviewWidget(printer)
        qtbot.addWidget(view)
        view.paintRequested.connect(lambda printer: preview_booklet(Booklet("pages", pages), printer))
        view.updatePreview()
        shown = (view.pageCount(), printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter).size())
        then(view)
    finally:
        qInstallMessageHandler(before)
    return shown, [words for words in said if "propagateSizeHints" not in words]


def test_pages_of_different_sizes_are_previewed_without_a_complaint(qapp, qtbot, tmp_path):
    pages = [Page(210, 297), Page(600, 200), Page(297, 420)]
    (count, size), said = previewed(pages, qtbot, tmp_path)
    assert count == 3
    assert (size.width(), size.height()) == pytest.approx((600, 420), abs=0.5)
    assert said == []


def test_what_is_printed_from_a_preview_is_the_sheet_itself_and_no_picture_of_it(qapp, qtbot, tmp_path):
    pages = [Page(210, 297), Page(600, 200)]
    previewed(pages, qtbot, tmp_path, then=lambda view: view.print_())
    printed = pdfium.PdfDocument(tmp_path / "from the preview.pdf")
    try:
        sizes = [tuple(side * 25.4 / 72 for side in printed[n].get_size()) for n in range(len(printed))]
    finally:
        printed.close()
    assert sizes == [pytest.approx((210, 297), abs=0.5), pytest.approx((600, 200), abs=0.5)]
