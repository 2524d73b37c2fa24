"""Which families to buy in bulk, and which to stop buying."""

import streamlit as st

from dashboard import source
from dashboard.parts import families, text
from dashboard.parts.costs import costs
from pipelines.errors import FleetError
from pipelines.vocabulary import Because
from pipelines.wording.ranking import refused_sentence

#: The settings that the profit of a unit depends on.
ASKED = (
    "labour_per_hour", "bench_hours_per_unit", "part_cost", "consumables_per_clean", "harvest_value", "resale_price",
    "selling_fee_share", "freight_out", "other_fault_share", "warranty_days", "return_share", "return_cost",
)  # fmt: skip

st.title("Which families to buy")
record = source.lots()
if not record.families:
    text.lead(refused_sentence(Because.NO_PAST_LOTS))
else:
    case, told = families.case(), source.lot_costs(record.families)
    settings = costs(ASKED, sources=told.sources, missing=told.missing, currency=record.currency)
    try:
        answer = source.ranking(case, settings)
    except FleetError as error:
        text.note(error.what)
        text.paragraph(error.remedy)
    else:
        families.verdict(answer)
        families.evidence(answer)
