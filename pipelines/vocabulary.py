"""One enum for each coded column of the job log, and for the words that answers use.

The words that shops write for each code stand in `codes.csv`; matching is the intake's work.
"""

from __future__ import annotations

from enum import StrEnum


class Stick(StrEnum):
    LEFT = "L"
    RIGHT = "R"
    SINGLE = "S"
    BOTH = "B"
    UNKNOWN = "U"


class Sticks(StrEnum):
    """The sticks that a controller has."""

    LEFT_AND_RIGHT = "L+R"
    LEFT = "L"
    RIGHT = "R"
    SINGLE = "S"
    UNKNOWN = "U"


class SensorType(StrEnum):
    CARBON_POT = "carbon_pot"
    CONDUCTIVE_PLASTIC = "conductive_plastic"
    HALL = "hall"
    TMR = "tmr"
    OTHER = "other"
    UNKNOWN = "unknown"


class VisitReason(StrEnum):
    FAULT_REPORT = "fault_report"
    WARRANTY_RETURN = "warranty_return"
    PREVENTIVE = "preventive"
    LOT_INTAKE = "lot_intake"
    INCOMING_INSPECTION = "incoming_inspection"
    CHECK = "check"
    UNKNOWN = "unknown"


class Finding(StrEnum):
    FAULT_CONFIRMED = "fault_confirmed"
    INTERMITTENT = "intermittent"
    NO_FAULT_FOUND = "no_fault_found"
    NOT_TESTED = "not_tested"


class FailureMode(StrEnum):
    CENTRE_OFFSET = "centre_offset"
    JITTER = "jitter"
    POOR_RETURN = "poor_return"
    REDUCED_REACH = "reduced_reach"
    OVER_REACH = "over_reach"
    DEAD_SPOT = "dead_spot"
    AXIS_DEAD = "axis_dead"
    CLICK_FAULT = "click_fault"
    MECHANICAL = "mechanical"
    OTHER = "other"
    UNKNOWN = "unknown"


class FailureMechanism(StrEnum):
    CONTAMINATION = "contamination"
    LIQUID_RESIDUE = "liquid_residue"
    CORROSION = "corrosion"
    TRACK_WEAR = "track_wear"
    WIPER_WEAR = "wiper_wear"
    SPRING_FATIGUE = "spring_fatigue"
    JOINT_LOOSE = "joint_loose"
    HOUSING_DEFORMED = "housing_deformed"
    OUT_OF_ADJUSTMENT = "out_of_adjustment"
    MAGNET_OR_FIELD = "magnet_or_field"
    SOFTWARE = "software"
    IMPACT = "impact"
    UNKNOWN = "unknown"


#: The mechanisms that a clean takes away; no clean gives back what the others took.
CLEANABLE = frozenset({FailureMechanism.CONTAMINATION, FailureMechanism.LIQUID_RESIDUE})
#: What is worn through does not recover by cleaning. Common practice; no source is known to us.
WORN = frozenset({FailureMechanism.TRACK_WEAR, FailureMechanism.WIPER_WEAR})


class MechanismEvidence(StrEnum):
    MICROSCOPE = "microscope"
    EYE = "eye"
    MEASURED = "measured"
    INFERRED = "inferred"


class Action(StrEnum):
    TEST_ONLY = "test_only"
    CLEAN_AIR = "clean_air"
    CLEAN_FLUSH = "clean_flush"
    CLEAN_OPEN = "clean_open"
    RECALIBRATE = "recalibrate"
    ADJUST = "adjust"
    RESOLDER = "resolder"
    REPLACE_SENSOR = "replace_sensor"
    REPLACE_MODULE = "replace_module"
    REPLACE_BOARD = "replace_board"
    SCRAP = "scrap"


class CleanerClass(StrEnum):
    DRY_AIR = "dry_air"
    IPA = "ipa"
    CONTACT_CLEANER_DRY = "contact_cleaner_dry"
    CONTACT_CLEANER_LUBRICATING = "contact_cleaner_lubricating"
    SWAB = "swab"
    WATER_BASED = "water_based"
    NONE = "none"
    UNKNOWN = "unknown"


class Outcome(StrEnum):
    PASS = "pass"
    PASS_WITH_NOTE = "pass_with_note"
    FAIL = "fail"
    SCRAPPED = "scrapped"
    RETURNED_UNREPAIRED = "returned_unrepaired"
    OPEN = "open"
    UNKNOWN = "unknown"


class Disposition(StrEnum):
    SERVICE = "service"
    GRADE_A = "grade_a"
    GRADE_B = "grade_b"
    GRADE_C = "grade_c"
    HARVEST = "harvest"
    SCRAP = "scrap"
    TO_SUPPLIER = "to_supplier"
    HOLD = "hold"


class UsageBasis(StrEnum):
    METERED = "metered"
    SESSIONS = "sessions"
    ESTIMATED = "estimated"
    CLASS_RATE = "class_rate"
    UNKNOWN = "unknown"


class UsageClass(StrEnum):
    LIGHT = "light"
    NORMAL = "normal"
    HEAVY = "heavy"
    UNKNOWN = "unknown"


class LifeKnownFrom(StrEnum):
    NEW = "new"
    PREVIOUS_REPLACEMENT = "previous_replacement"
    BOUGHT_USED = "bought_used"
    UNKNOWN = "unknown"


class ReadingBasis(StrEnum):
    RAW = "raw"
    DEAD_ZONE_APPLIED = "dead_zone_applied"
    CALIBRATED = "calibrated"
    UNKNOWN = "unknown"


class OutReason(StrEnum):
    SOLD = "sold"
    SCRAPPED = "scrapped"
    LOST = "lost"
    STOLEN = "stolen"
    STORED = "stored"
    TRANSFERRED = "transferred"


class NewOrUsed(StrEnum):
    NEW = "new"
    USED = "used"
    REFURBISHED = "refurbished"
    UNKNOWN = "unknown"


class StatedCondition(StrEnum):
    WORKING = "working"
    TESTED = "tested"
    UNTESTED = "untested"
    CUSTOMER_RETURN = "customer_return"
    FOR_PARTS = "for_parts"
    SALVAGE = "salvage"
    UNKNOWN = "unknown"


class Fate(StrEnum):
    """What became of a unit of a lot, the worst over its sticks; open: the bench is not done with it."""

    WORKS = "works"
    CLEANED = "cleaned"
    NEW_PART = "new_part"
    SCRAP = "scrap"
    OPEN = "open"


class Course(StrEnum):
    """What to do with a bad stick."""

    CLEAN_FIRST = "clean_first"
    NEW_PART = "new_part"
    SCRAP = "scrap"


class InspectionDecision(StrEnum):
    ACCEPT = "accept"
    REJECT = "reject"
    ACCEPT_ON_CONCESSION = "accept_on_concession"
    HOLD = "hold"


class ReadingSource(StrEnum):
    METER = "meter"
    SESSIONS = "sessions"
    CASH_SYSTEM = "cash_system"
    ESTIMATE = "estimate"


class DowntimeCause(StrEnum):
    STICK = "stick"
    OTHER_CONTROLLER = "other_controller"
    CONSOLE = "console"
    NETWORK = "network"
    OTHER = "other"


class PriceKind(StrEnum):
    RESALE = "resale"
    LABOUR_PER_HOUR = "labour_per_hour"
    PART = "part"
    FREIGHT_OUT = "freight_out"
    SELLING_FEE_PCT = "selling_fee_pct"
    DOWNTIME_PER_HOUR = "downtime_per_hour"
    CLEAN_COST = "clean_cost"
    CALLOUT = "callout"


class Grade(StrEnum):
    A = "A"
    B = "B"
    C = "C"
    PARTS = "parts"


class ReturnReason(StrEnum):
    DRIFT = "drift"
    OTHER_FAULT = "other_fault"
    NO_FAULT_FOUND = "no_fault_found"
    BUYER_REMORSE = "buyer_remorse"
    DAMAGE_IN_TRANSIT = "damage_in_transit"
    UNKNOWN = "unknown"


class Measure(StrEnum):
    REST_OFFSET = "rest_offset"
    JITTER = "jitter"
    RETURN_SPREAD = "return_spread"
    REACH = "reach"
    LINEARITY = "linearity"


class AliasKind(StrEnum):
    FAMILY = "family"
    OUTCOME = "outcome"
    ACTION = "action"
    BATCH = "batch"
    SITE = "site"


#: The enum of each coded column, by (table, column) or by column alone where every table means the same.
CODES: dict[str, type[StrEnum]] = {
    "stick": Stick,
    "sticks": Sticks,
    "sensor_type": SensorType,
    "visit_reason": VisitReason,
    "finding": Finding,
    "failure_mode": FailureMode,
    "failure_mechanism": FailureMechanism,
    "mechanism_evidence": MechanismEvidence,
    "action": Action,
    "cleaner_class": CleanerClass,
    "outcome": Outcome,
    "disposition": Disposition,
    "usage_basis": UsageBasis,
    "usage_class": UsageClass,
    "life_known_from": LifeKnownFrom,
    "reading_basis": ReadingBasis,
    "out_reason": OutReason,
    "new_or_used": NewOrUsed,
    "stated_condition": StatedCondition,
    "decision": InspectionDecision,
    "source": ReadingSource,
    "cause": DowntimeCause,
    "prices.kind": PriceKind,
    "aliases.kind": AliasKind,
    "grade": Grade,
    "return_reason": ReturnReason,
    "measure": Measure,
}


class SpellKind(StrEnum):
    """What opened a spell at risk."""

    FIRST_LIFE = "first_life"
    AFTER_CLEAN = "after_clean"
    AFTER_OTHER_REPAIR = "after_other_repair"
    AFTER_PREVENTIVE = "after_preventive"


class Clock(StrEnum):
    HOURS = "hours"
    DAYS = "days"


class Question(StrEnum):
    CLEANING_SUCCESS = "cleaning-success"
    TIME_TO_FAILURE = "time-to-failure"
    RECURRENCE = "recurrence"
    RESTORATION = "restoration"
    FACTORS = "factors"
    LOT_BID = "lot-bid"
    FAMILY_RANKING = "family-ranking"
    PAST_LOTS = "past-lots"
    WARRANTY = "warranty"
    CLEAN_OR_REPLACE = "clean-or-replace"
    FAULT_RATES = "fault-rates"
    CLEANING_INTERVAL = "cleaning-interval"
    NEXT_FAILURES = "next-failures"
    SHELF = "shelf"
    BEFORE_AFTER = "before-after"
    MONTHLY = "monthly"
    CLEANING_PLAN = "cleaning-plan"
    BATCH_ALARM = "batch-alarm"
    STUDY_PLAN = "study-plan"
    BATCH_CONTAINMENT = "batch-containment"
    BATCH_VERDICT = "batch-verdict"
    BATCH_PATTERN = "batch-pattern"
    TESTER_STUDY = "tester-study"
    BATCH_INSPECTION = "batch-inspection"
    BATCH_EXHIBIT = "batch-exhibit"


#: What a question is asked of: a case (`--case`) or what was bought in lots, not groups of the fleet.
OF_A_CASE = (
    Question.LOT_BID, Question.FAMILY_RANKING, Question.PAST_LOTS, Question.WARRANTY, Question.CLEAN_OR_REPLACE,
    Question.FAULT_RATES, Question.CLEANING_INTERVAL, Question.CLEANING_PLAN, Question.NEXT_FAILURES, Question.SHELF,
    Question.BEFORE_AFTER, Question.MONTHLY, Question.BATCH_ALARM, Question.STUDY_PLAN, Question.BATCH_CONTAINMENT,
    Question.BATCH_VERDICT, Question.BATCH_PATTERN, Question.TESTER_STUDY, Question.BATCH_INSPECTION, Question.BATCH_EXHIBIT,
)  # fmt: skip


class BatchVerdict(StrEnum):
    """Whether a supplier batch fails more often than others of its age."""

    WORSE = "worse"
    BETTER = "better"
    NOT_SHOWN = "not_shown_to_differ"
    CANNOT_TELL = "cannot_tell_yet"


class SupplierVerdict(StrEnum):
    """Whether a supplier's batches fail more often than those of other suppliers, or one batch of its does."""

    WORSE = "worse"
    BETTER = "better"
    BATCHES = "single_batches"
    NOT_SHOWN = "not_shown_to_differ"


class Hold(StrEnum):
    """Whether a module is of a batch (fitted, found: written when fitted, or when it came in), or why it may be."""

    FITTED = "fitted"
    FOUND = "found"
    CONTRADICTED = "contradicted"
    TWO_NAMED = "two_named"
    SPELT_ALIKE = "spelt_alike"
    MIXED = "mixed"


class Whereabouts(StrEnum):
    """Where a module is at the end of the log, or what became of it."""

    IN_SERVICE = "in_service"
    FAILED = "failed"
    NOT_IN_SERVICE = "not_in_service"
    SOLD_IN_WARRANTY = "sold_in_warranty"
    SOLD = "sold"
    RETURNED = "returned"
    STORED = "stored"
    TRANSFERRED = "transferred"
    LOST = "lost"
    STOLEN = "stolen"
    SCRAPPED = "scrapped"
    REPLACED = "replaced"


class BetterLaw(StrEnum):
    """Which of two laws of life fits better."""

    WEIBULL = "weibull"
    LOGNORMAL = "lognormal"
    TOO_CLOSE = "too_close"


class TrendVerdict(StrEnum):
    """Whether failures come more often with age."""

    GETTING_MORE_FREQUENT = "getting_more_frequent"
    GETTING_RARER = "getting_rarer"
    NO_TREND_SHOWN = "no_trend_shown"
    TOO_FEW = "too_few"


class ClockVerdict(StrEnum):
    """By which clock sticks age."""

    HOURS = "hours"
    DAYS = "days"
    BETWEEN = "between"
    NEITHER = "neither"
    CANNOT_TELL = "cannot_tell"


class Memory(StrEnum):
    """What a clean acts on: the whole age of the stick, or only the age gained since the last clean."""

    WHOLE = "whole"
    LAST = "last"


class Calendar(StrEnum):
    """Whether to clean ahead of faults. never: it would buy nothing; too_close: the record cannot tell."""

    CLEAN = "clean"
    NEVER = "never"
    TOO_CLOSE = "too_close"


class CalendarWhy(StrEnum):
    """What that rests on."""

    SAVES = "saves"
    DEAR_CLEAN = "dear_clean"
    NO_RISE = "no_rise"
    RESTORATION_UNTOLD = "restoration_untold"
    TOO_FEW_FAILURES = "too_few_failures"
    UNSURE = "unsure"
    LITTLE = "little"


class Agreement(StrEnum):
    """How what was decided of a batch stands to its plan. open: it is held, nothing was decided."""

    AS_PLANNED = "as_planned"
    AGAINST_PLAN = "against_plan"
    CONCESSION = "concession"
    OPEN = "open"


class StudyVerdict(StrEnum):
    """Whether the stick test is good enough to judge sticks by."""

    GOOD_ENOUGH = "good_enough"
    TOO_COARSE = "too_coarse"
    CANNOT_TELL = "cannot_tell"


class AlarmLevel(StrEnum):
    """What the running evidence against a supplier batch says to do."""

    STOP = "stop"
    WATCH = "watch"
    QUIET = "quiet"
    TOO_EARLY = "too_early"
    UNWATCHED = "unwatched"


class Because(StrEnum):
    """Why an estimate, a limit or a group is not given."""

    NOT_REACHED = "not_reached"
    LIMIT_NOT_REACHED = "limit_not_reached"
    TOO_FEW_FAILURES = "too_few_failures"
    NO_FAILURES = "no_failures"
    NO_SPELLS = "no_spells"
    NO_ATTEMPTS = "no_attempts"
    NO_FOLLOW_UP = "no_follow_up"
    NO_DENOMINATOR = "no_denominator"
    NO_CAUSES = "no_causes"
    FAILURES_ONLY = "failures_only"
    CLOCK_REFUSED = "clock_refused"
    FIT_FAILED = "fit_failed"
    RESTORATION_UNTOLD = "restoration_untold"
    MODEL_UNFIT = "model_unfit"
    LATE_ENTRY = "late_entry"
    TOO_FEW_AT_RISK = "too_few_at_risk"
    NO_COMMON_AGE = "no_common_age"
    UNTRIED_BANDS = "untried_bands"
    NO_USAGE_SPREAD = "no_usage_spread"
    BOTH_CLOCKS_FIT = "both_clocks_fit"
    TOO_FEW_CLUSTERS = "too_few_clusters"
    ONE_LEVEL = "one_level"
    CONFOUNDED = "confounded"
    SEPARATED = "separated"
    NO_SHAPE = "no_shape"
    TOO_LARGE = "too_large"
    TOO_FEW_ATTEMPTS = "too_few_attempts"
    UNLIKE_ANY = "unlike_any"
    ONE_RESULT = "one_result"
    NO_PAST_LOTS = "no_past_lots"
    NO_PROFIT = "no_profit"
    TOO_FEW_DRAWS = "too_few_draws"
    NOT_GIVEN = "not_given"
    NOT_KNOWN_THEN = "not_known_then"
    TOO_FEW_LOTS = "too_few_lots"
    STILL_OUT = "still_out"
    NOT_RECORDED = "not_recorded"
    NO_USABLE_HOURS = "no_usable_hours"
    NOTHING_IN_SERVICE = "nothing_in_service"
    TOO_FEW_BATCHES = "too_few_batches"
    SHARES_ALIKE = "shares_alike"
    CONTRADICTION = "contradiction"
    TOO_FEW_READINGS = "too_few_readings"
    NO_SPREAD = "no_spread"
    NO_PLAN = "no_plan"
    NO_COMPARISON = "no_comparison"
    BATCH_IS_SITE = "batch_is_site"
    ONE_BATCH = "one_batch"
    ONE_SUPPLIER = "one_supplier"
