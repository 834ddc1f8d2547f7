"""Records, booklets and codes: values in, documents out; and the checks of a received record."""
