"""`answer family-ranking`: which families to buy in bulk and which to stop buying, by the profit of a unit at the going price."""

from __future__ import annotations

from pipelines.answers import case as read
from pipelines.answers.lot_gathering import Offer
from pipelines.answers.lot_money import Money, lot_money
from pipelines.answers.lot_record import LotRecord, lot_record
from pipelines.answers.paid_price import paid_prices, usual_condition
from pipelines.answers.question import Asked
from pipelines.answers.ranking_record import FamilyRow, PaidPrice, Ranking, RankingCase
from pipelines.decisions.family_advice import Advice, family_advice
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.family_ranking import FamilyYield, RankedFamily, family_ranking, family_yields
from pipelines.estimates.ranks import Rank
from pipelines.facts.read import Connection
from pipelines.vocabulary import Because
from pipelines.wording import ranking as wording

#: One seed, so that the same question gives the same answer.
SEED = 4


def rank_families(connection: Connection, asked: Asked) -> Ranking:
    """Answer from the log. Raises SettingError on a case that does not go together, InputError on several currencies."""
    return ranking_of(lot_record(connection), asked)


def ranking_of(record: LotRecord, asked: Asked) -> Ranking:
    """Answer from a record of lots read before."""
    case = _case(record, asked.case)
    families = sorted({*record.families, *case.prices})
    head = {
        "question": asked.question.value, "case": case, "currency": record.currency, "level": asked.level,
        "log_start": record.log_start, "log_end": record.log_end, "settings": asked.settings.as_plain(),
        "lots": record.fates.lots, "units": record.fates.units,
    }  # fmt: skip
    if record.fates.because is not None:
        because = record.fates.because
        return Ranking(**head, because=because, sentence=wording.refused_sentence(because), warnings=[], asked_for=[], sources=[],
                       warranty_days=None, best=None, families=[])  # fmt: skip
    money = lot_money(record, families, asked.settings)
    prices = paid_prices(record, families, condition=case.condition, given=case.prices, level=asked.level)
    paid = dict(zip(families, prices, strict=True))
    whole = _money_of_some(record, families, asked, money, paid, case.condition)
    rows, best = _rows(record, families, paid, whole, case, asked)
    because = None if any(row.because is None for row in rows) else Because.NOT_GIVEN
    unpriced = [family for family in families if paid[family].origin is None]
    return Ranking(
        **head, because=because, sentence=wording.ranking_sentence(rows, best, case, money.missing, record.currency, asked.level),
        warnings=wording.ranking_warnings(rows, case, unpriced, is_prior_led=record.fates.is_prior_led),
        asked_for=money.missing, sources=money.sources, warranty_days=money.warranty_days, best=best, families=rows,
    )  # fmt: skip


def _case(record: LotRecord, words: dict[str, str]) -> RankingCase:
    given = read.amounts_by_name("price", words["price"]) if "price" in words else {}
    known = {*record.log_families, *record.families}
    prices = read.by_known_name("family", given, known, record.family_aliases)
    if "condition" in words:
        return RankingCase(read.stated_condition(words["condition"]), False, prices)
    return RankingCase(usual_condition(record), True, prices)


def _money_of_some(
    record: LotRecord, families: list[str], asked: Asked, money: Money, paid: dict[str, PaidPrice], condition: str
) -> tuple[list[str], Money]:
    """Return the families with a price of which all money is known, and it; none where something is missing for all."""
    lacking = {family for one in money.missing for family in one.of or families}
    priced = [family for family in families if family not in lacking and paid[family].origin is not None]
    offer = Offer(dict.fromkeys(priced, condition), is_average=True)
    return priced, lot_money(record, priced, asked.settings, offer=offer) if priced else money


def _rows(
    record: LotRecord, families: list[str], paid: dict[str, PaidPrice], whole: tuple[list[str], Money], case: RankingCase,
    asked: Asked,
) -> tuple[list[FamilyRow], str | None]:  # fmt: skip
    """Return the ranked families, then those of which only the yield is known, by yield; and the best."""
    priced, money = whole
    ranked, best = [], None
    if money.inputs is not None and priced:
        going = {family: paid[family].price.estimate for family in priced}
        words = {"condition": case.condition, "seed": SEED, "level": asked.level}
        found = family_ranking(record.fates, going, money.inputs, **words)
        ranked, best = [_ranked(one, paid[one.family], one.family in money.borrowed) for one in found.families], found.best
    told = {row.family for row in ranked}
    others = [family for family in families if family not in told]
    yields = family_yields(record.fates, others, condition=case.condition, seed=SEED, level=asked.level)
    yields.sort(key=lambda one: (one.is_thin, -one.good_share.estimate))
    return [*ranked, *(_unranked(one, paid[one.family]) for one in yields)], best


def _ranked(one: RankedFamily, paid: PaidPrice, is_borrowed: bool) -> FamilyRow:
    return FamilyRow(
        one.family, None, family_advice(one.earn_chance, is_thin=one.is_thin), one.rank, one.profit_per_unit, one.earn_chance,
        paid, one.good_share, one.cleaned_share, one.bench_h_per_unit, one.bench_h_per_profit, one.units, one.lots, one.is_thin,
        is_borrowed,
    )  # fmt: skip


def _unranked(one: FamilyYield, paid: PaidPrice) -> FamilyRow:
    nothing = Estimate.refused(Because.NOT_GIVEN)
    return FamilyRow(
        one.family, Because.NOT_GIVEN, Advice.CANNOT_TELL, Rank(None, None, None, None), nothing, None, paid, one.good_share,
        one.cleaned_share, nothing, nothing, one.units, one.lots, one.is_thin, False,
    )  # fmt: skip
