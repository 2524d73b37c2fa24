"""What came of working a pack out anew, as text for the terminal."""

from __future__ import annotations

from textwrap import fill

from pipelines.answers.text import WIDTH
from pipelines.pack.reproduce import Reproduced
from pipelines.wording import batch_exhibit as wording

#: More differences than this are only counted.
MOST = 20


def reproduced_text(made: Reproduced) -> str:
    """Return whether all figures are the same, then what is not, and what to know beside."""
    told = made.compared
    said = [wording.reproduced_sentence(told.figures, told.exact, told.gap, len(told.differences))]
    said += [wording.difference_words(one.member, one.place, one.packed, one.anew) for one in told.differences[:MOST]]
    if len(told.differences) > MOST:
        said.append(f"  … and {len(told.differences) - MOST:,} more")
    beside = [wording.software_words(made.made_with, made.here), wording.words_differ(told.words)]
    beside.append(wording.extra_words(made.extra))
    return "\n".join([*said, *(fill(one, WIDTH) for one in beside if one)])
