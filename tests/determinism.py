"""The same seed and passes give the same plans, byte for byte, whatever runs them: a command.

    python -m tests.determinism --digest [--workers 2]
    python -m tests.determinism --folder DIR [--numpy 2.0.2 --numpy 2.3.5]

The first prints a digest of a few plans and their pictures. The second compares the digest over numbers of workers,
hash seeds and processes, and in environments of its own in DIR over versions of numpy, each with its own compiled
kernels (minutes each). Ends with 1 where two differ.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
import venv
from collections.abc import Sequence
from importlib import metadata
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
NEEDED = ("shapely", "numba", "msgspec", "pillow", "reportlab", "ezdxf")

__all__ = ["digest", "digest_elsewhere"]


def digest(workers: int) -> str:
    """SHA-256 over the files of three plans, one for each goal, and a picture of each."""
    from nestplan.drawing.svg import write_svg
    from nestplan.model.files import to_text
    from nestplan.nesting.nest import nest
    from nestplan.sheets import plan_picture
    from tests.random_jobs import random_job

    made = hashlib.sha256()
    for seed in range(3):
        job, hides, goal = random_job(seed)
        plan = nest(job, hides, goal=goal, passes=2, seed=seed, workers=workers)
        made.update(to_text(plan).encode())
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "plan.svg"
            write_svg(plan_picture(plan, job, hides), path, title=plan.name)
            made.update(path.read_bytes())
    return made.hexdigest()


def digest_elsewhere(
    *, python: str = sys.executable, hash_seed: str = "0", workers: int = 1, cache: Path | None = None
) -> str:
    """The digest worked out by another process."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": hash_seed}
    if cache is not None:
        environment["NUMBA_CACHE_DIR"] = str(cache)
    done = subprocess.run(
        [python, "-P", "-m", "tests.determinism", "--digest", "--workers", str(workers)],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-2000:])
    return done.stdout.strip()


def _with_numpy(version: str, folder: Path) -> str:
    """The Python of an environment with that numpy and all else as here; made where it is not there."""
    home = folder / f"numpy-{version}"
    python = home / "bin" / "python"
    if not python.exists():
        venv.create(home, with_pip=True)
        pins = [f"{name}=={metadata.version(name)}" for name in NEEDED]
        subprocess.run([str(python), "-m", "pip", "install", "-q", f"numpy=={version}", *pins], check=True)
    return str(python)


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--digest", action="store_true")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--numpy", action="append", default=[])
    given = parser.parse_args(arguments)
    if given.digest:
        sys.stdout.write(digest(given.workers) + "\n")
        return 0
    found = {
        "one worker": digest_elsewhere(),
        "two workers": digest_elsewhere(workers=2),
        "again": digest_elsewhere(),
        "hash seed 1": digest_elsewhere(hash_seed="1"),
        "hash seed by chance": digest_elsewhere(hash_seed="random"),
    }
    for version in given.numpy if given.folder else []:
        python = _with_numpy(version, given.folder)
        found[f"numpy {version}"] = digest_elsewhere(python=python, cache=given.folder / f"kernels-{version}")
    for name, each in found.items():
        sys.stdout.write(f"{each[:16]}  {name}\n")
    return 1 if len(set(found.values())) > 1 else 0


if __name__ == "__main__":
    sys.exit(main())
