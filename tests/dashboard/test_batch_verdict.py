"""The screen “Batches compared”: the verdict first, the forest, the table, suppliers, export and method."""

from __future__ import annotations

from tests.dashboard.test_screens import lead


def test_the_verdict_stands_before_picture_table_and_suppliers(screen):
    app = screen("batch_verdict")
    assert not app.exception
    assert "atch" in lead(app)
    kinds = [one.type for one in app.main]
    assert kinds.index("html") < kinds.index("plotly_chart") < kinds.index("dataframe")
    assert [one.value for one in app.subheader] == ["One batch, or the supplier?"]
    assert list(app.dataframe[0].value.columns[:4]) == ["batch", "supplier", "verdict", "mind"]  # what must not be scrolled to
    assert "How this is worked out" in [one.label for one in app.expander]
    assert len(app.get("download_button")) == 2


def test_a_reference_is_chosen(screen):
    app = screen("batch_verdict")
    box = app.selectbox(key="batches_reference")
    most = app.dataframe[0].value.sort_values("modules")["batch"].iloc[-1]
    box.set_value(most).run()
    assert not app.exception
    shown = app.dataframe[0].value.set_index("batch")
    assert shown.loc[most, "verdict"] == "–"
