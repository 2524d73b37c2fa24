"""A bid as text for the terminal, and as one table."""

from __future__ import annotations


def bid_text(answer):
    return answer.sentence


def bid_csv(answer):
    return ""
