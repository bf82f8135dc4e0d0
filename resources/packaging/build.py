"""Build nestplan as a folder that needs no Python, and an archive of it: `python resources/packaging/build.py`.

In a clean environment the project and PyInstaller are installed, the package is put together by nestplan.spec, its
kernels are compiled for any processor of this kind, and the desktop's files (entry, file types, icon) are laid beside
it. Built on Linux it runs on Linux, built on Windows on Windows, built on macOS on macOS.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tarfile
import tempfile
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent
HOME = HERE.parent.parent
DESKTOP_FILES = ("nestplan.desktop", "nestplan-files.xml", "install.sh")


def main() -> None:
    """Read the options and build."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument(
        "--out", type=Path, default=HOME / "dist", help="folder for the package and its archive"
    )
    options.add_argument(
        "--python", type=Path, help="a Python that has the project's packages and PyInstaller"
    )
    asked = options.parse_args()
    out = asked.out.resolve()
    out.mkdir(parents=True, exist_ok=True)
    python = asked.python or clean_python(out / "environment")
    folder = build(python, out)
    compile_kernels(folder)
    sys.stdout.write(f"Built: {folder}\nArchive: {archive(folder)}\n")


def clean_python(folder: Path) -> Path:
    """A Python of its own with the project's packages and PyInstaller."""
    venv.create(folder, with_pip=True, clear=True)
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    subprocess.run([python, "-m", "pip", "install", "--quiet", str(HOME), "pyinstaller"], check=True)
    # The package is put together from the source tree, not from an installed copy of it.
    subprocess.run([python, "-m", "pip", "uninstall", "--quiet", "--yes", "nestplan"], check=True)
    return python


def build(python: Path, out: Path) -> Path:
    """Put the package together; gives its folder."""
    folder = out / "nestplan"
    shutil.rmtree(folder, ignore_errors=True)
    command = [python, "-m", "PyInstaller", "--noconfirm", "--log-level", "WARN"]
    command += ["--distpath", out, "--workpath", out / "work", HERE / "nestplan.spec"]
    subprocess.run(command, check=True, env={**os.environ, "NESTPLAN_HOME": str(HOME)})
    for name in DESKTOP_FILES:
        shutil.copy2(HERE / name, folder / name)
    # The icon of the window takes the ink of its theme; a desktop is given it in a colour.
    drawing = (HOME / "resources" / "icons" / "nestplan.svg").read_text(encoding="utf-8")
    (folder / "nestplan.svg").write_text(drawing.replace("currentColor", "#0072b2"), encoding="utf-8")
    shutil.copy2(HOME / "LICENSE", folder / "LICENSE")
    return folder


def compile_kernels(folder: Path) -> None:
    """Compile the kernels inside the package, for any processor of this kind, so that its first start is quick."""
    # numba compares a source's time with the one it noted: archives keep whole seconds only.
    for path in (folder / "_internal" / "nestplan").rglob("*.py"):
        os.utime(path, (int(path.stat().st_mtime),) * 2)
    program = folder / ("nestplan.exe" if os.name == "nt" else "nestplan")
    for share in range(3):
        code = f"from nestplan.nesting.precompile import compile_share; compile_share({share})"
        subprocess.run([program, "-P", "-c", code], check=True)
    # What the small jobs of the shares do not come to, the demo does: with every goal, so that all is compiled.
    demo = folder / "_internal" / "demo_hides"
    with tempfile.TemporaryDirectory() as away:
        for goal in ("complete", "fill", "gather"):
            command = [program, "plan", demo / "quillmere.job.json", demo, "--goal", goal, "--seconds", "20"]
            subprocess.run([*command, "--out", Path(away) / goal], check=False, stdout=subprocess.DEVNULL)


def archive(folder: Path) -> Path:
    """The folder as one file: a zip on Windows, else a compressed tar that keeps rights and times."""
    name = f"nestplan-{sys.platform}"
    if os.name == "nt":
        return Path(shutil.make_archive(str(folder.parent / name), "zip", folder.parent, folder.name))
    path = folder.parent / f"{name}.tar.gz"
    with tarfile.open(path, "w:gz", compresslevel=6) as packed:
        packed.add(folder, arcname=folder.name)
    return path


if __name__ == "__main__":
    main()
