import pytest

from pipelines.wording.label import label


@pytest.mark.parametrize(
    ("by", "words"),
    [
        ({}, "all together"),
        ({"family": "Corvath"}, "Corvath"),
        ({"family": "Corvath", "depth": "open"}, "Corvath, opened and wiped"),
        ({"attempt_number": 2}, "attempt number 2"),
        ({"stick": "L"}, "stick left"),
        ({"mechanism": "track_wear"}, "track wear"),
        ({"batch": None}, "batch not recorded"),
    ],
)
def test_a_group_has_a_short_name(by, words):
    assert label(by) == words
