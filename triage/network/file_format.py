"""Constants of the format of network files, for the reader and the writer (networks/README.md)."""

NOTHING_FAILED = "nothing_failed"  # section, and the id of the component it becomes
UNRECORDED = "unrecorded"  # source of a number whose source a written-out network does not hold
MINOR_UNITS = 100  # per unit; true of every currency with ISO 4217 exponent 2, such as USD
SUM_TOLERANCE = 1e-9  # decimal fractions in binary are off by 1e-16 each; real slips are larger
LEAST = 1e-6  # a likelihood of 0 or 1 could never be corrected by any number of closed jobs
