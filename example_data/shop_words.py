"""How each invented shop writes: its headings, its words for codes, its dates, numbers and blanks."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Shop:
    """One spreadsheet habit. headings: dictionary column → heading. words: column → code → word in the sheet."""

    site: str
    title: str
    headings: dict[str, str]
    words: dict[str, dict[str, str]]
    date_format: str
    decimal: str
    separator: str
    encoding: str
    joiner: str
    blanks: tuple[str, ...]
    money: str = "{}"
    units_row: dict[str, str] = field(default_factory=dict)


NORTH = Shop(
    site="north", title="", date_format="%Y-%m-%d", decimal=".", separator=",", encoding="utf-8", joiner=" + ",
    blanks=("", "", "", "NA", "-"),
    headings={
        "job_id": "Job no", "visit_id": "Ticket", "unit_id": "Serial", "stick": "Stick", "family": "Model",
        "received_on": "Date in", "closed_on": "Date out", "returned_to_service_on": "Back in service",
        "visit_reason": "Reason", "finding": "Finding", "failure_mode": "Fault", "failure_mechanism": "Cause",
        "mechanism_evidence": "Evidence", "action": "Work done", "outcome": "Result", "usage_hours": "Play hours",
        "usage_basis": "Hours basis", "site_id": "Site", "station_id": "Seat", "part_batch_fitted": "Batch fitted",
        "af_rest_offset_pct": "Rest offset before %", "al_rest_offset_pct": "Rest offset after %",
        "af_jitter_pct": "Jitter before %", "al_jitter_pct": "Jitter after %",
        "af_return_spread_pct": "Return spread before %", "af_reach_pct": "Reach before %", "bench_minutes": "Minutes",
        "parts_cost": "Parts cost", "technician": "Technician", "note": "Notes",
    },
    words={
        "stick": {"L": "Left", "R": "Right", "S": "Single"},
        "visit_reason": {"fault_report": "fault", "check": "check", "preventive": "preventive"},
        "finding": {"fault_confirmed": "confirmed", "intermittent": "intermittent", "no_fault_found": "no fault found",
                    "not_tested": "not tested"},
        "failure_mode": {"centre_offset": "drift", "jitter": "shaky", "poor_return": "sticky", "reduced_reach": "no full tilt",
                         "dead_spot": "drops out", "axis_dead": "axis gone", "click_fault": "stick button",
                         "mechanical": "wobbly"},
        "failure_mechanism": {"contamination": "dust", "liquid_residue": "spill", "out_of_adjustment": "calibration",
                              "track_wear": "worn", "wiper_wear": "bent wiper", "spring_fatigue": "weak spring"},
        "action": {"test_only": "checked", "clean_air": "blown out", "clean_flush": "flushed", "clean_open": "opened",
                   "recalibrate": "cal", "adjust": "shim", "resolder": "reflow", "replace_sensor": "new pot",
                   "replace_module": "new stick", "scrap": "binned"},
        "outcome": {"pass": "ok", "pass_with_note": "ok-ish", "fail": "no good", "scrapped": "BER", "open": "WIP",
                    "unknown": "?"},
    },
)  # fmt: skip

SOUTH = Shop(
    site="south", title="South arcade – repair log", date_format="%d/%m/%Y", decimal=",", separator=";",
    encoding="windows-1252", joiner=", ", blanks=("", "", "", "n/a", "?"), money="{} €",
    headings={
        "unit_id": "Asset tag", "stick": "Side", "family": "Controller", "received_on": "Received", "closed_on": "Closed",
        "returned_to_service_on": "Returned to service", "visit_reason": "Visit reason", "finding": "Test result",
        "failure_mode": "Symptom", "failure_mechanism": "Mechanism", "action": "Action", "outcome": "Outcome",
        "usage_hours": "Usage hours", "usage_basis": "Hours basis", "site_id": "Site", "station_id": "Station",
        "part_batch_fitted": "Part batch", "af_rest_offset_pct": "Offset as found", "al_rest_offset_pct": "Offset as left",
        "bench_minutes": "Bench minutes", "parts_cost": "Parts cost", "note": "Remarks",
    },
    words={
        "stick": {"L": "L", "R": "R", "S": "S", "B": "both"},
        "visit_reason": {"fault_report": "fault report", "check": "inspection", "preventive": "scheduled clean"},
        "finding": {"fault_confirmed": "fault found", "intermittent": "comes and goes", "no_fault_found": "NFF",
                    "not_tested": "untested"},
        "failure_mode": {"centre_offset": "pulls left", "jitter": "jumping", "poor_return": "slow return",
                         "reduced_reach": "short throw", "dead_spot": "cuts out", "axis_dead": "no up/down",
                         "click_fault": "click", "mechanical": "cracked"},
        "failure_mechanism": {"contamination": "dirt", "liquid_residue": "soda", "out_of_adjustment": "re-centre",
                              "track_wear": "groove", "wiper_wear": "low pressure", "spring_fatigue": "loose centre"},
        "action": {"test_only": "tested", "clean_air": "dusted", "clean_flush": "sprayed", "clean_open": "full clean",
                   "recalibrate": "re-centre", "adjust": "packing", "resolder": "joint", "replace_sensor": "pot swap",
                   "replace_module": "module", "scrap": "end of life"},
        "outcome": {"pass": "PASS", "pass_with_note": "inside dead zone", "fail": "NG", "scrapped": "EOL",
                    "open": "waiting part", "unknown": "n/a"},
    },
)  # fmt: skip

BENCH = Shop(
    site="bench", title="", date_format="%Y-%m-%d", decimal=".", separator="", encoding="", joiner=" + ", blanks=("",),
    headings={
        "job_id": "Job id", "visit_id": "Work order", "unit_id": "Serial number", "stick": "Stick", "family": "Family",
        "sensor_type": "Sensor", "received_on": "Received on", "closed_on": "Closed on",
        "returned_to_service_on": "Returned to service", "visit_reason": "Visit reason", "finding": "As found",
        "failure_mode": "Failure mode", "failure_mechanism": "Mechanism", "mechanism_evidence": "Evidence",
        "action": "Action", "clean_passes": "Clean passes", "cleaner_class": "Cleaner", "outcome": "Outcome",
        "disposition": "Disposition", "part_batch_fitted": "Batch fitted", "lot_id": "Lot", "site_id": "Site",
        "af_rest_offset_pct": "Rest offset as found", "al_rest_offset_pct": "Rest offset as left",
        "af_jitter_pct": "Jitter as found", "al_jitter_pct": "Jitter as left",
        "af_return_spread_pct": "Return spread as found", "al_return_spread_pct": "Return spread as left",
        "af_reach_pct": "Reach as found", "al_reach_pct": "Reach as left", "bench_minutes": "Minutes",
        "parts_cost": "Parts cost", "consumables_cost": "Consumables", "warranty_days": "Warranty days",
        "claim_of_job_id": "Claim of job", "technician": "Technician",
    },
    words={
        "stick": {"L": "left", "R": "right", "S": "single"},
        "visit_reason": {"lot_intake": "intake", "warranty_return": "warranty", "check": "check"},
        "finding": {"fault_confirmed": "fault confirmed", "intermittent": "intermittent", "no_fault_found": "no fault found",
                    "not_tested": "not tested"},
        "action": {"test_only": "tested", "clean_air": "air", "clean_flush": "IPA", "clean_open": "opened", "recalibrate": "cal",
                   "adjust": "adjust", "resolder": "resolder", "replace_sensor": "wheel swap", "replace_module": "new stick",
                   "scrap": "scrap"},
        "outcome": {"pass": "pass", "pass_with_note": "slight", "fail": "fail", "scrapped": "parts only", "open": "on bench"},
    },
    units_row={
        "af_rest_offset_pct": "% half-scale", "al_rest_offset_pct": "% half-scale", "af_jitter_pct": "% half-scale",
        "al_jitter_pct": "% half-scale", "af_return_spread_pct": "% half-scale", "al_return_spread_pct": "% half-scale",
        "af_reach_pct": "% half-scale", "al_reach_pct": "% half-scale", "bench_minutes": "min", "parts_cost": "EUR",
        "consumables_cost": "EUR", "warranty_days": "days",
    },
)  # fmt: skip

#: Spellings of a family that people use; the aliases table maps each back.
SPELLINGS = ("{0}", "{lower}", "{upper}", "{0} pad", "{0}-ctl")


def spellings_of(family: str) -> tuple[str, ...]:
    """Return the five ways one family is written in the exports; the first is the register's own."""
    return tuple(s.format(family, lower=family.lower(), upper=family.upper()) for s in SPELLINGS)
