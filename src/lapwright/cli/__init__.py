"""The command line: parse, call a service, print. The only place that reads the clock."""
