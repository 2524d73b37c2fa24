"""Past lots: what would have been advised, what came of each, which sellers are worse, and the work that is waiting."""

import streamlit as st

from dashboard import source
from dashboard.parts import past_lots
from dashboard.parts.costs import costs

#: The settings that a forecast depends on.
ASKED = (
    "labour_per_hour", "bench_hours_per_unit", "part_cost", "consumables_per_clean", "harvest_value", "resale_price",
    "selling_fee_share", "freight_out", "other_fault_share", "warranty_days", "return_share", "return_cost", "loss_limit",
    "margin", "bench_hours_free",
)  # fmt: skip

st.title("Past lots")
record = source.lots()
told = source.lot_costs(record.families)
settings = costs(ASKED, sources=told.sources, missing=told.missing, currency=record.currency)
answer = source.past_lots(settings)
past_lots.verdict(answer)
past_lots.lots(answer)
past_lots.sellers(answer)
past_lots.bench(answer)
past_lots.method(answer)
