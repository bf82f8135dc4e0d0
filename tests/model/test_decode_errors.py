"""Faults of files are told in words a maker of things reads: what is wrong, where, and what to write instead."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError
from nestplan.geometry.units import MM_PER_OUNCE
from nestplan.model.files import content_hash, read_hide, read_job, write_hide

SQUARE = [[0, 0], [100, 0], [100, 100], [0, 100]]


def hide_file(folder: Path, **keys: Any) -> Path:
    content = {"nestplan": 1, "kind": "hide", "name": "a", "leather": "b", "outline": SQUARE, **keys}
    path = folder / "a.hide.json"
    path.write_text(json.dumps(content))
    return path


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"thicknes": 1}, "There is no key 'thicknes' here. Did you mean 'thickness'?"),
        ({"quite_other": 1}, "There is no key 'quite_other' here. Take the key out, or use one of: "),
        ({"firmness": "3"}, "firmness: A whole number is expected here, not a text."),
        ({"firmness": 3.5}, "firmness: A whole number is expected here, not one with a fraction."),
        ({"flaws": {}}, "flaws: A list [ … ] is expected here, not an object { … }."),
        ({"flaws": [{"spoils": "all"}]}, "Use one of: flesh, grain, mark, through."),
        ({"name": ""}, "name: The text is empty."),
        ({"outline": [[0, 0, 0]]}, "outline[0]: A point [x, y], two numbers, is expected here."),
        ({"outline": [["0 in", 0]]}, "Write points as plain numbers in mm"),
        ({"thickness": [2.0]}, "A thickness has two figures, the least and the greatest."),
        ({"thickness": 2.0}, "A thickness is a range."),
        ({"thickness": [3.0, 2.0]}, "Thickness needs 0 < least ≤ most."),
    ],
)
def test_a_fault_is_told_in_words(tmp_path: Path, keys: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError) as told:
        read_hide(hide_file(tmp_path, **keys))
    assert words in str(told.value)
    assert "`" not in str(told.value)


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"overcut": {"least": 3}}, "There is no key 'overcut' here. It belongs in 'cuts'."),
        ({"hole": []}, "There is no key 'hole' here. Did you mean 'holes'?"),
        # `width` and `sizes` are keys of other records, and would be refused here too
        ({"wdith": 3}, "Take the key out, or use one of: name, outline, holes, marks, rows,"),
        (
            {"marks": [{"at": [5, 5], "do": "punch", "size": 3}]},
            "marks[0]: There is no key 'size' here. Take the key out, or use one of: at, do, diameter, length, angle,",
        ),
    ],
)
def test_a_key_is_offered_only_where_it_may_stand(tmp_path: Path, keys: dict[str, Any], words: str) -> None:
    piece = {"name": "p", "outline": SQUARE, **keys}
    job = {
        "nestplan": 1,
        "kind": "job",
        "name": "a",
        "articles": [{"name": "b", "sets": 1, "pieces": [piece]}],
    }
    path = tmp_path / "a.job.json"
    path.write_text(json.dumps(job))
    with pytest.raises(InputError) as told:
        read_job(path)
    assert words in str(told.value)


def test_a_missing_key_is_named(tmp_path: Path) -> None:
    path = tmp_path / "a.job.json"
    path.write_text('{"nestplan": 1, "kind": "job", "name": "a"}')
    with pytest.raises(InputError, match="The key 'articles' is missing"):
        read_job(path)


def test_a_thickness_is_read_as_the_trade_says_it_and_kept_when_written(tmp_path: Path) -> None:
    hide = read_hide(hide_file(tmp_path, thickness="5-6 oz"))
    assert hide.thickness == pytest.approx((5 * MM_PER_OUNCE, 6 * MM_PER_OUNCE))
    write_hide(tmp_path / "b.hide.json", hide)
    assert content_hash(read_hide(tmp_path / "b.hide.json")) == content_hash(hide)
