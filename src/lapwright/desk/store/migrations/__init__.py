"""Changes of the tables, in order; the guards are put back after each."""
