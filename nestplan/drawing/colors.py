"""Eight colours that colour-blind eyes tell apart.

The set of Okabe and Ito (2008), "Color Universal Design: how to make figures and presentations that are friendly to
colorblind people".
"""

from __future__ import annotations

__all__ = ["BLACK", "BLUE", "GREEN", "ORANGE", "PURPLE", "SKY", "VERMILLION", "YELLOW"]

BLACK, ORANGE, SKY, GREEN = "#000000", "#e69f00", "#56b4e9", "#009e73"
YELLOW, BLUE, VERMILLION, PURPLE = "#f0e442", "#0072b2", "#d55e00", "#cc79a7"
