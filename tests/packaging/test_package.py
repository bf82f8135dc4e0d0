"""nestplan as a folder that needs no Python: built, unpacked elsewhere, and started where nothing of ours is.

The test that builds is long and needs the network: `pytest -m long tests/packaging`. Where NESTPLAN_PACKAGE names an
archive that was built before, that one is started instead.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tarfile
import time
import xml.etree.ElementTree as ET
from configparser import ConfigParser
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGING = ROOT / "resources" / "packaging"
CLEAN = {"PATH": "/usr/bin:/bin", "LANG": "C.UTF-8"}
"""An environment without our Python, our packages and our settings."""


def desktop_entry() -> dict[str, str]:
    parser = ConfigParser(interpolation=None)
    parser.optionxform = str  # type: ignore[assignment,method-assign]
    parser.read(PACKAGING / "nestplan.desktop", encoding="utf-8")
    return dict(parser["Desktop Entry"])


def test_the_desktop_opens_hides_jobs_and_plans_with_it():
    entry = desktop_entry()
    assert entry["Exec"] == "nestplan %F"
    asked = set(filter(None, entry["MimeType"].split(";")))
    space = {"m": "http://www.freedesktop.org/standards/shared-mime-info"}
    types = ET.parse(PACKAGING / "nestplan-files.xml").getroot().findall("m:mime-type", space)
    globs = {kind.get("type"): kind.find("m:glob", space).get("pattern") for kind in types}
    assert set(globs) == asked
    assert sorted(globs.values()) == ["*.hide.json", "*.job.json", "*.plan.json"]


def test_the_files_of_the_desktop_are_installed_and_taken_away_again(tmp_path):
    folder = tmp_path / "nestplan"
    folder.mkdir()
    for name in ("nestplan.desktop", "nestplan-files.xml", "install.sh"):
        shutil.copy2(PACKAGING / name, folder / name)
    (folder / "nestplan.svg").write_text("<svg/>")
    home = tmp_path / "home"
    environment = {**CLEAN, "HOME": str(home), "XDG_DATA_HOME": str(home / "share")}
    subprocess.run(["sh", folder / "install.sh"], env=environment, check=True)
    entry = home / "share" / "applications" / "nestplan.desktop"
    assert f'Exec="{folder}/nestplan" %F' in entry.read_text()
    assert (home / "share" / "mime" / "packages" / "nestplan-files.xml").is_file()
    subprocess.run(["sh", folder / "install.sh", "--remove"], env=environment, check=True)
    left = [path.name for path in (home / "share").rglob("nestplan*") if path.is_file()]
    assert left == []


@pytest.fixture(scope="module")
def package(tmp_path_factory) -> Path:
    """The package's folder, out of its archive, at a place where it was not built."""
    given = os.environ.get("NESTPLAN_PACKAGE")
    if given:
        archive = Path(given)
    else:
        out = tmp_path_factory.mktemp("built")
        subprocess.run([sys.executable, PACKAGING / "build.py", "--out", out], check=True)
        archive = next(out.glob("nestplan-*.tar.gz"))
    place = tmp_path_factory.mktemp("elsewhere")
    with tarfile.open(archive) as packed:
        packed.extractall(place, filter="tar")
    return place / "nestplan"


@pytest.mark.long
def test_it_plans_with_the_kernels_it_brings(package, tmp_path, record_property):
    environment = {**CLEAN, "HOME": str(tmp_path)}
    kernels = package / "_internal" / "nestplan" / "nesting" / "arrays" / "__pycache__"
    before = {path.name: path.stat().st_mtime_ns for path in kernels.glob("*.nbi")}
    assert before, "no kernels were compiled into it"
    demo = package / "_internal" / "demo_hides"
    begun = time.monotonic()
    command = [package / "nestplan", "plan", demo / "quillmere.job.json", demo, "--seconds", "5"]
    subprocess.run(
        [*command, "--out", tmp_path / "plan"], env=environment, cwd=tmp_path, check=True, timeout=300
    )
    record_property("seconds to a first plan", round(time.monotonic() - begun, 1))
    assert json.loads((tmp_path / "plan" / "plan.json").read_text())["placements"]
    assert (tmp_path / "plan" / "cut-sheet.pdf").read_bytes().startswith(b"%PDF")
    after = {path.name: path.stat().st_mtime_ns for path in kernels.glob("*.nbi")}
    assert after == before, "kernels were compiled again"


@pytest.mark.long
def test_its_window_opens_on_a_file_that_is_given_to_it(package, tmp_path, record_property):
    server, reader = shutil.which("Xvfb"), shutil.which("xwininfo")
    if server is None or reader is None:
        pytest.skip("Xvfb and xwininfo (Debian: xvfb, x11-utils) are not installed")
    hide = tmp_path / "mine.hide.json"
    shutil.copy2(package / "_internal" / "demo_hides" / "cow_side_rye.hide.json", hide)
    reading, writing = os.pipe()
    screen = subprocess.Popen(
        [server, "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp"],
        pass_fds=[writing],
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as told:
        display = f":{told.readline().strip()}"
    environment = {**CLEAN, "HOME": str(tmp_path), "DISPLAY": display, "QT_QPA_PLATFORM": "xcb"}
    begun = time.monotonic()
    window = subprocess.Popen([package / "nestplan", hide], env=environment, cwd=tmp_path)
    try:
        titles = ""
        while "Cow side, rye" not in titles and time.monotonic() - begun < 120:
            assert window.poll() is None, "the program ended"
            time.sleep(0.2)
            titles = subprocess.run(
                [reader, "-root", "-tree", "-display", display], capture_output=True, text=True, check=False
            ).stdout
        record_property("seconds to the window", round(time.monotonic() - begun, 1))
        assert "Cow side, rye" in titles
    finally:
        window.kill()
        window.wait(10)
        screen.terminate()
        screen.wait(10)
