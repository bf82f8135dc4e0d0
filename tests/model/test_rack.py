"""The rack: what it lists, what it leaves out, and what an offcut keeps of its hide."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely

from nestplan.errors import InputError
from nestplan.model import Disc, Flaw, Hide, Line, Region
from nestplan.model.files import content_hash, read_hide, to_text, write_hide
from nestplan.model.rack import file_name_for, matching_hides, offcut_hide, offcut_hides, read_rack
from nestplan.model.rules import zones_of
from tests.small_jobs import plain_hide

LEFT = shapely.box(0, 0, 400, 800)


def offcut(parent: Hide, polygon: shapely.Polygon = LEFT) -> Hide:
    return offcut_hide(
        parent, polygon, name="rest", parent_hash="p" * 64, plan_hash="q" * 64, date="2031-05-01"
    )


def test_a_rack_lists_its_hides_and_tells_of_files_it_cannot_read(tmp_path: Path) -> None:
    (tmp_path / "shed").mkdir()
    write_hide(tmp_path / "b.hide.json", plain_hide("barley"))
    write_hide(tmp_path / "shed" / "r.hide.json", plain_hide("rye"))
    write_hide(tmp_path / "twin.hide.json", plain_hide("barley"))
    (tmp_path / "broken.hide.json").write_text("{")
    rack = read_rack(tmp_path)
    assert [entry.hide.name for entry in rack.hides] == ["barley", "rye"]
    assert rack.hides[0].hash == content_hash(plain_hide("barley"))
    assert sorted(Path(fault.file).name for fault in rack.faults) == ["broken.hide.json", "twin.hide.json"]
    with pytest.raises(InputError, match="no such folder"):
        read_rack(tmp_path / "none")


def test_hides_are_picked_by_leather_thickness_and_area(tmp_path: Path) -> None:
    hides = [
        plain_hide("a", thickness=(1.0, 1.4)),
        plain_hide("b", leather="goat skin", thickness=(0.8, 1.0)),
        plain_hide("c", outline=((0, 0), (500, 0), (500, 400), (0, 400)), backbone=None),
        plain_hide("d", used="spring job"),
    ]
    for hide in hides:
        write_hide(tmp_path / f"{hide.name}.hide.json", hide)
    rack = read_rack(tmp_path).hides

    def names(**wishes: object) -> list[str]:
        return [entry.hide.name for entry in matching_hides(rack, **wishes)]  # type: ignore[arg-type]

    assert names() == ["a", "b", "c"]
    assert names(used=True) == ["a", "b", "c", "d"]
    assert names(leather=["COW"]) == ["a", "c"]
    assert names(leather=["goat skin"]) == ["b"]
    assert names(leather=["ow"]) == []
    assert names(thickness=(1.4, 2.0)) == ["a"]
    assert names(thickness=(1.0, 1.0)) == ["a", "b"]
    assert names(least_area=700_000) == ["a", "b"]
    assert names(most_area=700_000) == ["c"]


def test_an_offcut_keeps_leather_thickness_backbone_and_history() -> None:
    parent = plain_hide(thickness=(2.0, 2.4), lot="17", stated_area=850_000.0)
    rest = offcut(parent)
    assert (rest.leather, rest.thickness, rest.backbone, rest.lot) == (
        parent.leather,
        parent.thickness,
        parent.backbone,
        "17",
    )
    assert rest.gross_area == pytest.approx(320_000)
    assert rest.price == pytest.approx(40.0)
    assert rest.stated_area is None
    assert rest.stretch_axis == parent.stretch_axis
    assert rest.origin is not None
    assert (rest.origin.how, rest.origin.parent, rest.origin.parent_hash) == ("offcut", "plain", "p" * 64)
    assert (rest.origin.plan_hash, rest.origin.date) == ("q" * 64, "2031-05-01")


def test_flaws_are_clipped_to_the_offcut_and_whole_ones_stay_as_they_are() -> None:
    whole = Flaw(spoils="through", name="whole", disc=Disc(at=(100, 100), diameter=20), margin=3)
    halved = Flaw(spoils="grain", name="halved", disc=Disc(at=(400, 400), diameter=40), margin=5)
    gone = Flaw(spoils="grain", name="gone", disc=Disc(at=(700, 400), diameter=40), margin=5)
    scratch = Flaw(spoils="grain", name="scratch", line=Line(points=((300, 600), (600, 600)), width=4))
    rest = offcut(plain_hide(flaws=(whole, halved, gone, scratch)))
    assert [flaw.name for flaw in rest.flaws] == ["whole", "halved", "scratch"]
    assert rest.flaws[0] == whole
    half = shapely.Polygon(rest.flaws[1].ring)
    assert half.area == pytest.approx(3.14159 * 400 / 2, rel=0.01)
    assert half.bounds[2] <= 400 + 1e-6
    assert rest.flaws[1].margin == 5


def test_the_margin_of_a_flaw_that_was_cut_away_stays() -> None:
    near = Flaw(spoils="through", name="near", disc=Disc(at=(415, 400), diameter=20), margin=12)
    (left,) = offcut(plain_hide(flaws=(near,))).flaws
    assert left.margin == 0.0
    assert "cut away" in left.note
    # The margin's circle of 22 mm round (415, 400) reaches 7 mm into the offcut.
    assert shapely.Polygon(left.ring).bounds[0] == pytest.approx(393, abs=0.2)


def test_regions_are_clipped_and_mean_the_same_as_before() -> None:
    parent = plain_hide(
        regions=(
            Region(
                name="belly", outline=((0, 0), (1000, 0), (1000, 800), (0, 800)), firmness=1, stretch="all"
            ),
            Region(name="bend", outline=((100, 200), (900, 200), (900, 600), (100, 600)), firmness=5),
            Region(name="neck", outline=((900, 0), (1000, 0), (1000, 800), (900, 800)), firmness=3),
        )
    )
    # A U of leather: the bend falls into two parts there.
    polygon = shapely.box(0, 0, 800, 800) - shapely.box(300, 150, 500, 900)
    rest = offcut(parent, polygon)
    assert [region.name for region in rest.regions] == ["belly", "bend"]
    before = {zone.name: zone.area.intersection(polygon).area for zone in zones_of(parent)}
    after = {zone.name: (zone.area.area, zone.firmness, zone.stretch) for zone in zones_of(rest)}
    assert after["bend"] == (pytest.approx(before["bend"]), 5, parent.stretch_axis)
    assert after["belly"] == (pytest.approx(before["belly"]), 1, "all")


def test_offcuts_are_named_largest_first_and_shun_names_that_are_taken(tmp_path: Path) -> None:
    polygons = [shapely.box(0, 0, 100, 100), shapely.box(200, 0, 500, 300)]
    made = offcut_hides(
        plain_hide(), polygons, parent_hash="p", plan_hash="q", date="", taken=["plain, offcut 1"]
    )
    assert [(hide.name, round(hide.gross_area)) for hide in made] == [
        ("plain, offcut 2", 90_000),
        ("plain, offcut 3", 10_000),
    ]
    for hide in made:
        path = file_name_for(hide.name, tmp_path)
        write_hide(path, hide)
        assert to_text(read_hide(path)) == to_text(hide)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "plain-offcut-2.hide.json",
        "plain-offcut-3.hide.json",
    ]
    assert file_name_for("Plain / offcut 2", tmp_path).name == "plain-offcut-2-2.hide.json"
    assert file_name_for("../..", tmp_path).parent == tmp_path


def test_an_offcut_with_an_opening_keeps_it() -> None:
    rest = offcut(plain_hide(), shapely.box(0, 0, 400, 800) - shapely.box(100, 100, 200, 200))
    assert rest.gross_area == pytest.approx(310_000)
    assert len(rest.holes) == 1


@pytest.mark.parametrize(
    "polygon", [shapely.box(900, 0, 1200, 100), shapely.Polygon(), shapely.box(-99, -99, -9, -9)]
)
def test_an_offcut_off_its_hide_is_refused(polygon: shapely.Polygon) -> None:
    with pytest.raises(InputError, match="does not lie on the hide"):
        offcut(plain_hide(), polygon)
