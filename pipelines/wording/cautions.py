"""What can hurt at the bench, for paper and the terminal: the words of the help page without its marks."""

from __future__ import annotations

from importlib.resources import files


def caution_lines() -> list[str]:
    """Return the cautions, one each, and last what figures are for."""
    text = files("pipelines.wording").joinpath("help", "cautions.md").read_text(encoding="utf-8").replace("**", "")
    return [" ".join(one.split()) for one in text.replace("\n\n", "\n- ").removeprefix("- ").split("\n- ")]


def caution_words() -> str:
    """Return the least that stands beside any advice: power off, local rules, and what figures are for."""
    first, *_, scrap, closing = caution_lines()
    return f"{first} {scrap} {closing}"
