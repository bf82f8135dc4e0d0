"""The scenes that benchmarks measure hold what their tables are broken down by."""

from __future__ import annotations

from tests.intake.photo_scenes import ANY_LEATHER, LEATHERS, room_scene


def test_in_ninety_rooms_every_leather_lies_on_every_floor() -> None:
    rooms = [room_scene(number, width=400, height=300) for number in range(ANY_LEATHER, ANY_LEATHER + 90)]
    assert len({(room.floor, room.leather) for room in rooms}) == 9 * len(LEATHERS)
    assert sum(bool(room.trap) for room in rooms) in (22, 23)
