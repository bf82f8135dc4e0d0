from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.model.cut_journal import JOURNAL_NAME, RackRepair
from nestplan.tasks.cutting import cut_plan, find_cut
from nestplan.tasks.opening import open_files
from nestplan.tasks.settling import settle_folders, settle_hides
from tests.tasks.small_rack import contents_of, small_rack


@pytest.fixture
def broken(tmp_path: Path) -> tuple[Path, dict[str, bytes]]:
    """A rack with a cut that broke off, in a folder of racks; and its files before."""
    rack = tmp_path / "rack"
    plan = small_rack(rack)
    before = contents_of(rack)
    cut_plan(find_cut(plan))
    journal = rack / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))
    return rack, before


def test_a_rack_is_put_right_once_and_it_is_told(broken: tuple[Path, dict[str, bytes]]) -> None:
    rack, before = broken
    told: list[RackRepair] = []
    settle_folders([rack, rack / "out" / ".."], told.append)
    assert [(repair.folder, repair.was) for repair in told] == [(rack.resolve(), "cut")]
    assert contents_of(rack) == before


def test_racks_inside_a_folder_are_put_right_where_that_is_asked(
    broken: tuple[Path, dict[str, bytes]],
) -> None:
    rack, before = broken
    settle_folders([rack.parent])
    assert contents_of(rack) != before
    settle_folders([rack.parent], inside=True)
    assert contents_of(rack) == before


def test_the_folder_of_a_hide_is_put_right_also_through_a_link(
    broken: tuple[Path, dict[str, bytes]], tmp_path: Path
) -> None:
    rack, before = broken
    (tmp_path / "b.hide.json").symlink_to(rack / "barley.hide.json")
    settle_hides([tmp_path / "b.hide.json", tmp_path / "none" / "c.hide.json"])
    assert contents_of(rack) == before


@pytest.mark.parametrize("name", ["", "rye.hide.json", "small.job.json", "out/plan.json"])
def test_whatever_the_window_opens_of_a_rack_puts_it_right(
    broken: tuple[Path, dict[str, bytes]], name: str
) -> None:
    rack, before = broken
    told: list[RackRepair] = []
    opened = open_files([rack / name], on_repair=told.append)
    assert len(told) == 1
    assert contents_of(rack) == before
    assert not any(hide.used for hide in opened.hides)


def test_a_rack_that_cannot_be_put_right_is_not_read(broken: tuple[Path, dict[str, bytes]]) -> None:
    rack, _ = broken
    (rack / "barley-offcut-1.hide.json").write_text("someone's own work")
    with pytest.raises(InputError, match="cannot be taken back"):
        open_files([rack / "rye.hide.json"])
