"""Text on the page. Whatever may come from a log goes through here and is shown as it is: no markdown, no HTML."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

import streamlit as st


def lead(text: str) -> None:
    """Show the sentence that answers the question."""
    _paragraph("sf-lead", text)


def lead_and_rest(text: str) -> None:
    """Show the first sentence as the one that answers the question, the others below it."""
    first, stop, rest = text.partition(". ")
    lead(first + stop.strip())
    if rest:
        paragraph(rest)


def answer(text: str) -> None:
    """Show the few words that a person came for, large."""
    _paragraph("sf-lead sf-answer", text)


def paragraph(text: str) -> None:
    """Show ordinary text."""
    _paragraph("sf-text", text)


def heading(text: str) -> None:
    """Show the name of a group of boxes."""
    _paragraph("sf-heading", text)


def quiet(text: str) -> None:
    """Show what matters less."""
    _paragraph("sf-quiet", text)


def note(text: str) -> None:
    """Show what the reader should bear in mind."""
    _paragraph("sf-note", text)


def listed(entries: Iterable[Sequence[str]]) -> None:
    """Show a list; of an entry (name, text) the name stands out."""
    rows = "".join(f"<li>{_entry(*entry)}</li>" for entry in entries)
    st.html(f'<ul class="sf-list">{rows}</ul>')


def _paragraph(kind: str, text: str) -> None:
    st.html(f'<p class="{kind}">{html.escape(text)}</p>')


def _entry(name: str, text: str = "") -> str:
    return f"<b>{html.escape(name)}</b>: {html.escape(text)}" if text else html.escape(name)
