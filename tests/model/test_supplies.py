from __future__ import annotations

import math
from typing import Any

import pytest

from nestplan.errors import InputError
from nestplan.model import Supplies


def test_the_defaults_are_settings_that_can_be_used() -> None:
    settings = Supplies()
    assert settings.stitches_per_inch > 0
    assert settings.glue_cover > 0
    assert settings.prices == {}


@pytest.mark.parametrize(
    ("fields", "place"),
    [
        ({"stitches_per_inch": 0.0}, "stitches_per_inch"),
        ({"thread_waste": -0.1}, "thread_waste"),
        ({"thread_waste": 6.0}, "thread_waste"),
        ({"glue_coats": 0}, "glue_coats"),
        ({"glue_coats": 11}, "glue_coats"),
        ({"glue_cover": 0.0}, "glue_cover"),
        ({"labour": math.nan}, "supplies"),
        ({"thread_waste": math.inf}, "supplies"),
    ],
)
def test_settings_that_cannot_be_are_refused_with_their_place(fields: dict[str, Any], place: str) -> None:
    with pytest.raises(InputError) as caught:
        Supplies(**fields)
    assert caught.value.place == place


def test_two_jobs_do_not_share_their_prices() -> None:
    one, other = Supplies(), Supplies()
    assert one.prices is not other.prices
