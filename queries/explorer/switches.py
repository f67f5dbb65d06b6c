"""One tap to ask the same in another sense than the search box understood."""

from __future__ import annotations

from urllib.parse import urlencode

from kb.measure import millimetres_text
from queries.understanding import Understanding

WAYS = (("outside", "measured outside"), ("pitch", "as pitch length"))


def other_meanings(understood: Understanding) -> list[dict[str, str]]:
    """Return what else a line could mean, each with the link that asks so."""
    length = understood.length_mm
    if length is None or understood.kind is None:
        return []
    said = millimetres_text(length)
    if understood.kind == "belt":
        ribs = {"ribs": str(understood.ribs)} if understood.ribs else {}
        return [
            *(_switch(f"that length {label}", "/belts", length=said, measured=way, **ribs) for way, label in WAYS),
            _switch("any number of ribs", "/belts", length=said),
        ]
    others = {
        "hose": (("as its length", "/hoses", "length"), ("a clamp round it", "/clamps", "around")),
        "clamp": (("a hose of that bore", "/hoses", "inside"),),
        "pulley": (("a belt of that length", "/belts", "length"),),
        "tensioner": (("a pulley of that diameter", "/pulleys", "diameter"),),
    }
    return [_switch(label, path, **{name: said}) for label, path, name in others.get(understood.kind, ())]


def _switch(label: str, path: str, **asked: str) -> dict[str, str]:
    return {"label": label, "link": f"{path}?{urlencode(asked)}"}
