"""Proofs that cross fields: everything that was checked for a day, gathered into one answer."""
