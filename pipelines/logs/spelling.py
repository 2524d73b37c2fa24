"""When two spellings are the same word: case, accents and punctuation do not count, letters and digits do."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable
from functools import lru_cache

_NOT_A_LETTER = re.compile(r"[\W_]+")
_BRACKETED = re.compile(r"[(\[{][^)\]}]*[)\]}]\s*$")
#: Units that people write behind a heading.
_UNIT_TAILS = frozenset(["pct", "percent", "h", "hr", "hrs", "hours", "min", "mins", "minutes", "eur", "usd", "gbp", "days"])

#: What people write into a cell that has nothing to say.
BLANK_WORDS = frozenset(("", "na", "n/a", "n.a.", "#n/a", "nan", "-", "--", "–", "—", "?", "null", "none", "nil", "(blank)", "."))
#: What people write for a batch that they could not tell, folded; so is a cell without a letter or digit.
_NO_BATCH = frozenset((
    "unknown", "unk", "not known", "not recorded", "not noted", "not stated", "no batch", "no code", "no label", "unmarked",
    "unreadable", "illegible",
))  # fmt: skip


@lru_cache(maxsize=1 << 16)
def fold(text: str) -> str:
    """Return the letters and digits of `text` in lower case, one space between words; its marks if it has no other."""
    plain = "".join(one for one in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(one))
    return " ".join(_NOT_A_LETTER.sub(" ", plain).split()) or " ".join(text.split())


def heading_forms(text: str) -> tuple[str, ...]:
    """Return the spellings under which a heading may be known: whole, without "(h)", without a unit word behind."""
    whole = fold(text)
    forms = [whole, fold(_BRACKETED.sub("", text))]
    head, _, tail = whole.rpartition(" ")
    if head and tail in _UNIT_TAILS:
        forms.append(head)
    return tuple(dict.fromkeys(form for form in forms if form))


def is_blank(text: str) -> bool:
    """Tell whether a cell says nothing."""
    return text.strip().casefold() in BLANK_WORDS


def is_no_batch(text: str) -> bool:
    """Tell whether a cell says nothing where the code of a batch belongs."""
    return is_blank(text) or fold(text) in _NO_BATCH or not any(one.isalnum() for one in text)


def nearest(name: str, known: Iterable[str], *, cutoff: float = 0.6) -> str | None:
    """Return the known name that is spelt most like `name`, None where none is near."""
    by_fold = {fold(one): one for one in known}
    near = difflib.get_close_matches(fold(name), by_fold, n=1, cutoff=cutoff)
    return by_fold[near[0]] if near else None
