"""The colours: eight, all different, light and dark enough to be told apart without hue too."""

from __future__ import annotations

from nestplan.drawing import colors


def luminance(color: str) -> float:
    """Relative luminance of an sRGB colour (IEC 61966-2-1; WCAG 2.1), 0 black to 1 white."""
    shares = [int(color[n : n + 2], 16) / 255.0 for n in (1, 3, 5)]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_the_colours_are_eight_and_differ() -> None:
    values = [getattr(colors, name) for name in colors.__all__]
    assert len(set(values)) == 8
    assert all(len(value) == 7 and value.startswith("#") for value in values)


def test_the_colours_that_draw_lines_read_on_white() -> None:
    for color in (colors.BLACK, colors.BLUE, colors.VERMILLION, colors.GREEN):
        assert 1.05 / (luminance(color) + 0.05) >= 3.0
