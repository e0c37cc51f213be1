"""Rollsound: the engineering bench of the production sound mixer."""

__version__ = "0.1.0"
