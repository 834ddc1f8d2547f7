"""Use cases, one module each; the only place that joins the other packages."""
