"""A hide found again: what the new photograph had left of perspective is straightened before its plan goes along."""

from __future__ import annotations

import numpy as np
import pytest

from nestplan.geometry.ring import area
from nestplan.intake.photo.camera import apply_homography
from nestplan.intake.photo.outline_match import Slant
from nestplan.model.hide import Flaw, Hide
from nestplan.tasks.contents import HidePhoto
from nestplan.tasks.retracing import find_hide_again, picture_as_it_lies
from tests.benchmarks.registration import random_pair


def test_the_hide_as_it_lies_now_is_as_large_as_it_was_though_its_photograph_was_slanted() -> None:
    pair = random_pair(3)
    slant = Slant(pair.now.mean(axis=0), np.array([-4e-6, 3e-6]))
    far = pair.after[np.argmax(np.abs((pair.after - slant.middle) @ slant.rise))]
    hole = far + np.array([[-12.0, -12], [12, -12], [12, 12], [-12, 12]])
    hide = Hide(name="rye", leather="side", outline=tuple(map(tuple, pair.old)))
    now = Hide(
        name="rye",
        leather="side",
        outline=tuple(map(tuple, slant.seen(pair.now))),
        flaws=(Flaw(spoils="through", outline=tuple(map(tuple, slant.seen(hole)))),),
    )
    found = find_hide_again(hide, now)
    assert found.hide.ring == pytest.approx(found.slant.straightened(now.ring), abs=0.01)
    drawn, true = area(slant.seen(hole)), area(hole)
    assert abs(drawn / true - 1) > 0.006
    assert area(found.hide.flaws[0].ring) == pytest.approx(true, rel=0.004)
    # The picture under it is drawn as the outline is: 2 mm a pixel here, (−50, 900) mm at its upper left.
    picture = picture_as_it_lies(HidePhoto("p.png", (2.0, 0, -50.0, 0, -2.0, 900.0, 0, 0, 1.0)), found)
    pixels = (now.ring - (-50.0, 900.0)) / (2.0, -2.0)
    assert apply_homography(np.array(picture.matrix).reshape(3, 3), pixels) == pytest.approx(
        found.hide.ring, abs=0.02
    )
    carried = found.motion.moved(pair.before)
    away = np.hypot(*(carried - found.slant.straightened(slant.seen(pair.after))).T)
    assert (away <= 3).mean() >= 0.95
