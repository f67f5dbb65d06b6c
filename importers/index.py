"""The search index, as everything that writes rows keeps it in step: :mod:`kb.search_index` says how."""

from kb.search_index import add, changed, known, rebuild

__all__ = ["add", "changed", "known", "rebuild"]
