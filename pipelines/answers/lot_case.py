"""The lot that a bid is asked for: its words checked against each other and against what the log knows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pipelines.answers import case as read
from pipelines.answers.lot_record import LotRecord
from pipelines.errors import SettingError
from pipelines.logs.spelling import fold
from pipelines.vocabulary import StatedCondition


@dataclass(frozen=True)
class LotCase:
    """A listing, and what was found of it. mix, tested, good: family → units; tested, good: empty where nothing was tested.

    condition: of `StatedCondition`; seller: None for any; price: asked or bid for the lot, before fees; refund: what sending it
    back brings; new_families: never seen in the log.
    """

    mix: dict[str, int]
    condition: str
    seller: str | None
    price: float | None
    tested: dict[str, int]
    good: dict[str, int]
    stated_good_share: float | None
    received: int | None
    refund: float | None
    new_families: list[str]

    @property
    def units(self) -> int:
        return sum(self.mix.values())

    @property
    def tested_count(self) -> int:
        return sum(self.tested.values())

    @property
    def good_count(self) -> int:
        return sum(self.good.values())


def lot_case(words: Mapping[str, str], record: LotRecord) -> LotCase:
    """Read the words of a lot (`CASE` of lot-bid). Raises SettingError on whatever does not go together."""
    if "mix" not in words:
        raise SettingError("A bid needs to know what is in the lot.", "Write --case mix=Family:20,Other:5.")
    mix, new = _families(words, record)
    units = sum(mix.values())
    if "units" in words and (said := read.count("units", words["units"])) != units:
        raise SettingError(f"The mix adds up to {units} units, not to {said}.", "Mend the counts of the mix, or leave units out.")
    tested, good = _test(words, mix, record.family_aliases)
    received = read.count("received", words["received"]) if "received" in words else None
    if received is not None and sum(tested.values()) > received:
        raise SettingError(f"{sum(tested.values())} units were tested, but only {received} arrived.", "Mend one of the two.")
    if received is not None and received > units:
        raise SettingError(
            f"{received:,} units arrived of a lot of {units:,}.", "Mend one of the two: the lot is what was bought."
        )
    amounts = {name: read.number(name, words[name]) if name in words else None for name in ("price", "refund")}
    stated = words.get("stated_good_share")
    return LotCase(
        mix=mix, condition=_condition(words), seller=_seller(words.get("seller"), record),
        price=amounts["price"], tested=tested, good=good,
        stated_good_share=None if stated is None else read.number("stated_good_share", stated, high=1),
        received=received, refund=amounts["refund"], new_families=new,
    )  # fmt: skip


def _families(words: Mapping[str, str], record: LotRecord) -> tuple[dict[str, int], list[str]]:
    """Return the mix in the log's spelling, and the families that the log does not know."""
    is_new_fine = "new_family" in words and read.is_yes("new_family", words["new_family"])
    known = {*record.log_families, *record.families}
    mix, new = {}, []
    for said, count in read.counts_by_name("mix", words["mix"], low=1).items():
        name = record.family_aliases.get(fold(said), said) if fold(said) not in map(fold, known) else said
        if fold(name) in map(fold, known):
            family = read.known_name("family", name, known)
            if family in mix:
                raise SettingError(f"The family '{family}' is named twice, in two spellings.", "Name each family once.")
            mix[family] = count
        elif is_new_fine:
            mix[name] = count
            new.append(name)
        else:
            _refuse_family(name, known)
    return mix, new


def _refuse_family(name: str, known: set[str]) -> None:
    try:
        read.known_name("family", name, known)
    except SettingError as error:
        more = "If it was never seen, say --case new_family=yes: the other families then tell of it."
        raise SettingError(error.what, f"{error.remedy} {more}") from error


def _test(words: Mapping[str, str], mix: dict[str, int], aliases: Mapping[str, str]) -> tuple[dict[str, int], dict[str, int]]:
    if ("tested" in words) != ("good" in words):
        raise SettingError("A test needs both: how many were tested, and how many of them were good.", "Give tested= and good=.")
    if "tested" not in words:
        return {}, {}
    tested, good = (_of_mix(name, words[name], mix, aliases) for name in ("tested", "good"))
    for family, count in mix.items():
        if tested[family] > count:
            raise SettingError(
                f"{tested[family]:,} units of {family} were tested, but the lot has {count:,}.", "Mend one of the two."
            )
        if good[family] > tested[family]:
            raise SettingError(
                f"{good[family]:,} good of {tested[family]:,} tested of {family}.", "Count the good ones among those tested."
            )
    return (tested, good) if any(tested.values()) else ({}, {})


def _of_mix(name: str, text: str, mix: dict[str, int], aliases: Mapping[str, str]) -> dict[str, int]:
    """Return counts for each family of the mix; one number alone is of the only family."""
    if ":" not in text:
        if len(mix) > 1:
            raise SettingError(f"{name} = {text} does not say of which family.", f"Write {name}={next(iter(mix))}:{text}.")
        return {next(iter(mix)): read.count(name, text)}
    given = read.by_known_name("family in the mix", read.counts_by_name(name, text), mix, aliases)
    return {family: given.get(family, 0) for family in mix}


def _condition(words: Mapping[str, str]) -> str:
    return read.stated_condition(words["condition"]) if "condition" in words else StatedCondition.UNKNOWN.value


def _seller(name: str | None, record: LotRecord) -> str | None:
    """Return the seller in the log's spelling; a new one stays as it is said."""
    if name is None:
        return None
    return next((one for one in record.sellers if fold(one) == fold(name)), name)
