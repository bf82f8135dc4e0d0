from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.files import read_hide, to_text, write_hide
from nestplan.tasks.cutting import cut_plan, find_cut
from nestplan.tasks.rack import HideWishes, keep_marked_area, list_finished_jobs, list_rack
from tests.small_jobs import plain_hide
from tests.tasks.small_rack import small_rack


def test_the_rack_lists_what_satisfies_the_wishes_and_how_many_there_are(tmp_path: Path) -> None:
    small_rack(tmp_path)
    write_hide(tmp_path / "goat.hide.json", plain_hide("goat", leather="goat", thickness=(0.8, 1.0)))
    write_hide(tmp_path / "oats.hide.json", plain_hide("oats", used="belts"))
    (tmp_path / "broken.hide.json").write_text("{")
    found = list_rack(tmp_path, HideWishes(leather=("goat",), thickness=(0.9, 2.0)))
    assert [entry.hide.name for entry in found.hides] == ["goat"]
    assert (found.total, len(found.faults)) == (4, 1)
    assert list_rack(tmp_path).area == pytest.approx(3 * 800_000)
    assert len(list_rack(tmp_path, HideWishes(used=True)).hides) == 4
    assert list_rack(tmp_path, HideWishes(least_area=800_001.0)).hides == ()


def test_finished_jobs_come_with_the_workshops_own_yields(tmp_path: Path) -> None:
    plan = small_rack(tmp_path)
    assert list_finished_jobs(tmp_path).jobs == ()
    cut_plan(find_cut(plan))
    found = list_finished_jobs(tmp_path)
    assert [job.job for job in found.jobs] == ["small"]
    assert [row.leather for row in found.yields] == ["cow side", ""]
    with pytest.raises(InputError, match="no such folder"):
        list_finished_jobs(tmp_path / "none")


def test_the_sellers_area_is_kept_beside_the_measured_one(tmp_path: Path) -> None:
    path = tmp_path / "a.hide.json"
    write_hide(path, plain_hide())
    marked = keep_marked_area(path, 10 * MM2_PER_FT2)
    assert to_text(read_hide(path)) == to_text(marked.hide)
    assert float(marked.hide.stated_area or 0.0) == pytest.approx(10 * MM2_PER_FT2)
    # 0.8 m² are 8.611 square feet.
    assert marked.excess == pytest.approx(8.611 / 10 - 1, abs=1e-4)
