"""Peeled lap surfaces: mask, outline, worst line, paths from edge to edge, proposal, drawing.

Nothing is imported here. The answers are exact for a given mask; a proposal is
never an answer.
"""
