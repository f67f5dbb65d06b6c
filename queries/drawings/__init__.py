"""Answers as SVG."""
