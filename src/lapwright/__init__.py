"""Lapwright: brazer performance qualification for medical-gas copper piping.

Importing this package loads nothing heavy: no arrays, pictures, typesetting or
signing. Those are imported inside the packages that need them.
"""

__version__ = "0.1.0"
