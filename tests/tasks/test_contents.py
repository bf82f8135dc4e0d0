from __future__ import annotations

from nestplan.tasks.contents import Contents, HidePhoto
from tests.small_jobs import plain_hide


def test_leather_is_what_is_not_used_up() -> None:
    contents = Contents((plain_hide("barley", used="belts"), plain_hide("rye")))
    assert [hide.name for hide in contents.leather] == ["rye"]
    assert contents.hide("barley") is contents.hides[0]
    assert contents.hide("oats") is None


def test_a_photograph_is_found_by_its_hide() -> None:
    photo = HidePhoto("floor.png", (1.0, 0, 0, 0, -1.0, 0, 0, 0, 1.0))
    contents = Contents((plain_hide("rye"),), photos=(("rye", photo),))
    assert contents.photo("rye") is photo
    assert contents.photo("barley") is None
