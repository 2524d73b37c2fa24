"""The method notes of `help/` as HTML for a page to print: paragraphs, headings, bold, italic and code, nothing else."""

from __future__ import annotations

import re
from html import escape
from importlib.resources import files

_MARKS = ((re.compile(r"\*\*(.+?)\*\*"), "b"), (re.compile(r"\*([^*]+)\*"), "i"), (re.compile(r"`([^`]+)`"), "code"))


def note_html(name: str) -> str:
    """Return a note as HTML. All of it is text of our own; what is not a mark is shown as it is."""
    text = files("pipelines.wording").joinpath("help", f"{name}.md").read_text(encoding="utf-8")
    return "\n".join(_block(block) for block in re.split(r"\n\s*\n", text.strip()))


def _block(block: str) -> str:
    head, _, rest = block.partition("\n") if block.startswith("#") else ("", "", block)
    return "".join(f"<{tag}>{_marked(text)}</{tag}>" for tag, text in (("h4", head.lstrip("# ")), ("p", rest)) if text)


def _marked(text: str) -> str:
    text = escape(" ".join(text.split()), quote=False)
    for mark, tag in _MARKS:
        text = mark.sub(rf"<{tag}>\1</{tag}>", text)
    return text
