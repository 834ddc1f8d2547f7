"""One module per area; each holds ``CHECKS``: name -> a call of one public judgement."""
