"""What a person is told to do, in words that serve every front end, with the option of the command that does it.

Tasks and readers say what to do; the window has buttons for it, the command these options.
"""

from __future__ import annotations

import re

__all__ = ["with_options"]

_OPTIONS_OF_WORDS = (
    # Photographs.
    (r"its four corners", "--corners"),
    (r"as hide\b", "--hide-at"),
    (r"as floor\b", "--floor-at"),
    (r"Name the size", "--reference"),
    (r"in the picture of what was found", "--picture"),
    (r"as it is all the same", "--accept"),
    (
        r"Say of ('[^']*') that they mean punch here, mark here or nothing",
        r"--punch \1, --mark \1 or --ignore \1",
    ),
    # Drawings.
    (r"[Ll]eave out the layer ('[^']*')", r"--ignore-layer \1"),
    (r"give its layer the role \w+", "--layers"),
    (r"a table of layers can say otherwise", "--layers"),
    (r"join ends further apart than \S+ mm", "--join"),
    (r"allow repairs", "--repair"),
    # Plans and their files.
    (r"give the hide as it was", "--hide"),
    (r"give the job as it was", "--job"),
    (r"another folder for the plan", "--out"),
    (r"the hide as it lies now to another file", "--out"),
    # Kinds of hides.
    (r"Name a figure", "--set"),
)
"""Patterns of words, and the option that does what they say; parts of the pattern stand in it as `\\1`."""


def with_options(words: str) -> str:
    """Words that tell what to do, with the option that does each thing named where it is first spoken of."""
    for pattern, option in _OPTIONS_OF_WORDS:
        words = re.sub(pattern, rf"\g<0> ({option})", words, count=1)
    return words
