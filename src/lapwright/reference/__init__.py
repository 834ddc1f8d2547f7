"""Published tables with their sources, and exact lookups in them.

Tables lie in ``data/`` as CSV, each beside a ``.source.yaml`` that says where
its figures come from. Nothing is read at import time, nothing is matched
fuzzily: an unknown designation is refused with near candidates of its table.
Call the modules: `tube`, `fittings`, `fillers`, `metals`, `sizes`, ...
"""
