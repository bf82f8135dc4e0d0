"""The commands of estimates, from files to tables, pictures and exit codes."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import msgspec
import pytest
import typer
from typer.testing import CliRunner

from nestplan.cli import estimate_commands
from nestplan.errors import InputError, RuleError, UnitError
from nestplan.model.files import read_job, write_hide, write_job
from nestplan.model.hide import Disc, Flaw, Hide
from nestplan.model.job import Article, Job
from nestplan.model.piece import Mark, Piece

SQUARE = ((0.0, 0.0), (140.0, 0.0), (140.0, 90.0), (0.0, 90.0))
HOLES = tuple(Mark(at=(x, 45.0), do="punch", diameter=8.0, what="grommet") for x in (20.0, 120.0))
JOB = Job(
    name="pouches",
    articles=(Article(name="pouch", sets=8, pieces=(Piece(name="body", outline=SQUARE, marks=HOLES),)),),
)


def _hide(name: str, width: float, height: float, price: float) -> Hide:
    return Hide(
        name=name,
        leather="cow",
        outline=((0.0, 0.0), (width, 0.0), (width, height), (0.0, height)),
        backbone=((width, 0.0), (0.0, 0.0)),
        flaws=(Flaw(spoils="grain", disc=Disc(at=(width / 2, height / 2), diameter=10.0)),),
        price=price,
        currency="crowns",
    )


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    write_job(tmp_path / "pouches.job.json", JOB)
    rack = tmp_path / "rack"
    rack.mkdir()
    write_hide(rack / "a.hide.json", _hide("small", 320.0, 220.0, 9.0))
    write_hide(rack / "b.hide.json", _hide("large", 520.0, 340.0, 30.0))
    return tmp_path


def _run(*words: str | Path) -> str:
    app = typer.Typer()
    estimate_commands.register(app)
    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stdout


def test_compare_prints_a_table_and_writes_its_files(bench: Path) -> None:
    out = bench / "out"
    text = _run(
        "compare", bench / "pouches.job.json", bench / "rack", "--workers", 1, "--cheapest", "--out", out
    )
    assert "1 large 8 of 8" in " ".join(text.split())
    assert "Cheapest for the whole job: '" in text
    assert sorted(path.name for path in out.iterdir()) == [
        "compare.csv",
        "compare.json",
        "compare.pdf",
        "compare.png",
    ]
    rows = list(csv.DictReader(io.StringIO((out / "compare.csv").read_text())))
    assert [row["hide"] for row in rows] == ["large", "small"]
    stored = json.loads((out / "compare.json").read_text())
    assert stored["hides"][0]["sets"] == 8
    assert stored["cheapest"]["cost"] <= 39.0


def test_compare_as_json_and_csv_say_the_same(bench: Path) -> None:
    files = (bench / "pouches.job.json", bench / "rack" / "a.hide.json", bench / "rack" / "b.hide.json")
    as_json = json.loads(_run("compare", *files, "--by", "cost", "--workers", 1, "--json"))
    as_csv = list(
        csv.DictReader(io.StringIO(_run("compare", *files, "--by", "cost", "--workers", 1, "--csv")))
    )
    assert [each["hide"] for each in as_json["hides"]] == [row["hide"] for row in as_csv]
    assert [str(each["sets"]) for each in as_json["hides"]] == [row["sets"] for row in as_csv]
    with pytest.raises(InputError, match="no 'beauty'"):
        _run("compare", *files, "--by", "beauty")


def test_count_tells_proven_and_bound(bench: Path) -> None:
    counts = json.loads(_run("count", bench / "pouches.job.json", bench / "rack", "--workers", 1, "--json"))
    assert [each["hide"] for each in counts] == ["small", "large", "all together"]
    for each in counts:
        assert 0 < each["proven"] <= each["bound"]
    assert counts[2]["proven"] >= counts[1]["proven"]


def test_count_of_straps_needs_no_job(bench: Path) -> None:
    text = _run("count", bench / "rack" / "b.hide.json", "--strap", "500 x 40 mm", "--workers", 1)
    assert "large" in text
    # 340 mm hold eight rows of 40 mm, four on each side of the flaw in the middle.
    numbers = next(line for line in text.splitlines() if line.startswith("large")).split()
    assert 7 <= int(numbers[1]) <= 8
    assert "Straps off the belly (--anywhere counts there too)." in text
    hide = bench / "rack" / "b.hide.json"
    firm = _run("count", hide, "--strap", "500 x 40 mm", "--firmness", 5, "--off", "flank", "--workers", 1)
    assert "Straps off the flank, where the firmness is 5 or more" in firm
    with pytest.raises(InputError, match="no strap"):
        _run("count", bench / "rack" / "b.hide.json", "--strap", "500")
    with pytest.raises(InputError, match="one figure for each"):
        _run("count", bench / "pouches.job.json", bench / "rack", "--ratio", "3:5")


def test_buy_writes_its_figures_and_plot(bench: Path) -> None:
    out = bench / "bought"
    text = _run(
        "buy", bench / "pouches.job.json", "--kind", "belly", "--sets", 9, "--area", "2 ft2", "--price", 4,
        "--trials", 12, "--set", "area_spread=0.2", "--set", "grain.per_m2=0", "--workers", 1, "--out", out,
    )  # fmt: skip
    assert text.startswith("Buy ")
    assert "bellies of about 18.6 dm² each" in text.splitlines()[0]
    assert "8 of 10 purchases" in text
    assert "changed by hand: area_spread=0.2, grain.per_m2=0" in text
    stored = json.loads((out / "buy.json").read_text())
    assert stored["sets"] == {"pouch": 9}
    assert len(stored["purchases"]) == 12
    assert stored["figures"][0]["money"] > 0
    assert (out / "buy.svg").read_text().startswith("<")
    assert (out / "buy.png").stat().st_size > 5000


def test_buy_refuses_what_it_does_not_know(bench: Path) -> None:
    job = bench / "pouches.job.json"
    for options, error, words in (
        (("--kind", "dragon"), InputError, "no kind"),
        (("--kind", "goat"), InputError, "Give the usual area"),
        (("--kind", "sheep", "--area", "7"), UnitError, "unit"),
        (("--kind", "goat", "--area", "7 ft2", "--length", "1 m"), InputError, "one of the two"),
        (("--kind", "goat", "--length", "5 m"), InputError, "not 5000 mm long"),
        (("--kind", "goat", "--area", "7 ft2", "--draws", "50"), InputError, "--trials 50"),
        (("--kind", "sheep", "--set", "charm=1"), InputError, "no figure"),
        (("--kind", "sheep", "--set", "charm"), InputError, "changes no figure"),
        (("--kind", "sheep", "--layer", "sole"), InputError, "No layer"),
    ):
        with pytest.raises(error, match=words):
            _run("buy", job, *options)


def test_fit_answers_in_the_units_asked() -> None:
    assert (
        _run("fit", "panels", "40 in", "--gap", "2 in", "--units", "in").strip()
        == "panels: 8 in, 8 in, 8 in, 8 in"
    )
    assert "from 32 in to 40 in" in _run(
        "fit", "range", "8 in,8 in,8 in,8 in", "--widest", "2 in", "--units", "in"
    )
    assert "3 of 4 wearers" in _run(
        "fit", "sizes", "28 in,31 in,36 in,44 in", "--panels", 4, "--widest", "2 in"
    )
    belt = _run("fit", "belt", "900", "--by", "waist", "--width", "38")
    assert "belt size 900" in belt
    lace = _run(
        "fit", "lace", "--pairs", 3, "--pitch", 40, "--gap", 10, "--inset", 10, "--tail", 100, "--rim", 45
    )
    assert "430" in lace
    assert "touch" in lace
    assert "4 splices" in _run("fit", "edge", "1 m", "--stitch", "double loop")
    # hand count: ten steps of 12 with eleven holes, 9 round the edge: 10 x 15 + 11 x 3
    holes = ("--pitch", "12", "--inset", "3", "--thickness", "3")
    assert "lace 183 mm" in _run("fit", "edge", "120", *holes)
    with pytest.raises(RuleError, match="gaps alone"):
        _run("fit", "panels", "200", "--gap", "60")
    with pytest.raises(InputError, match="A laced join cannot have a pitch of -1/2 in"):
        _run("fit", "lace", "--pairs", 3, "--pitch=-1/2 in", "--gap", 10, "--inset", 10, "--units", "in")
    with pytest.raises(InputError, match="A laced edge cannot have a pitch of 0 in"):
        _run("fit", "edge", "1 m", "--pitch", "0", "--units", "in")


def test_a_former_word_for_the_path_of_a_lace_names_the_new_one() -> None:
    figures = ("--pairs", 3, "--pitch", 40, "--gap", 10, "--inset", 10)
    assert "lace for one laced opening" in _run("fit", "lace", *figures, "--path", "straight bar")
    with pytest.raises(InputError, match="'--crossing' is called '--path' now"):
        _run("fit", "lace", *figures, "--crossing", "bars")
    with pytest.raises(InputError, match="'bars' is called 'straight bar' now"):
        _run("fit", "lace", *figures, "--path", "bars")


def test_a_graded_piece_is_written_into_a_new_job(bench: Path) -> None:
    out = bench / "larger.job.json"
    _run(
        "fit", "grade", bench / "pouches.job.json", "body", "--free", "40:100", "--change", "20", "--out", out
    )
    piece = read_job(out).piece("body")
    assert max(x for x, _ in piece.outline) == 160.0
    assert [mark.at[0] for mark in piece.marks] == [20.0, 140.0]
    write_job(bench / "inches.job.json", msgspec.structs.replace(read_job(out), units="in"))
    inches = ("fit", "grade", bench / "inches.job.json", "body", "--out", out, "--replace")
    _run(*inches, "--free", "1 1/2:4", "--change", "1")
    assert max(x for x, _ in read_job(out).piece("body").outline) == pytest.approx(185.4)
    with pytest.raises(RuleError, match="Taking away 2 in leaves nothing of the free 1 in"):
        _run(*inches, "--free", "1:2", "--change", "-2")
    with pytest.raises(InputError, match="there already"):
        _run(
            "fit", "grade", bench / "pouches.job.json", "body", "--free", "4:9", "--change", "2", "--out", out
        )
    with pytest.raises(InputError, match="No piece"):
        _run(
            "fit",
            "grade",
            bench / "pouches.job.json",
            "hat",
            "--free",
            "4:9",
            "--change",
            "2",
            "--out",
            out,
            "--replace",
        )


def test_supplies_are_listed_in_words_and_as_json(bench: Path) -> None:
    assert "16 × grommet" in _run("supplies", bench / "pouches.job.json")
    stored = json.loads(_run("supplies", bench / "pouches.job.json", "--json"))
    assert stored["supplies"]["totals"][0]["amount"] == 16.0


@pytest.mark.parametrize(
    ("address", "words"), [("tcp://127.0.0.1:9", "is not encrypted"), ("tls://127.0.0.1:9", "is encrypted")]
)
def test_whom_one_trusts_by_a_clusters_address_is_said_before_it_is_called(
    bench: Path, monkeypatch: pytest.MonkeyPatch, address: str, words: str
) -> None:
    def refuse(*_arguments: object, **_options: object) -> object:
        raise InputError("no cluster")

    monkeypatch.setattr("nestplan.tasks.estimating.open_crew", refuse)
    app = typer.Typer()
    estimate_commands.register(app)
    asked = ["count", str(bench / "pouches.job.json"), str(bench / "rack"), "--scheduler", address]
    done = CliRunner().invoke(app, asked)
    assert isinstance(done.exception, InputError)
    assert address in done.stderr
    assert words in done.stderr
