"""The screens “Which families to buy” and “Warranty”: what is asked for, the verdict, figure, table, export and address."""

from __future__ import annotations

import html

import pytest

from tests.dashboard.fleet import FORMULA, MARKDOWN, SCRIPT
from tests.dashboard.test_screens import lead, texts

#: What the made fleet does not tell by itself.
COSTS = {
    "families": {"other_fault_pct": 5.0, "return_cost": 15.0},
    "warranty": {"return_cost": 15.0, "accepted_warranty_cost": 2.0},
}


def answered(screen, name: str, **query: str):
    """Open a screen and give the costs that it asks for."""
    app = screen(name, **query)
    for key, value in COSTS[name].items():
        app.number_input(key=key).set_value(value)
    app.run()
    assert not app.exception
    return app


@pytest.mark.parametrize("name", COSTS)
def test_what_nothing_tells_is_asked_for_and_the_rest_shown(screen, name):
    app = screen(name)
    assert not app.exception
    assert lead(app)
    assert len(app.dataframe) >= 1
    asked = {one.key for one in app.number_input if one.placeholder == "needed"}
    assert asked >= set(COSTS[name])


@pytest.mark.parametrize("name", COSTS)
def test_the_verdict_stands_before_figure_table_and_method(screen, name):
    app = answered(screen, name)
    kinds = [one.type for one in app.main]
    assert kinds.index("plotly_chart") < kinds.index("dataframe")
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2


def test_families_are_ranked_with_advice_and_a_price(screen):
    app = answered(screen, "families")
    table = app.dataframe[0].value
    assert set(table["to do"]) <= {"buy in bulk", "stop buying", "cannot tell"}
    assert table["profit"].notna().any()
    assert "a unit (95" in lead(app)
    before = dict(zip(table["family"], table["profit"], strict=True))
    name = next(family for family in table["family"] if family not in (SCRIPT, MARKDOWN, FORMULA))
    app.text_input(key="unit_prices").set_value(f"{name}:1").run()
    after = app.dataframe[0].value.set_index("family")
    assert after.loc[name, "price from"] == "given by you"
    assert after.loc[name, "profit"] > before[name]
    app.text_input(key="unit_prices").set_value("Nonesuch:1").run()
    assert not app.exception
    assert any("no family 'Nonesuch'" in one for one in texts(app))


def test_the_condition_is_kept_in_the_address(screen):
    app = answered(screen, "families", condition="working")
    assert "stated working" in lead(app)


def test_the_warranty_is_said_and_splits_by_family_and_grade(screen):
    app = answered(screen, "warranty")
    assert "warranty" in lead(app).lower()
    app.button_group(key="sold_by").set_value("grade").run()
    assert not app.exception
    assert [one.value for one in app.subheader] == ["The longest warranty", "Who came back by when"]
    assert len(app.dataframe[0].value) >= 2


@pytest.mark.parametrize("name", COSTS)
def test_text_from_the_log_is_shown_as_it_is(screen, name):
    app = answered(screen, name, **({"sold_by": "family"} if name == "warranty" else {}))
    written = "".join(one.proto.body for one in app.get("html"))
    assert "<script>" not in written
    assert not any("outside.invalid" in one.value or SCRIPT in one.value for one in app.markdown)
    assert SCRIPT in set(app.dataframe[0].value["family"])
    assert html.escape(SCRIPT) not in set(app.dataframe[0].value["family"])
