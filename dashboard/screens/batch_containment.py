"""Where the modules of a supplier batch are, what is left of it, and what its excess failures cost."""

import streamlit as st

from dashboard import source
from dashboard.parts import batch_containment
from dashboard.parts.costs import costs
from dashboard.parts.evidence import cautions

st.title("Contain a batch")
case = batch_containment.asked()
if case:
    plain = source.containment(case, source.settings())
    missing = batch_containment.wanted(plain)
    settings = costs(batch_containment.ASKED, sources=plain.sources, missing=missing, currency=plain.currency)
    answer = source.containment(case, settings)
    batch_containment.verdict(answer)
    batch_containment.evidence(answer)
    cautions()
batch_containment.method()
