"""Typeset reports: a template, data, and the fonts that come with the package."""

from rollsound.report.typesetting import typeset

__all__ = ["typeset"]
