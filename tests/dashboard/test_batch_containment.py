"""The screen “Contain a batch”: what is asked, verdict, picture, tables, files, costs and cautions."""

from __future__ import annotations

from tests.dashboard.test_screens import lead, texts


def picked(screen):
    app = screen("batch_containment")
    batches = app.selectbox(key="batch")
    batches.set_value(next(one for one in batches.options if one == "TC-20")).run()
    assert not app.exception
    return app


def test_it_opens_with_the_batch_that_the_comparison_has_first(screen):
    app = screen("batch_containment")
    assert not app.exception
    assert app.title[0].value == "Contain a batch"
    first = screen("batch_exhibit").selectbox(key="batch").value
    assert app.selectbox(key="batch").value == first
    assert f"of batch {first}" in lead(app)


def test_verdict_picture_tables_and_files_stand_in_this_order(screen):
    app = picked(screen)
    assert "of batch TC-20" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("plotly_chart") < kinds.index("dataframe")
    assert "Modules of the batch" in [one.value for one in app.subheader]
    assert len(app.get("download_button")) == 2
    assert any("Cautions" in one.label for one in app.expander)
    assert any(one.label == "How this is worked out" for one in app.expander)


def test_a_cost_all_told_brings_the_cost_of_the_excess(screen):
    app = picked(screen)
    assert not any("a failure the excess so far comes to" in one for one in texts(app))
    app.number_input(key="fault_cost").set_value(10.0).run()
    assert not app.exception
    assert any("a failure the excess so far comes to" in one for one in texts(app))


def test_a_cost_all_told_in_the_address_leaves_nothing_to_ask_for(screen):
    asked, told = (screen("batch_containment", batch="TC-20", **more) for more in ({}, {"fault_cost": "12"}))
    needed = ["Needed from you" in " ".join(one.proto.body for one in app.get("html")) for app in (asked, told)]
    assert needed == [True, False]


def test_batch_and_days_stand_in_the_address(screen):
    app = screen("batch_containment", batch="TC-20", contain_days="30")
    assert not app.exception
    assert "of batch TC-20" in lead(app)
