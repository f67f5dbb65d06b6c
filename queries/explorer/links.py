"""Addresses of pages."""

from __future__ import annotations

from functools import lru_cache
from urllib.parse import quote


@lru_cache(maxsize=8192)  # a page of answers names the same parts again and again
def part_link(kind: str, supplier: str, part_no: str) -> str:
    """Return the address of a part's page.

    >>> part_link("belt", "A & B", "31/2903")
    '/parts/belt/A%20%26%20B/31%2F2903'
    """
    return "/parts/" + "/".join(quote(text, safe="") for text in (kind, supplier, part_no))
