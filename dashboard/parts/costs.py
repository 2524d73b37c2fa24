"""“Your costs and prices”, for every screen that reckons with money. What is typed stands in the page's address.

A blank box means: as the settings file, the price list or the record has it; that number is shown in it, pale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import streamlit as st

from dashboard import source
from dashboard.parts import text
from dashboard.parts.kept import KEPT
from pipelines.answers.lot_money import Missing, Source
from pipelines.settings import Settings
from pipelines.wording.costs import COST_GROUPS, amount_words, box_label, origin_words, per_words

_ACROSS = 3
_SETTING = {one.name: one for one in fields(Settings)}


def costs(
    names: Sequence[str], *, sources: Sequence[Source], missing: Sequence[Missing], currency: str | None,
    heading: str = "Your costs and prices",
) -> Settings:  # fmt: skip
    """Show a box for each of these settings, and return the settings in force with what was typed laid over them.

    sources, missing: what is found and what is not under the settings in force. What is not stands open, the rest folded away.
    """
    typed: dict[str, float | None] = {}

    def boxes(some: Sequence[str]) -> None:
        for start in range(0, len(some), _ACROSS):
            for column, name in zip(st.columns(_ACROSS), some[start : start + _ACROSS], strict=False):
                with column:
                    found = [one for one in sources if one.name == name]
                    typed[name] = _box(name, found, currency, lacking.get(name))

    lacking = {one.name: one.of for one in missing if one.name in names}
    if lacking:
        text.heading("Needed from you, because nothing on record says it")
        boxes(list(lacking))
    if not set(names) - set(lacking):
        return _overlaid(typed)
    with st.expander(heading, key="costs"):
        text.quiet(
            "A blank box takes the pale number in it, from your settings file, your price list or the record. "
            "Where there is none, nothing is assumed: it is asked for."
        )
        for of, group in COST_GROUPS.items():
            shown = [name for name in group if name in names and name not in lacking]
            if shown:
                text.heading(of)
                boxes(shown)
    return _overlaid(typed)


def _overlaid(typed: dict[str, float | None]) -> Settings:
    return source.settings().overlaid({name: value for name, value in typed.items() if value is not None})


def _box(name: str, found: Sequence[Source], currency: str | None, lacking_of: Sequence[str] | None) -> float | None:
    """Show the box of one setting and return what is typed in it, in the unit of the setting.

    lacking_of: the families that lack it (empty: all alike), None where it is not lacking.
    """
    meta, scale, pale = _SETTING[name].metadata, _scale(name), _pale(name, found)
    is_whole = str(_SETTING[name].type).startswith("int")
    kind = int if is_whole else float
    value = st.number_input(
        box_label(name, meta["unit"], currency), value=None, key=_key(name), help=meta["help"],
        min_value=kind(meta["low"] * scale), max_value=kind(meta["high"] * scale), step=kind(1),
        format="%d" if is_whole else "%.2f", **KEPT,
        placeholder=_placeholder(found, None if pale is None else pale * scale, is_lacking=lacking_of is not None),
    )  # fmt: skip
    said = origin_words(found, say=lambda amount: amount_words(amount * scale)) or _default(name, pale)
    if lacking_of is not None:
        said = f"for {', '.join(lacking_of)}" if lacking_of else ""
    text.quiet("; ".join(one for one in (per_words(meta["unit"]), said) if one))
    return None if value is None else value / scale


def _pale(name: str, found: Sequence[Source]) -> float | None:
    """Return the number that a blank box stands for, where it is one number."""
    amounts = {one.amount for one in found}
    return amounts.pop() if len(amounts) == 1 else getattr(source.settings(), name)


def _placeholder(found: Sequence[Source], amount: float | None, *, is_lacking: bool) -> str:
    if is_lacking:
        return "needed"
    if amount is not None:
        return amount_words(amount)
    return "as told below" if found else "none"


def _default(name: str, pale: float | None) -> str:
    return "" if pale is None else "the default" if pale == _SETTING[name].default else "from the settings file"


def _scale(name: str) -> int:
    """Shares are typed in percent."""
    return 100 if _SETTING[name].metadata["unit"].startswith(("share", "chance")) else 1


def _key(name: str) -> str:
    return name if _scale(name) == 1 else f"{name.removesuffix('_share')}_pct"
