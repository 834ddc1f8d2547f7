"""Dated rules as data, and pure judgement over evidence, a module per step of the street."""
