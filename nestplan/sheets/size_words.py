"""An article's size in words: what it adds to the wearer's measures, and what it fits."""

from __future__ import annotations

from nestplan.model import Article
from nestplan.model.sizes import Size
from nestplan.sheets.unit_formatting import UnitFormatter

__all__ = ["changes_words", "fits_words"]


def changes_words(size: Size, formatter: UnitFormatter) -> str:
    """What a size adds to the wearer's measures: `waist +40 mm, length -10 mm`."""
    told = [
        f"{measure} {'+' if change >= 0.0 else '-'}{formatter.length(abs(change))}"
        for measure, change in size.changes.items()
    ]
    return ", ".join(told) or "as drawn"


def fits_words(article: Article, formatter: UnitFormatter) -> str:
    """What an article fits: `fits waist 700 mm to 760 mm`, or by its laced joins, `fits 700 mm to 760 mm round`; ""
    where nothing is said of it."""
    told = [f"{measure} {_range(least, most, formatter)}" for measure, (least, most) in article.fits.items()]
    laced = article.wearer_range
    if not told and laced is not None:
        told = [f"{_range(laced.closed, laced.widest, formatter)} round"]
    return f"fits {', '.join(told)}" if told else ""


def _range(least: float, most: float, formatter: UnitFormatter) -> str:
    words, end = formatter.length(least), formatter.length(most)
    return words if words == end else f"{words} to {end}"
