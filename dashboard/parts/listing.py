"""The form of a lot that is offered: what is in it, and what the seller says. It stands in the page's address."""

from __future__ import annotations

from collections.abc import Iterable

import streamlit as st

from dashboard.parts import text
from dashboard.parts.kept import KEPT
from pipelines.logs.spelling import fold, nearest
from pipelines.vocabulary import StatedCondition

#: More families than this in one lot go to the command line.
MOST_FAMILIES = 12
#: Families with their units.
Mix = list[tuple[str, int]]


def listing(families: Iterable[str], sellers: Iterable[str], currency: str | None) -> tuple[Mix, dict[str, str]]:
    """Show the form; return families with their units, and the words of the case as `stickfleet answer lot-bid` takes them.

    families, sellers: those that the log knows. Both are empty as long as no family with its count stands there, or a family is
    unknown and nobody said that it is a new one.
    """
    known = sorted(families, key=str.casefold)
    with st.container(border=True, key="listing"):
        left, right = st.columns([3, 2], gap="large")
        with left:
            mix = _mix(known)
        with right:
            case = _terms(sellers, currency)
        is_settled = _settle({name for name, _ in mix}, known, case)
    if not mix or not is_settled:
        return [], {}
    return mix, {"mix": ",".join(f"{name}:{units}" for name, units in mix), **case}


def found_of(mix: Mix) -> dict[str, str]:
    """Ask how many of each family were tested and how many of those worked; return the words of the case."""
    found, halves = [], []
    for row, (name, units) in enumerate(mix, 1):
        if len(mix) > 1:
            text.quiet(f"{name} ({units:,})")
        both = [
            column.number_input(
                label, value=None, min_value=0, max_value=1_000_000, step=1, key=f"{key}_{row}", placeholder="none yet", **KEPT
            )
            for column, label, key in zip(
                st.columns(2), ("Tested, picked blindly", "Of those, working"), ("tested", "good"), strict=True
            )
        ]
        if None not in both:
            found.append((name, *both))
        elif both != [None, None]:
            halves.append(f"The test of {name} counts once both are filled in: how many were tested, and how many of those work.")
    _notes(halves)
    if not found:
        return {}
    return {key: ",".join(f"{one[0]}:{one[place]}" for one in found) for place, key in enumerate(("tested", "good"), 1)}


def terms_of(currency: str | None) -> dict[str, str]:
    """Ask what came and what was agreed; return the words of the case."""
    boxes = {
        "received": {"label": "Units that came", "min_value": 0, "max_value": 1_000_000, "step": 1},
        "stated_good_pct": {"label": "Working, as the seller states, %", "min_value": 0.0, "max_value": 100.0, "step": 1.0},
        "refund": {"label": _money("Refund less what sending it back costs", currency), "min_value": 0.0, "max_value": 1e9,
                   "step": 1.0},
    }  # fmt: skip
    found = {}
    for column, (key, box) in zip(st.columns(3), boxes.items(), strict=True):
        found[key] = column.number_input(**box, value=None, key=key, placeholder="not known", **KEPT)
    stated = found.pop("stated_good_pct")
    found["stated_good_share"] = None if stated is None else stated / 100
    return {key: str(value) for key, value in found.items() if value is not None}


def state(key: str) -> object:
    """Return what stands in a box of this page, also before the box is drawn: then it is in the address alone."""
    return st.session_state[key] if key in st.session_state else st.query_params.get(key)


def _mix(known: list[str]) -> Mix:
    """Show a row for each family, and an empty one below; return families and units of the whole rows."""
    last = max((row for row in range(1, MOST_FAMILIES + 1) if state(f"family_{row}") or state(f"units_{row}")), default=0)
    mix, halves = [], []
    for row in range(1, min(last + 1, MOST_FAMILIES) + 1):
        family, units = st.columns([3, 2])
        said = state(f"family_{row}")
        options = [*known, said] if said and said not in known else known
        visible = "visible" if row == 1 else "collapsed"
        name = family.selectbox(
            "Family", options, index=None, key=f"family_{row}", accept_new_options=True, placeholder="family",
            label_visibility=visible, **KEPT,
        )  # fmt: skip
        count = units.number_input(
            "Units", value=None, min_value=1, max_value=1_000_000, step=1, key=f"units_{row}", placeholder="how many",
            label_visibility=visible, **KEPT,
        )  # fmt: skip
        if name and count:
            mix.append((name, count))
        elif name or count:
            halves.append(f"{name or f'{count:,} units'}: left out until {'how many' if name else 'which family'} is said.")
    _notes(halves)
    return mix


def _notes(said: Iterable[str]) -> None:
    """Show notes below the boxes that they are of; between them they would move the next ones out of the page's address."""
    for one in said:
        text.note(one)


def _terms(sellers: Iterable[str], currency: str | None) -> dict[str, str]:
    said = state("seller")
    names = sorted(sellers, key=str.casefold)
    case: dict[str, object] = {
        "condition": st.selectbox(
            "Stated condition", [one.value for one in StatedCondition], index=None, key="condition",
            format_func=lambda word: word.replace("_", " "), placeholder="unknown", **KEPT,
        ),
        "seller": st.selectbox(
            "Seller", [*names, said] if said and said not in names else names, index=None, key="seller",
            accept_new_options=True, placeholder="any", **KEPT,
        ),
        "price": st.number_input(
            _money("Price asked, before fees", currency), value=None, min_value=-1e9, max_value=1e9, step=1.0, key="price",
            placeholder="none", **KEPT,
        ),
    }  # fmt: skip
    if case["price"] is not None and case["price"] < 0:
        text.note("A price under 0 is not used: give what is asked for the whole lot, or leave it blank.")
        case["price"] = None
    return {name: str(value) for name, value in case.items() if value is not None}


def _money(label: str, currency: str | None) -> str:
    """Return a label with the currency; a label would read $ as a formula."""
    return f"{label}, {currency}".replace("$", "\\$") if currency else label


def _settle(names: set[str], known: list[str], case: dict[str, str]) -> bool:
    """Ask about families that the log does not know; return whether all are settled, and say so in the case."""
    spelt = {fold(one) for one in known}
    unknown = sorted(name for name in names if fold(name) not in spelt)
    for name in unknown:
        near = nearest(name, known)
        text.note(f"The log has no family '{name}'." + (f" Did you mean {near}?" if near else ""))
    if not unknown:
        return True
    is_new = st.checkbox("It is new to us: let the other families tell of it", key="new_family", **KEPT)
    if is_new:
        case["new_family"] = "yes"
    return is_new
