"""The stick that is asked about: its words checked against the contract and against what the log knows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass

from pipelines.answers import case as read
from pipelines.contract import columns_of
from pipelines.errors import SettingError
from pipelines.estimates.triage_columns import READINGS
from pipelines.logs.numbers import limits_of
from pipelines.logs.spelling import fold
from pipelines.logs.words import known_words
from pipelines.wording.verdict import counted

#: Coded words of a stick → the list of words that they are written in.
CODED = {"mode": "failure_mode", "mechanism": "failure_mechanism", "sensor_type": "sensor_type"}
DEPTHS = ("air", "flush", "open")
#: Of a reading without an upper limit in the contract: more than this is impossible, twice the whole scale.
MOST_PCT = 200.0


@dataclass(frozen=True)
class BenchCase:
    """A stick as found. depth: of the clean that is thought of, None: whichever is cheapest; attempt_number: which clean of its
    module the next one is; failed_tries: those before it that failed since one passed; assumed: what was not said of these.
    """

    family: str | None
    mode: str | None
    sensor_type: str | None
    mechanism: str | None
    depth: str | None
    attempt_number: int
    failed_tries: int
    readings: dict[str, float]
    assumed: tuple[str, ...] = ()

    def as_found(self) -> dict[str, object]:
        """Return the columns that `triage` takes, all but the depth."""
        told = asdict(self)
        return {name: told[name] for name in ("family", *CODED, "attempt_number", "failed_tries")} | self.readings


def bench_case(
    words: Mapping[str, str], families: Iterable[str], aliases: Mapping[str, str] | None = None
) -> BenchCase:  # fmt: skip
    """Return the stick that `--case` describes. aliases: folded word → family.

    Raises SettingError on what cannot be, and where nothing is said of it.
    """
    found = {name: code_of(name, words[name]) for name in CODED if name in words}
    readings = {name: read.number(name, words[name], high=most_of(name)) for name in READINGS if name in words}
    family = read.known_name("family", words["family"], families, aliases) if "family" in words else None
    depth = depth_of(words["depth"]) if "depth" in words else None
    if family is None and not readings and not any(found.values()):
        raise SettingError("Nothing is said of the stick.", "Say --case family=… mode=… af_rest_offset_pct=… as far as known.")
    number = read.count("attempt_number", words.get("attempt_number", "1"), low=1)
    failed = read.count("failed_tries", words.get("failed_tries", "0"))
    if failed >= number:
        raise SettingError(
            f"{counted(failed, 'clean')} cannot have failed before clean number {number:,} of the module.",
            "Those that failed are among the cleans so far: mend one of the two numbers.",
        )
    assumed = tuple(name for name in ("attempt_number", "failed_tries") if name not in words)
    return BenchCase(
        family, found.get("mode"), found.get("sensor_type"), found.get("mechanism"), depth, number, failed, readings, assumed
    )


def code_of(name: str, word: str) -> str | None:
    """Return the code of a word for mode, mechanism or sensor type; None for unknown. Raises SettingError."""
    known = known_words(CODED[name])
    code = known.get(fold(word))
    if code is None:
        raise SettingError(f"'{word}' is no {name}.", f"It is one of: {', '.join(dict.fromkeys(known.values()))}.")
    return None if code == "unknown" else code


def depth_of(word: str) -> str:
    """Return air, flush or open of a depth or of an action that is one clean. Raises SettingError."""
    depth = str(known_words("action").get(fold(word), word)).removeprefix("clean_")
    if depth not in DEPTHS:
        raise SettingError(f"'{word}' is no depth of a clean.", f"It is one of: {', '.join(DEPTHS)}.")
    return depth


def most_of(name: str) -> float:
    """Return the largest reading of a column that can be."""
    column = next(one for one in columns_of("jobs") if one.name == name)
    return limits_of(column)[1] or MOST_PCT
