"""The log of acts: hash chain, tree, keys; one protocol, an in-memory log here."""
