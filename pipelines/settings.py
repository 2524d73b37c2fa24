"""Every number a person may change: its default, unit and help, in one place.

Settings come from the defaults below, then a TOML file (`settings.toml` in the warehouse folder, or the file named
by `--settings`), then `--set name=value`; the later wins.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

from pipelines.errors import SettingError


def _setting(default, *, unit: str, help: str, low: float | None = None, high: float | None = None):
    return field(default=default, metadata={"unit": unit, "help": help, "low": low, "high": high})


@dataclass(frozen=True)
class Settings:
    """What the histories and answers take as given. None means: taken from the log itself, or not used."""

    notice_days: float = _setting(
        14, unit="days", low=0, high=3650,
        help="A reported fault began at most this long before its visit. 0 dates it at the visit.",
    )
    quiet_lag_days: int = _setting(
        21, unit="days", low=0, high=3650,
        help="The last days of the log are not used, because their faults are not all in yet.",
    )
    log_start: dt.date | None = _setting(
        None, unit="date",
        help="Watching begins here; units in service before it enter late. Blank: the earlier of the first job and "
        "the first date in service.",
    )
    log_end: dt.date | None = _setting(
        None, unit="date", help="Watching ends here. Blank: the last date of a job, reading, sale or return.",
    )
    preventive_clean_censors: bool = _setting(
        True, unit="true or false",
        help="A preventive clean ends the first life unfailed. False: the first life runs on through it.",
    )
    min_at_risk: int | None = _setting(
        None, unit="modules", low=1, high=1_000_000,
        help="A curve is drawn only where at least this many are at risk. Blank: 10 or 5 % of the group, the larger.",
    )
    min_failures: int = _setting(
        6, unit="failures", low=2, high=1000, help="Fewer failures than this are too few for a Weibull fit.",
    )
    assumed_shape: float | None = _setting(
        None, unit="Weibull shape", low=0.1, high=20,
        help="The shape assumed for groups of under 10 failures. Blank: the one that the groups of the answer share.",
    )
    horizon: float = _setting(
        90, unit="days, or hours on the hour clock", low=0.001, high=1e6,
        help="A clean counts as durable when the stick is still good this long after it.",
    )
    age: float | None = _setting(
        None, unit="days, or hours on the hour clock", low=0.001, high=1e6,
        help="The age at which to say how many are still good. Blank: no age.",
    )
    grid: float | None = _setting(
        None, unit="days, or hours on the hour clock", low=0, high=1e6,
        help="Times are rounded to steps of this size. Blank: exact up to 20,000 spells, above that about a "
        "two-thousandth of the longest time. 0: always exact.",
    )
    false_discovery: float = _setting(
        0.1, unit="share of the batches named", low=0.001, high=0.5,
        help="Of the batches called worse or better, at most this share is expected to be luck.",
    )
    batch_ratio: float = _setting(
        2.0, unit="times as often", low=1.1, high=20,
        help="A batch that fails this many times as often as others should be noticed; with less on record than that takes, "
        "nothing is said of it yet.",
    )
    early_age: float | None = _setting(
        None, unit="days, or hours on the hour clock", low=0.001, high=1e6,
        help="Failures of a batch up to this age are early ones. Blank: the age by which 5 % of the others had failed.",
    )
    fitting_period_months: int = _setting(
        6, unit="months", low=1, high=120,
        help="A batch is held against others fitted within the same period of this many months.",
    )
    pass_max_rest_offset_pct: float | None = _setting(
        None, unit="% of half-scale", low=0, high=100,
        help="An as-left rest offset above this fails the job whatever its outcome says. Blank: the outcome decides.",
    )
    pass_max_jitter_pct: float | None = _setting(
        None, unit="% of half-scale", low=0, high=200, help="The same for as-left jitter.",
    )
    pass_max_return_spread_pct: float | None = _setting(
        None, unit="% of half-scale", low=0, high=200, help="The same for the as-left return spread.",
    )
    pass_min_reach_pct: float | None = _setting(
        None, unit="% of half-scale", low=0, high=150, help="An as-left reach below this fails the job.",
    )
    labour_per_hour: float | None = _setting(
        None, unit="money per hour", low=0, high=1e6,
        help="What an hour at the bench costs. Blank: from the price list (labour_per_hour), else asked for.",
    )
    bench_hours_per_unit: float | None = _setting(
        None, unit="hours per unit", low=0, high=1000,
        help="Bench hours of a unit, whatever becomes of it. Blank: what the jobs say by family and fate, else asked for.",
    )
    clean_minutes: float | None = _setting(
        None, unit="minutes per clean", low=0, high=10_000,
        help="Bench time of one clean of a stick with its test. Blank: what the jobs say by family and depth, else asked for.",
    )
    replace_minutes: float | None = _setting(
        None, unit="minutes per new part", low=0, high=10_000,
        help="Bench time to fit a new sensor or module, its test included. Blank: what the jobs say by family, else asked for.",
    )
    part_cost: float | None = _setting(
        None, unit="money per part", low=0, high=1e6,
        help="What a new sensor, module or board costs, the same for every family. Blank: from the price list (part), else what "
        "the jobs say, else asked for.",
    )
    consumables_per_clean: float | None = _setting(
        None, unit="money per clean", low=0, high=1e6,
        help="Cleaner, swabs and the like for one clean; a lot counts one for each unit that does not work as found. Blank: what "
        "the jobs say, else asked for.",
    )
    resale_price: float | None = _setting(
        None, unit="money per unit", low=0, high=1e6,
        help="What a sold unit brings, the same for every family and grade. Blank: what past sales of the family brought, else "
        "from the price list (resale, by family/grade), else asked for.",
    )
    other_fault_share: float | None = _setting(
        None, unit="share of units with good sticks", low=0, high=1,
        help="How many cannot be sold for another fault: buttons, battery, shell. Blank: asked for.",
    )
    selling_fee_share: float | None = _setting(
        None, unit="share of the resale price", low=0, high=1,
        help="What the marketplace keeps of a sale. Blank: from the price list (selling_fee_pct), else asked for.",
    )
    freight_out: float | None = _setting(
        None, unit="money per unit", low=0, high=1e6,
        help="What it costs to send a sold unit. Blank: from the price list (freight_out), else asked for.",
    )
    return_cost: float | None = _setting(
        None, unit="money per return", low=0, high=1e6,
        help="What a unit that comes back under warranty costs, all told: refund or repair, freight, work. Blank: asked for.",
    )
    return_share: float | None = _setting(
        None, unit="share of sold units", low=0, high=1,
        help="How many sold units come back under the warranty. Blank: from past sales, else asked for.",
    )
    warranty_days: int | None = _setting(
        None, unit="days", low=0, high=3650,
        help="The warranty given with a sale. Blank: the usual one of the last year's sales, else asked for.",
    )
    accepted_warranty_cost: float | None = _setting(
        None, unit="money per sold unit", low=0, high=1e6,
        help="What returns under warranty may cost on average. Blank: asked for.",
    )
    harvest_value: float | None = _setting(
        None, unit="money per scrapped unit", low=0, high=1e6,
        help="What the parts of a scrapped unit are worth. Blank: from the price list (resale, family/parts), else asked for.",
    )
    buyer_premium_share: float | None = _setting(
        None, unit="share of the bid", low=0, high=10,
        help="What the auction adds to a bid. Blank: the usual share of past lots, else asked for.",
    )
    tax_share: float | None = _setting(
        None, unit="share of bid and premium", low=0, high=10,
        help="Tax on a lot that is not recovered. Blank: the usual share of past lots, else asked for.",
    )
    inbound_freight: float | None = _setting(
        None, unit="money per lot", low=0, high=1e9,
        help="Freight and duty for the lot. Blank: the usual amount per unit of past lots, else asked for.",
    )
    loss_limit: float = _setting(
        0.1, unit="chance", low=0.001, high=0.999,
        help="The highest chance of losing money that a bid may have. The default of 0.1 is a convention.",
    )
    margin: float = _setting(
        0.0, unit="share of the outlay", low=0, high=100,
        help="The expected profit that a bid must leave, of all that is spent. The default of 0 asks for none.",
    )
    bench_hours_free: float | None = _setting(
        None, unit="hours a week", low=0, high=1e5,
        help="Bench hours that are free for bought lots. Blank: whether there is time for a lot is not judged.",
    )
    bench_weeks: float | None = _setting(
        None, unit="weeks", low=0.1, high=520,
        help="The time within which a lot is to be through the bench. Blank: only the weeks that it takes are told.",
    )
    unit_price: float | None = _setting(
        None, unit="money per controller", low=0, high=1e6,
        help="What another controller costs, to put in the place of one that fails again and again. Blank: asked for.",
    )
    fault_cost: float | None = _setting(
        None, unit="money per fault", low=0, high=1e6,
        help="What one fault of a stick costs, all told: bench, swap, time out of use, refund. Blank: asked for.",
    )
    keep_weeks: float | None = _setting(
        None, unit="weeks", low=0, high=1040,
        help="How much longer a controller is to serve, over which its faults are reckoned. Blank: asked for.",
    )
    callout_cost: float | None = _setting(
        None, unit="money per fault", low=0, high=1e6,
        help="What it costs to go for a faulty controller and swap it. Blank: from the price list (callout), else asked for.",
    )
    downtime_hours: float | None = _setting(
        None, unit="hours per fault", low=0, high=1e5,
        help="Opening hours that a seat stands still for a fault. Blank: the mean of the downtime log (stick), else asked for.",
    )
    downtime_per_hour: float | None = _setting(
        None, unit="money per hour", low=0, high=1e6,
        help="What an hour out of use loses. Blank: from the price list (downtime_per_hour), else what the downtime log says, "
        "else asked for.",
    )
    refund_per_fault: float | None = _setting(
        None, unit="money per fault", low=0, high=1e6, help="What players are given back for a fault. Blank: asked for.",
    )
    harm_share: float | None = _setting(
        None, unit="share of planned cleans", low=0, high=1,
        help="How many planned cleans cause a fault. Blank: faults soon after planned cleans of tested sticks, else asked for.",
    )
    restored_share: float | None = _setting(
        None, unit="share of the age", low=0, high=1,
        help="What a clean gives back of the age of a stick. Blank: from the record; where that cannot tell, nothing is advised.",
    )
    fill_chance: float = _setting(
        0.95, unit="chance", low=0.5, high=0.999,
        help="The chance that the shelf lasts until the supplier delivers. The default of 0.95 is a convention.",
    )
    lead_time_days: int | None = _setting(
        None, unit="days", low=1, high=730,
        help="How long the supplier of parts takes from order to delivery. Blank: asked for.",
    )
    turnaround_days: float | None = _setting(
        None, unit="days", low=0.1, high=730,
        help="How long a controller is away for a fault. Blank: the mean of the last 52 weeks' jobs, else asked for.",
    )
    tester_share_limit: float = _setting(
        0.3, unit="share of the spread", low=0.01, high=1,
        help="The tester may make up this much of the spread of readings (standard deviations). 0.3 is a convention.",
    )
    batch_tolerance: float = _setting(
        1.2, unit="times as often", low=1, high=20,
        help="A batch that fails up to this many times as often as the others is not worth an alarm.",
    )
    false_alarm: float = _setting(
        0.05, unit="chance", low=0.0001, high=0.5,
        help="The highest chance that a batch within the tolerance raises a false alarm, in its whole life.",
    )
    false_stop: float = _setting(
        0.01, unit="chance", low=0.0001, high=0.5,
        help="The same for the alarm that says to stop buying a batch.",
    )

    #: A change of one of these changes the histories; the others only change how answers read them.
    HISTORY = (
        "notice_days", "quiet_lag_days", "log_start", "log_end", "preventive_clean_censors",
        "pass_max_rest_offset_pct", "pass_max_jitter_pct", "pass_max_return_spread_pct", "pass_min_reach_pct",
    )  # fmt: skip

    def overlaid(self, values: Mapping[str, object]) -> Settings:
        """Return a copy with `values` (name → text, number, date or None) put over it. Raises SettingError."""
        return replace(self, **{name: _checked(name, value) for name, value in values.items()})

    def as_plain(self) -> dict[str, object]:
        """Return name → value with dates as ISO text, as JSON wants them."""
        return {
            one.name: value.isoformat() if isinstance(value := getattr(self, one.name), dt.date) else value
            for one in fields(self)
        }

    def history_part(self) -> dict[str, object]:
        """Return the settings on which the histories depend."""
        plain = self.as_plain()
        return {name: plain[name] for name in self.HISTORY}


def from_file(path: Path | None) -> Settings:
    """Read settings from a TOML file; None or a missing default file gives the defaults. Raises SettingError."""
    if path is None:
        return Settings()
    try:
        values = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingError(f"The settings file {path.name} cannot be read: {error}.", "Mend it or name another.") from error
    return Settings().overlaid(values)


def from_words(settings: Settings, words: Iterable[str]) -> Settings:
    """Lay `name=value` words (from --set) over `settings`. Raises SettingError."""
    values = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise SettingError(f"'{word}' is not a setting.", "Write --set name=value.")
        values[name.strip()] = value.strip()
    return settings.overlaid(values)


def _checked(name: str, value: object) -> object:
    known = {one.name: one for one in fields(Settings)}
    if name not in known:
        raise SettingError(f"There is no setting '{name}'.", "`stickfleet settings` lists them all.")
    one = known[name]
    if value is None or (isinstance(value, str) and value.lower() in ("", "none", "blank")):
        if one.default is None:
            return None
        raise SettingError(f"The setting {name} cannot be blank.", f"Its default is {one.default}.")
    kind = str(one.type).split(" |")[0]
    try:
        read = _READERS[kind](value)
    except (ValueError, TypeError) as error:
        raise SettingError(f"'{value}' is no value for {name} ({one.metadata['unit']}).", one.metadata["help"]) from error
    low, high = one.metadata["low"], one.metadata["high"]
    if low is not None and not low <= read <= high:
        span = f"It goes from {low:,.10g} to {high:,.10g} {one.metadata['unit']}."
        raise SettingError(f"{name} = {value} is out of range.", span)
    return read


def _whole(value: object) -> int:
    number = float(value)  # type: ignore[arg-type]
    if number != int(number):
        raise ValueError(value)
    return int(number)


def _number(value: object) -> float:
    if isinstance(value, bool):
        raise ValueError(value)
    return float(value)  # type: ignore[arg-type]


def _date(value: object) -> dt.date:
    if isinstance(value, dt.datetime):
        return value.date()
    return value if isinstance(value, dt.date) else dt.date.fromisoformat(str(value))


def _flag(value: object) -> bool:
    word = str(value).lower()
    if word not in ("true", "yes", "1", "false", "no", "0"):
        raise ValueError(value)
    return word in ("true", "yes", "1")


_READERS = {"float": _number, "int": _whole, "dt.date": _date, "bool": _flag}
