"""The known name that a name is most like."""

import pytest

from pipelines.logs.spelling import nearest

FAMILIES = ("Ambrel", "Brindlow", "Corvath Pro", "Dunmarl")


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("Ambrell", "Ambrel"),
        ("ambrel", "Ambrel"),
        ("CORVATH-PRO", "Corvath Pro"),
        ("Bindlow", "Brindlow"),
        ("Zzyx", None),
        ("", None),
    ],
)
def test_the_nearest_name_is_found_and_none_is_made_up(name, known):
    assert nearest(name, FAMILIES) == known


def test_nothing_is_near_where_nothing_is_known():
    assert nearest("Ambrel", ()) is None
