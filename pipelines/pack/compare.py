"""Two packs held against each other, figure by figure."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pipelines.pack.opened import values

#: Numbers are the same up to this share of their size, and near 0 up to so much.
SHARE, NEAR_ZERO = 1e-6, 1e-12
_PAGE = "exhibit.html"


@dataclass(frozen=True)
class Difference:
    """A figure or word that came out otherwise. place: where in the member; None: not there."""

    member: str
    place: str
    packed: object
    anew: object


@dataclass(frozen=True)
class Compared:
    """figures: numbers compared; exact: of them, the same to the last digit; gap: the largest difference of the others that count
    as the same, as a share; words: texts that differ but may, because the software does."""

    figures: int
    exact: int
    gap: float
    words: int
    differences: list[Difference]


def compare(packed: Mapping[str, bytes], anew: Mapping[str, bytes], *, is_same_software: bool) -> Compared:
    """Compare the answers and tables; where software and all numbers are the same, the page too."""
    figures, exact, gap, words, found = 0, 0, 0.0, 0, []
    for member in sorted(name for name in packed if name.endswith((".json", ".csv"))):
        old, new = (dict(leaves(values(member, one[member]))) if member in one else {} for one in (packed, anew))
        for place in {**old, **new}:
            was, is_now = old.get(place), new.get(place)
            if isinstance(was, float):
                figures += 1
                exact += was == is_now
            if place in old and place in new and type(was) is type(is_now) and was == is_now:
                continue
            if _is_close(was, is_now):
                gap = max(gap, abs(was - is_now) / max(abs(was), abs(is_now)))
            elif not is_same_software and (place not in old or (isinstance(was, str) and isinstance(is_now, str))):
                words += 1  # other versions have more to say, or say it otherwise
            else:
                found.append(Difference(member, place, was, is_now))
    if is_same_software and not found and exact == figures and packed.get(_PAGE) != anew.get(_PAGE):
        found.append(Difference(_PAGE, "", "another page", "the page of these figures"))
    return Compared(figures, exact, gap, words, found)


def leaves(told: object) -> Iterator[tuple[str, object]]:
    """Give (place, value) of every number, text, truth and empty part; places as `batches/0/ratio/low`."""
    waiting: list[tuple[str, object]] = [("", told)]
    while waiting:
        place, value = waiting.pop()
        parts = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
        inner = [(f"{place}/{name}".lstrip("/"), one) for name, one in parts]
        if inner:
            waiting += reversed(inner)
        else:
            yield place, value


def _is_close(one: object, other: object) -> bool:
    return isinstance(one, float) and isinstance(other, float) and math.isclose(one, other, rel_tol=SHARE, abs_tol=NEAR_ZERO)
