"""`answer past-lots`: what would have been advised for each past lot, beside what was paid and what came of it."""

from __future__ import annotations

import pandas as pd

from pipelines.answers.lot_backlog import backlog
from pipelines.answers.lot_money import lot_money
from pipelines.answers.lot_record import LotRecord
from pipelines.answers.lot_replay import SHOWN, Replay, Replayed, replay
from pipelines.answers.past_lots_record import PastLot, PastLots, Seller, Sum
from pipelines.answers.question import Asked
from pipelines.decisions.bid import Fees
from pipelines.decisions.sellers import standings
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.proportion import share
from pipelines.estimates.winners_curse import Curse, winners_curse
from pipelines.facts.read import Connection
from pipelines.vocabulary import Because
from pipelines.wording import past_lots as wording


def past_lots(connection: Connection, asked: Asked) -> PastLots:
    """Answer from the log. Raises InputError where money is in several currencies."""
    return of_replay(replay(connection, asked.settings), asked)


def of_replay(found: Replay, asked: Asked) -> PastLots:
    """Answer from lots that were replayed before, under the same settings."""
    record, lots = found.record, [_past_lot(one) for one in found.lots]
    scored = [one for one in lots if one.because is None]
    priced = [one for one in scored if one.paid is not None]
    advised = [one for one in priced if one.is_bid_advised is not None]
    families = sorted({family for one in lots for family in one.mix})
    asked_for = lot_money(record, families, asked.settings).missing if families else []
    told = {
        "held": share(sum(one.is_within for one in scored), len(scored), level=asked.level),
        "all_scored": _sum(priced),
        "within_advice": _sum([one for one in advised if one.is_bid_advised]),
        "over_advice": _sum([one for one in advised if not one.is_bid_advised]),
        "disappointing": [one.lot_id for one in sorted(scored, key=_shortfall) if one.value < one.value_forecast.low],
        "curse": curse_of(found, level=asked.level),
    }  # fmt: skip
    because = None if scored else _because(found)
    sentence = wording.sentence(**told, lots=lots, because=because, missing=[(one.name, one.of) for one in asked_for],
                                currency=record.currency, forecast_level=SHOWN)  # fmt: skip
    return PastLots(
        question=asked.question.value, currency=record.currency, level=asked.level, forecast_level=SHOWN,
        log_start=record.log_start, log_end=record.log_end, settings=asked.settings.as_plain(), because=because,
        sentence=sentence, warnings=wording.warnings(lots, found.left_out), asked_for=asked_for, lots=lots,
        sellers=_sellers(record, asked.level), backlog=backlog(record, found.results, asked.settings),
        left_out=found.left_out, **told,
    )  # fmt: skip


def curse_of(found: Replay, *, level: float = 0.95) -> Curse:
    """Return by which share won lots came out better or worse than forecast. Lots of one quarter are taken to err together."""
    rows = [
        (
            one.forecast.value.estimate,
            one.value,
            one.forecast.sd,
            f"{one.lot.bought_on.year} {(one.lot.bought_on.month - 1) // 3}",
        )
        for one in found.lots
        if one.because is None and one.forecast.sd > 0
    ]
    return winners_curse(pd.DataFrame(rows, columns=["forecast", "came", "sd", "group"]), level=level)


def bid_less_curse(bid: float, fees: Fees, curse: Curse, *, kept: float = 0.0) -> float | None:
    """Return the bid that is left when the curse is taken off what the lot is worth; None where it is not shown.

    bid: a highest bid, i.e. what the lot is worth (at the limit on losses, or expected) less its fees and `kept`, by the margin.
    """
    if not curse.is_shown:
        return None
    price = fees.price(bid)
    return max(fees.bid(price + (price + kept) * curse.share.estimate), 0.0)


def _past_lot(one: Replayed) -> PastLot:
    lot, told = one.lot, one.forecast
    bid = None if told is None or told.bid is None else told.bid
    advised = None if bid is None else bid.highest_bid
    is_under = one.apart is not None and one.apart.total < 0
    return PastLot(
        lot_id=lot.lot_id, seller=lot.seller, conditions=sorted(set(lot.conditions.values())), mix=lot.mix,
        bought_on=lot.bought_on.isoformat(), record_on=None if told is None else told.record_on.isoformat(),
        is_prior_led=told is not None and told.is_prior_led, because=one.because, bid=lot.bid, paid=lot.paid,
        advised_bid=advised, is_bid_advised=None if bid is None or lot.bid is None else lot.bid <= (advised or 0.0),
        loss_chance=None if told is None else told.loss_chance,
        value_forecast=None if told is None else told.value,
        profit_forecast=None if told is None or lot.paid is None else _less(told.value, lot.paid),
        value=one.value, profit=None if one.value is None or lot.paid is None else one.value - lot.paid,
        is_within=one.is_within if one.because is None else None, waiting=one.waiting, apart=one.apart,
        reason=one.apart.worst if is_under else None,
    )  # fmt: skip


def _less(value: Estimate, paid: float) -> Estimate:
    return Estimate(value.estimate - paid, value.low - paid, value.high - paid)


def _shortfall(one: PastLot) -> float:
    return one.value - one.value_forecast.estimate


def _sum(lots: list[PastLot]) -> Sum:
    return Sum(
        len(lots), sum(one.paid for one in lots), sum(one.value_forecast.estimate for one in lots), sum(one.value for one in lots)
    )  # fmt: skip


def _sellers(record: LotRecord, level: float) -> list[Seller]:
    if record.fates.because is not None:
        return []
    return [
        Seller(of.name, of.lots, int(of.k), int(of.n), of.odds_ratio, one.against.value)
        for one in standings(record.fates.stages[0], level=level)
        for of in [one.effect]
    ]


def _because(found: Replay) -> Because:
    """Return why no lot is held against a forecast: what hinders the last of them, or that there are none."""
    return found.lots[-1].because if found.lots else Because.NO_PAST_LOTS
