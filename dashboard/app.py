"""The frame around every screen: navigation, the shape of the page, errors in words, and new data as it comes."""

from pathlib import Path

import streamlit as st

from dashboard import source
from dashboard.parts import empty
from pipelines.errors import FleetError

PARTS = Path(__file__).parent / "parts"
#: Seconds between two looks at whether a load has finished.
LOOK_EVERY = 2

st.set_page_config(page_title="stickfleet", page_icon=str(PARTS / "icon.svg"), layout="wide")
st.logo(str(PARTS / "icon.svg"), size="large")
st.html(PARTS / "frame.css")
page = st.navigation({
    "The fleet": [
        st.Page("screens/front.py", title="What stands out", default=True),
        st.Page("screens/cleaning_success.py", title="Cleaning success"),
        st.Page("screens/time_to_failure.py", title="Time to failure"),
        st.Page("screens/recurrence.py", title="Recurrence"),
        st.Page("screens/restoration.py", title="What a clean gives back"),
        st.Page("screens/factors.py", title="What goes with failing sooner"),
        st.Page("screens/data.py", title="Data"),
    ],
    "The floor": [
        st.Page("screens/planned_cleaning.py", title="Planned cleaning"),
        st.Page("screens/next_failures.py", title="What will fail next"),
        st.Page("screens/shelf.py", title="What to keep on the shelf"),
        st.Page("screens/fault_rates.py", title="Which seat eats sticks"),
        st.Page("screens/before_after.py", title="Did it work?"),
        st.Page("screens/monthly.py", title="Month"),
    ],
    "Supplier batches": [
        st.Page("screens/batch_verdict.py", title="Batches compared"),
        st.Page("screens/batch_pattern.py", title="What kind of worse"),
        st.Page("screens/batch_alarm.py", title="Early alarm"),
        st.Page("screens/batch_containment.py", title="Contain a batch"),
        st.Page("screens/batch_exhibit.py", title="Evidence pack"),
        st.Page("screens/batch_inspection.py", title="Incoming inspection"),
        st.Page("screens/tester_study.py", title="Is it the tester?"),
        st.Page("screens/study_plan.py", title="Plan a study"),
    ],
    "Buying": [
        st.Page("screens/buying.py", title="What to bid for a lot"),
        st.Page("screens/families.py", title="Which families to buy"),
        st.Page("screens/past_lots.py", title="Past lots"),
        st.Page("screens/warranty.py", title="Warranty"),
    ],
    "At the bench": [
        st.Page("screens/at_the_bench.py", title="Clean it or replace it?"),
    ],
}, position="top")  # fmt: skip


@st.fragment(run_every=LOOK_EVERY)
def follow(shown: str | None) -> None:
    """Show the page anew once the warehouse is another one than what was shown."""
    if _stamp() != shown:
        st.rerun()


def _stamp() -> str | None:
    try:
        return source.stamp()
    except FleetError as error:
        return error.what


shown = _stamp()
try:
    if shown is None:
        empty.no_warehouse(str(source.folder()))
    else:
        page.run()
except FleetError as error:
    empty.trouble(error)
follow(shown)
