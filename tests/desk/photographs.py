"""A photograph drawn for tests: a skin and a sheet of A4 on a floor, seen at a slant."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from nestplan.intake.photo.camera import apply_homography, homography_of


def sheet_beside_a_skin(path: Path) -> tuple[Path, float]:
    """Writes the picture; gives its path and the skin's true area, mm²."""
    turns = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radius = 300 * (1 + 0.12 * np.cos(3 * turns) + 0.05 * np.sin(5 * turns))
    skin = np.column_stack((400 + 1.2 * radius * np.cos(turns), 400 + radius * np.sin(turns)))
    sheet = np.array([[850, 560], [1147, 560], [1147, 770], [850, 770]], dtype=float)
    floor = np.array([[-100, -50], [1250, -50], [1250, 900], [-100, 900]], dtype=float)
    seen = np.array([[30, 645], [938, 630], [848, 45], [112, 30]], dtype=float)
    camera = homography_of(floor, seen)
    picture = Image.new("RGB", (960, 675), (92, 100, 108))
    draw = ImageDraw.Draw(picture)
    draw.polygon([tuple(at) for at in apply_homography(camera, skin)], fill=(196, 150, 98))
    draw.polygon([tuple(at) for at in apply_homography(camera, sheet)], fill=(240, 240, 236))
    noise = np.random.default_rng(1).normal(0, 3, (675, 960, 3))
    Image.fromarray(np.clip(np.asarray(picture) + noise, 0, 255).astype(np.uint8)).save(path)
    x, y = skin.T
    return path, float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)
