"""Good files of every format that is read, made by our own code or drawn by hand: what mutations begin with."""

from __future__ import annotations

import functools
import hashlib
import io
import json
import random
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from nestplan.geometry.pose import Pose
from nestplan.intake.drawings.layers import layer_table_text
from nestplan.model import (
    Article,
    Disc,
    Flaw,
    Job,
    LayerCut,
    Line,
    Mark,
    Overcut,
    Piece,
    Region,
    StretchRule,
    Strip,
)
from nestplan.model.files import to_text
from nestplan.model.job_log import FinishedHide, FinishedJob, job_log_line
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Sizes
from nestplan.resources import demo_folder
from nestplan.tasks.article_sizes import SizesWish, with_sizes
from tests.intake.drawings.test_apparel import front, half_back, pattern
from tests.intake.small_drawings import dxf, svg
from tests.small_jobs import HANDED, laced_job, laid, one_piece_job, plain_hide, plan_of

__all__ = ["seeds_of"]


@functools.cache
def seeds_of(name: str) -> tuple[bytes, ...]:
    """The good files that mutations of a format begin with."""
    return _SEEDS[name]()


def _hides() -> tuple[bytes, ...]:
    rich = plain_hide(
        flaws=(
            Flaw(spoils="through", disc=Disc(at=(500.0, 400.0), diameter=40.0), margin=3.0),
            Flaw(spoils="grain", line=Line(points=((50.0, 60.0), (90.0, 80.0)), width=2.0)),
            Flaw(spoils="flesh", outline=((10.0, 10.0), (60.0, 10.0), (60.0, 50.0))),
        ),
        regions=(
            Region(name="bend", outline=((0, 0), (500, 0), (500, 800), (0, 800)), firmness=5, stretch=90.0),
            Region(name="belly", outline=((500, 0), (1000, 0), (1000, 800), (500, 800)), stretch="all"),
        ),
        holes=(((700.0, 100.0), (760.0, 100.0), (760.0, 160.0)),),
        thickness=(2.0, 2.4),
    )
    demo = (demo_folder() / "goat_skin_clover.hide.json").read_bytes()
    by_hand = {
        "nestplan": 1,
        "kind": "hide",
        "name": "by hand",
        "leather": "cow side",
        "outline": [[0, 0], [1000, 0], [1000, 800], [0, 800]],
        "thickness": ["5 oz", "6 oz"],
        "stated_area": "22 1/2 ft2",
        "stretch": 90,
    }
    return to_text(rich).encode(), to_text(rich).encode(), json.dumps(by_hand).encode(), demo


def _rich_job() -> Job:
    piece = Piece(
        name="panel",
        outline=HANDED,
        pair=True,
        cuts=(
            LayerCut(layer="outer", overcut=Overcut(least=2.0, wished=4.0)),
            LayerCut(layer="lining", stretch=StretchRule(axis=90.0, tolerance=20.0)),
        ),
        marks=(Mark(at=(20.0, 20.0), do="punch", diameter=4.0),),
        holes=(((30.0, 30.0), (40.0, 30.0), (40.0, 40.0)),),
    )
    job = one_piece_job(piece, sets=3, gap=1.5)
    strips = (
        Strip(name="strap", width=20.0, length=700.0, joins=1, tolerance=2.0, layer="outer"),
        Strip(name="lace", width=6.35, length=900.0, count=3, use="lace", source="either", layer="outer"),
    )
    article = msgspec.structs.replace(job.articles[0], strips=strips)
    return msgspec.structs.replace(job, articles=(article,))


def _jobs() -> tuple[bytes, ...]:
    demo = (demo_folder() / "quillmere.job.json").read_bytes()
    return (
        to_text(_rich_job()).encode(),
        to_text(laced_job()).encode(),
        to_text(one_piece_job()).encode(),
        to_text(_sized_job()).encode(),
        demo,
    )


def _sized_job() -> Job:
    """A laced belt in inches, in three sizes that meet at a seam, one of which fits a range."""
    front = Piece(name="front", outline=((0, 0), (110, 0), (110, 130), (0, 130)), marks=(Mark(at=(55, 60)),))
    side = Piece(name="side", outline=((0, 0), (140, 0), (140, 130), (0, 130)), around=((0, 65), (140, 65)))
    seam = Seam(first=(Edge(piece="front", side="right"),), second=(Edge(piece="side", side="left"),))
    belt = Article(name="belt", sets=2, pieces=(front, side), seams=(seam,))
    sizes = Sizes(
        others=(Size(name="L", changes={"waist": 25.0}), Size(name="S", changes={"waist": -25.0})),
        measures=(Measure(name="waist", pieces=(Growth(name="front"), Growth(name="side"))),),
    )
    wish = SizesWish(article="belt", sizes=sizes, drawn="M", sets={"L": 3}, fits={"waist": (700, 750)})
    return msgspec.structs.replace(with_sizes(Job(name="belts", articles=(belt,)), wish).job, units="in")


def _plans() -> tuple[bytes, ...]:
    job, hide = one_piece_job(sets=2), plain_hide("barley")
    piece = job.articles[0].pieces[0]
    placements = [
        laid(job, piece, Pose(0, 0), hide="barley"),
        laid(job, piece, Pose(120, 0), hide="barley", copy=2, set=2),
    ]
    return (to_text(plan_of(job, [hide], placements)).encode(),)


def _journals() -> tuple[bytes, ...]:
    hide = to_text(plain_hide("barley"))
    used = to_text(plain_hide("barley", used="small"))
    after = hashlib.sha256(used.encode()).hexdigest()
    cuts = [
        {
            "id": f"{'ab' * 31}{state[:2].encode().hex()[:2]}",
            "date": "2026-01-02T03:04:05",
            "plan": "small",
            "state": state,
            "changes": [
                {"file": "barley.hide.json", "before": hide, "after": after},
                {"file": "barley-offcut-1.hide.json", "before": None, "after": after},
            ],
        }
        for state in ("done", "begun", "undoing", "undone")
    ]
    made = [{"nestplan": 1, "kind": "cuts", "cuts": part} for part in (cuts[:1], cuts[1:2], cuts[2:3], cuts)]
    return tuple(json.dumps(each).encode() for each in made)


def _logs() -> tuple[bytes, ...]:
    log = FinishedJob(
        id="ab" * 32,
        date="2026-01-02",
        plan="belts",
        plan_hash="cd" * 32,
        job="belts",
        leather="cow side",
        hides=(FinishedHide(name="barley", gross=8e5, price=100.0),),
        net=1e5,
        gross=8e5,
        really_used=7e5,
        planned_yield=0.2,
    )
    return ((job_log_line(log) + "\n").encode() * 3,)


def _works() -> tuple[bytes, ...]:
    hide, job = plain_hide("barley"), one_piece_job(sets=2)
    plan = plan_of(job, [hide], [laid(job, job.articles[0].pieces[0], Pose(0, 0), hide="barley")])
    plain: dict[str, Any] = {
        "saved": 1.7e9,
        "files": {"barley": "/tmp/barley.hide.json", "": "/tmp/a.job.json"},
        "fingerprints": {"/tmp/barley.hide.json": "ab"},
        "hides": [json.loads(to_text(hide))],
        "job": json.loads(to_text(job)),
        "plan": json.loads(to_text(plan)),
        "photos": [{"hide": "barley", "file": "/tmp/a.jpg", "matrix": [1, 0, 0, 0, 1, 0, 0, 0, 1]}],
        "planning": True,
        "draft": json.loads(to_text(plan)),
    }
    return (json.dumps(plain).encode(),)


def _locks() -> tuple[bytes, ...]:
    return (json.dumps({"process": 4_000_000, "host": "elsewhere"}).encode(), b'{"process": 1, "host": ""}')


def _marks() -> tuple[bytes, ...]:
    return b"../rack", b"rack", b".", b"../../.."


def _made(build: Callable[[Path], object], suffix: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"made{suffix}"
        build(path)
        return path.read_bytes()


def _dxf_files() -> tuple[bytes, ...]:
    def build(document: Any, space: Any) -> None:
        block = document.blocks.new("B")
        block.add_lwpolyline([(0, 0, 0), (100, 0, 0.5), (100, 60, 0), (0, 60, 0)], format="xyb", close=True)
        block.add_circle((20, 20), 2)
        space.add_blockref("B", (5, 5), dxfattribs={"rotation": 20, "xscale": 2})
        space.add_spline([(300, 0), (330, 30), (360, 0), (330, -30), (300, 0)])
        space.add_ellipse((600, 0), (50, 0), 0.5)
        space.add_polyline2d([(700, 0), (760, 0), (760, 40)], close=True)
        for ends in (((800, 0), (850, 0)), ((850, 0), (850, 50)), ((850, 50), (800, 0))):
            space.add_line(*ends)
        space.add_text("panel", dxfattribs={"insert": (810, 5)})

    def binary(path: Path) -> None:
        dxf(path.with_suffix(".1.dxf"), build)
        import ezdxf

        ezdxf.readfile(path.with_suffix(".1.dxf")).saveas(path, fmt="bin")

    plain = _made(lambda path: dxf(path, build, version="R2000"), ".dxf")
    sewn = _made(lambda path: pattern(path, ("FRONT-M", front), ("BACK-M", half_back)), ".dxf")
    return _DXF_BY_HAND, _DXF_BY_HAND, plain, sewn, _made(binary, ".dxf")


_DXF_BY_HAND = "\n".join(
    [
        "0",
        "SECTION",
        "2",
        "HEADER",
        "9",
        "$ACADVER",
        "1",
        "AC1009",
        "9",
        "$INSUNITS",
        "70",
        "4",
        "0",
        "ENDSEC",
        "0",
        "SECTION",
        "2",
        "TABLES",
        "0",
        "TABLE",
        "2",
        "LAYER",
        "70",
        "1",
        "0",
        "LAYER",
        "2",
        "outline",
        "70",
        "0",
        "62",
        "7",
        "6",
        "CONTINUOUS",
        "0",
        "ENDTAB",
        "0",
        "ENDSEC",
        "0",
        "SECTION",
        "2",
        "BLOCKS",
        "0",
        "BLOCK",
        "8",
        "0",
        "2",
        "B",
        "70",
        "0",
        "10",
        "0",
        "20",
        "0",
        "3",
        "B",
        "0",
        "POLYLINE",
        "8",
        "0",
        "66",
        "1",
        "70",
        "1",
        "0",
        "VERTEX",
        "8",
        "0",
        "10",
        "0",
        "20",
        "0",
        "0",
        "VERTEX",
        "8",
        "0",
        "10",
        "40",
        "20",
        "0",
        "42",
        "0.5",
        "0",
        "VERTEX",
        "8",
        "0",
        "10",
        "40",
        "20",
        "30",
        "0",
        "SEQEND",
        "0",
        "ENDBLK",
        "0",
        "ENDSEC",
        "0",
        "SECTION",
        "2",
        "ENTITIES",
        "0",
        "INSERT",
        "8",
        "0",
        "2",
        "B",
        "10",
        "5",
        "20",
        "5",
        "41",
        "2",
        "50",
        "20",
        "0",
        "CIRCLE",
        "8",
        "outline",
        "10",
        "200",
        "20",
        "0",
        "40",
        "30",
        "0",
        "LINE",
        "8",
        "0",
        "10",
        "300",
        "20",
        "0",
        "11",
        "350",
        "21",
        "0",
        "0",
        "LINE",
        "8",
        "0",
        "10",
        "350",
        "20",
        "0",
        "11",
        "350",
        "21",
        "40",
        "0",
        "LINE",
        "8",
        "0",
        "10",
        "350",
        "20",
        "40",
        "11",
        "300",
        "21",
        "0",
        "0",
        "ENDSEC",
        "0",
        "EOF",
    ]
).encode()
"""A drawing as old programs write it, each group code and each value on a line of its own."""


def _svg_files() -> tuple[bytes, ...]:
    body = (
        "<defs><path id='p' d='M0 0h20v10a5 5 0 0 1 -5 5h-15z'/></defs><g id='outline' transform='rotate(5)'>"
        "<rect id='r' width='50' height='40' rx='5'/><circle cx='9' cy='9' r='2'/></g><use href='#p' x='70'/>"
        "<polygon points='100,0 120,0 110,20'/><ellipse cx='150' cy='20' rx='9' ry='4'/><text x='3' y='3'>panel</text>"
        "<path d='M130 40 C 140 40 150 50 140 60 Q 130 60 130 50 Z'/>"
    )
    return (_made(lambda path: svg(path, body), ".svg"),)


def _csv_files() -> tuple[bytes, ...]:
    return (
        b"x_mm,y_mm,ring\n0,0,a\n100,0,a\n100,50,a\n0,50,a\n10,10,b\n20,10,b\n20,20,b\n",
        b"x,y\n0,0\n100,0\n100,50\n",
    )


def _geojson_files() -> tuple[bytes, ...]:
    square = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]
    hole = [[2, 2], [4, 2], [4, 4], [2, 2]]
    features = [
        {"type": "Feature", "properties": {"name": "a", "role": "outline"}, "geometry": geometry}
        for geometry in (
            {"type": "Polygon", "coordinates": [square, hole]},
            {"type": "MultiPolygon", "coordinates": [[[[20, 0], [30, 0], [30, 9]]]]},
            {
                "type": "GeometryCollection",
                "geometries": [{"type": "LineString", "coordinates": [[0, 50], [9, 50]]}],
            },
        )
    ]
    features.append(
        {
            "type": "Feature",
            "properties": {"layer": "mark", "diameter": 1},
            "geometry": {"type": "MultiPoint", "coordinates": [[5, 5], [6, 6]]},
        }
    )
    whole = {"type": "FeatureCollection", "units": "in", "features": features}
    return json.dumps(whole).encode(), json.dumps({"units": "mm", "rings": [square, hole]}).encode()


def _layer_tables() -> tuple[bytes, ...]:
    return (layer_table_text(["outline", "holes", "CUT", ""]).encode(),)


def _pictures() -> tuple[bytes, ...]:
    from PIL import Image

    chance = random.Random(1)
    ground = Image.frombytes(
        "RGB", (40, 38), bytes(chance.randrange(256) for _ in range(40 * 38 * 3))
    ).resize((320, 304))
    made: list[bytes] = []

    def save(image: Any, form: str, **options: Any) -> None:
        stream = io.BytesIO()
        image.save(stream, form, **options)
        made.append(stream.getvalue())

    exif = ground.getexif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0xA405] = 28
    save(ground, "JPEG", quality=70, exif=exif)
    save(ground, "JPEG", quality=70, progressive=True, comment=b"{}")
    save(ground.convert("CMYK"), "JPEG", quality=60)
    save(ground.convert("L"), "JPEG", quality=60)
    save(ground, "PNG")
    save(ground.quantize(16), "PNG", transparency=3)
    save(ground.convert("I;16") if hasattr(ground, "im") else ground, "PNG")
    save(ground.convert("RGBA"), "PNG")
    for compression in ("raw", "tiff_lzw", "tiff_adobe_deflate", "jpeg", "packbits"):
        save(ground, "TIFF", compression=compression)
    save(ground, "TIFF", save_all=True, append_images=[ground.convert("L")])
    save(ground, "WEBP", quality=50)
    save(ground.convert("RGBA"), "WEBP", lossless=True, exif=exif)
    save(ground, "BMP")
    save(ground.convert("P"), "BMP")
    save(ground.convert("CMYK"), "TIFF", compression="tiff_lzw")
    save(ground.convert("F"), "TIFF")
    save(ground.convert("I"), "TIFF")
    save(ground.convert("1"), "TIFF", compression="group4")
    save(ground.convert("LA"), "PNG", dpi=(1, 1))
    save(ground.convert("1"), "PNG")
    for form in ("PNG", "WEBP"):
        save(
            ground,
            form,
            save_all=True,
            append_images=[ground.rotate(90), ground.convert("RGBA")],
            duration=40,
        )
    for form in ("GIF", "PPM", "ICO", "TGA", "PCX"):
        # None of these is read; their heads stand before what is.
        save(ground.convert("P") if form in ("GIF", "PCX") else ground, form)
    return tuple(made)


def _labelled_pictures() -> tuple[bytes, ...]:
    from PIL import Image

    label = {
        "nestplan": 1,
        "kind": "hide picture",
        "matrix": [1, 0, 0, 0, 1, 0, 0, 0, 1],
        "source": "ab" * 32,
    }
    stream = io.BytesIO()
    Image.new("RGB", (20, 20), "brown").save(stream, "JPEG", comment=json.dumps(label).encode())
    return (stream.getvalue(),)


def _figures() -> tuple[bytes, ...]:
    return tuple(
        text.encode()
        for text in (
            "1 1/2 in",
            "22 3/4 ft2",
            "5-6 oz",
            "12.5 mm",
            "2 ft 3 1/2 in",
            "1.2 m2",
            "22²",
            "2.0-2.4 mm",
            "3/4",
        )
    )


_SEEDS: dict[str, Callable[[], tuple[bytes, ...]]] = {
    "hide": _hides,
    "job": _jobs,
    "plan": _plans,
    "journal": _journals,
    "log": _logs,
    "recovery": _works,
    "lock": _locks,
    "mark": _marks,
    "dxf": _dxf_files,
    "svg": _svg_files,
    "csv": _csv_files,
    "geojson": _geojson_files,
    "layers": _layer_tables,
    "photograph": _pictures,
    "label": _labelled_pictures,
    "figure": _figures,
    "any": lambda: (*_geojson_files(), *_hides()[:1], *_jobs()[:1], *_plans(), *_svg_files()),
}
