"""The words that shops write for codes: from codes.csv, then the user's mapping and aliases; never by likeness."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from pipelines.contract import Column
from pipelines.logs.refusal import Refusal
from pipelines.logs.spelling import fold, is_blank
from pipelines.vocabulary import CODES

#: What stands between the steps of a job's work.
_BETWEEN_STEPS = re.compile(r"\s*(?:[+,;/&|>\n]|->|→|\band then\b|\band\b|\bthen\b)\s*", re.IGNORECASE)


def list_name(column: Column) -> str:
    """Return the name of the column's list in codes.csv and CODES."""
    own = f"{column.table}.{column.name}"
    return own if own in CODES else column.name


@cache
def known_words(name: str) -> dict[str, str]:
    """Return folded word → code for one list of codes.csv; the codes themselves are words too."""
    text = files("pipelines").joinpath("codes.csv").read_text(encoding="utf-8")
    known: dict[str, str] = {}
    for row in csv.DictReader(text.splitlines()):
        if row["list"] == name:
            for word in (row["code"], *row["words_seen"].split(",")):
                if word.strip():
                    known[fold(word.strip())] = row["code"]
    return known


class CodeReader:
    """Reads one coded column: word → code, None for a blank, or a Refusal."""

    def __init__(self, column: Column, own_words: Mapping[str, str]) -> None:
        """own_words: folded word → code from the user's mapping and aliases; they win over codes.csv."""
        self._column = column
        self._words = known_words(list_name(column)) | dict(own_words)
        self._is_list = column.name == "action"

    def of(self, text: str) -> str | Refusal | None:
        code = self._words.get(fold(text))
        if code is not None:
            return code or None
        if is_blank(text):
            return None
        return self._steps(text) if self._is_list else self._unknown(text)

    def _steps(self, text: str) -> str | Refusal:
        codes = []
        for step in _BETWEEN_STEPS.split(text):
            code = self._words.get(fold(step))
            if code:
                codes.append(code)
            elif not is_blank(step):
                return self._unknown(step)
        return "+".join(codes) if codes else self._unknown(text)

    def _unknown(self, word: str) -> Refusal:
        name = list_name(self._column)
        key = f'"{name}"' if "." in name else name
        codes = ", ".join(str(code) for code in CODES[name])
        return Refusal(
            f"'{word[:60]}' is not a known word for {self._column.name}",
            f"Say what it means in the mapping file: [codes.{key}] {_quoted(word[:60])} = one of {codes}.",
        )


def _quoted(word: str) -> str:
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'
