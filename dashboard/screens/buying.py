"""What to bid for a lot, what it may earn, and what a test or its arrival changes."""

import streamlit as st

from dashboard import source
from dashboard.parts import lot, text
from dashboard.parts.costs import costs
from dashboard.parts.evidence import cautions
from dashboard.parts.listing import found_of, listing, terms_of
from pipelines.errors import FleetError

#: The settings that a bid depends on.
ASKED = (
    "buyer_premium_share", "tax_share", "inbound_freight", "labour_per_hour", "bench_hours_per_unit", "part_cost",
    "consumables_per_clean", "harvest_value", "resale_price", "selling_fee_share", "freight_out", "other_fault_share",
    "warranty_days", "return_share", "return_cost", "loss_limit", "margin", "bench_hours_free", "bench_weeks",
)  # fmt: skip

st.title("What to bid for a lot")
record = source.lots()
mix, case = listing(record.log_families, record.sellers, record.currency)
told = source.lot_costs([name for name, _ in mix] or record.families, units=sum(units for _, units in mix) or 1)
settings = costs(ASKED, sources=told.sources, missing=told.missing, currency=record.currency)
if not mix:
    text.lead("Fill in which families are offered and how many of each; the highest bid then stands here.")
else:
    answer_box, test_box, arrival_box, rest_box = (st.container() for _ in range(4))
    with test_box:
        st.subheader("Test before you trust")
        case |= found_of(mix)
    with arrival_box:
        st.subheader("When the lot arrives")
        case |= terms_of(record.currency)
    try:
        answer = source.lot_bid(case, settings)
    except FleetError as error:
        with answer_box:
            text.note(error.what)
            text.paragraph(error.remedy)
    else:
        with answer_box:
            lot.bid(answer)
            lot.drivers(case, settings)
            lot.past(case, settings)
        with test_box:
            lot.test(answer)
        with arrival_box:
            lot.arrival(answer)
        with rest_box:
            lot.rest(answer)
            lot.sheet(case, settings)
            cautions()
