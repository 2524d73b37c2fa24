"""A batch that is picked on one screen is the one of the others."""

from __future__ import annotations

import pytest

SCREENS = ("batch_alarm", "batch_pattern", "batch_containment", "batch_exhibit")


def test_the_batch_goes_along_to_the_other_screens(screen):
    app = screen("batch_alarm")
    app.selectbox(key="batch").set_value("TC-20").run()
    for name in SCREENS[1:]:
        app.switch_page(f"screens/{name}.py").run()
        assert not app.exception
        assert app.selectbox(key="batch").value == "TC-20"


@pytest.mark.parametrize("name", SCREENS)
def test_a_batch_that_a_screen_does_not_offer_is_forgotten(screen, name):
    usual = screen(name).selectbox(key="batch").value
    app = screen()
    app.session_state["batch"] = "XX-77"
    app.switch_page(f"screens/{name}.py").run()
    assert not app.exception
    assert app.selectbox(key="batch").value == usual
