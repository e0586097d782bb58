"""The report: one self-contained page, answer first (being written)."""

from __future__ import annotations

import html

from stdday.results import Results

__all__ = ["report_html"]


def report_html(results: Results) -> str:
    """Make the report's HTML text."""
    return f"<!doctype html><title>{html.escape(results.meta['title'])}</title>\n"
