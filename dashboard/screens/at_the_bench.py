"""Clean it, fit a new part, or scrap it: one stick, or a file of them."""

import streamlit as st

from dashboard import source
from dashboard.parts import bench, evidence, text
from dashboard.parts.costs import costs
from pipelines.answers.bench_money import BENCH_COSTS
from pipelines.errors import FleetError

st.title("Clean it or replace it?")
record = source.bench()
case = bench.stick(record)
sources, missing = source.bench_costs(case.get("family"))
settings = costs(BENCH_COSTS, sources=sources, missing=missing, currency=record.lots.currency)
if case:
    try:
        bench.advice(source.bench_advice(case, settings))
    except FleetError as error:
        text.note(error.what)
        text.paragraph(error.remedy)
else:
    text.lead("Say what is known of the stick: its family, what was found, what it reads. The advice then stands here.")
bench.come_true(source.bench_calibration())
bench.many(settings)
bench.method(record, settings)
evidence.cautions()
