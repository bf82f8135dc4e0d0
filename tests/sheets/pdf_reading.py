"""A PDF read back with PDFium: its lines in mm, its words, whether its fonts are inside. For tests only."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

MM = 25.4 / 72.0


@dataclass
class ReadPage:
    """One page: size in mm, every line (n, 2) in mm from the lower left corner, the box of every object, the words."""

    width: float
    height: float
    lines: list[np.ndarray] = field(default_factory=list)
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)
    words: str = ""
    fonts: dict[str, bool] = field(default_factory=dict)


def read_pdf(source: bytes | Path) -> list[ReadPage]:
    """All pages. Curves come as the straight lines between their end points."""
    document = pypdfium2.PdfDocument(source)
    pages = []
    for number in range(len(document)):
        page = document[number]
        width, height = page.get_size()
        read = ReadPage(width * MM, height * MM)
        for item in page.get_objects(max_depth=1):
            left, bottom, right, top = item.get_bounds()
            read.boxes.append((left * MM, bottom * MM, right * MM, top * MM))
            if item.type == pdfium.FPDF_PAGEOBJ_PATH:
                read.lines.extend(_lines(item.raw))
            elif item.type == pdfium.FPDF_PAGEOBJ_TEXT:
                font = pdfium.FPDFTextObj_GetFont(item.raw)
                read.fonts[_font_name(font)] = bool(pdfium.FPDFFont_GetIsEmbedded(font))
        text = page.get_textpage()
        read.words = text.get_text_range()
        text.close()
        page.close()
        pages.append(read)
    document.close()
    return pages


def _lines(item: object) -> list[np.ndarray]:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(item, matrix)
    lines: list[np.ndarray] = []
    current: list[tuple[float, float]] = []
    for index in range(pdfium.FPDFPath_CountSegments(item)):
        segment = pdfium.FPDFPath_GetPathSegment(item, index)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        px = matrix.a * x.value + matrix.c * y.value + matrix.e
        py = matrix.b * x.value + matrix.d * y.value + matrix.f
        if pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_MOVETO:
            if len(current) > 1:
                lines.append(np.array(current))
            current = []
        current.append((px * MM, py * MM))
        if pdfium.FPDFPathSegment_GetClose(segment):
            current.append(current[0])
    if len(current) > 1:
        lines.append(np.array(current))
    return lines


def _font_name(font: object) -> str:
    buffer = ctypes.create_string_buffer(256)
    pdfium.FPDFFont_GetBaseFontName(font, buffer, 256)
    return buffer.value.decode()
