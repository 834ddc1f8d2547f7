"""The desk: the only place that knows Django. The command line imports `lapwright.desk.boot`."""
