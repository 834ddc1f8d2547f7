"""What a section face shows beside the unbrazed share: sound length, fillet, extra fill, lines.

Nothing is imported here. All of it is for a person to look at; none is a verdict.
"""
