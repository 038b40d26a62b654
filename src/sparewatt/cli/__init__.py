"""The command line: reads a request, calls one task, prints its answer."""
