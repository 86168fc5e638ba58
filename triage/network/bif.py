"""Read a published Bayesian network from a BIF file.

BIF, the Bayesian network interchange format, is the text format in which most published example
networks are passed around. pgmpy parses it; it is imported inside the function, because it takes
seconds to load and nothing else here needs it.
"""

import gzip
import math
from pathlib import Path

import numpy as np

from triage.errors import NetworkFileError
from triage.network.discrete import DiscreteNetwork, FloatArray

ROUNDING_TOLERANCE = 1e-6
"""Rows this close to 1 (dimensionless) were rounded by whoever printed the file: some rows of the
published ALARM and Hepar II files are off by 1e-7."""


def read_bif(path: Path | str) -> DiscreteNetwork:
    """Read a ``.bif`` or ``.bif.gz`` file.

    Rows that miss 1 by less than ``ROUNDING_TOLERANCE`` are rescaled to sum to 1.

    Parameters
    ----------
    path : Path or str
        The file, UTF-8.

    Returns
    -------
    DiscreteNetwork
        Variables and states in the order of the file; ``name`` is the path.

    Raises
    ------
    NetworkFileError
        The text is not BIF, holds no variable, or its tables are no distributions; every problem
        found is listed.
    """
    place = Path(path)
    packed = place.read_bytes()
    content = gzip.decompress(packed) if place.suffix == ".gz" else packed
    return parse_bif(content.decode("utf-8"), name=str(place))


def parse_bif(text: str, *, name: str) -> DiscreteNetwork:
    """Network from the text of a BIF file; ``name`` is what messages call it. See `read_bif`."""
    from pgmpy.readwrite import BIFReader  # here, because it takes seconds to import

    lines = text.replace("\r\n", "\n") + "\n"  # the parser wants a plain newline after every "}"
    try:
        reader = BIFReader(string=lines)
    # The parser has no errors of its own: a broken file ends in whatever Python raised first.
    except (AttributeError, IndexError, KeyError, TypeError, ValueError) as error:
        raise NetworkFileError(name, [f"not a BIF file that can be read: {error!r}"]) from error
    states = {variable: tuple(names) for variable, names in reader.variable_states.items()}
    parents = {variable: tuple(reader.variable_parents.get(variable, ())) for variable in states}
    tables = {}
    for variable, columns in reader.variable_cpds.items():
        known = [parent for parent in parents.get(variable, ()) if parent in states]
        shape = [len(states[parent]) for parent in known]
        # pgmpy keeps the variable on axis 0 and all its parents, the last one fastest, on axis 1.
        rows = np.asarray(columns, dtype=np.float64).T
        complete = len(rows) == math.prod(shape)  # otherwise the network reports the shape
        tables[variable] = _rescaled(rows).reshape(*shape, -1) if complete else rows
    return DiscreteNetwork(name=name, states=states, parents=parents, tables=tables)


def _rescaled(rows: FloatArray) -> FloatArray:
    """Rows (N, V) that are nearly distributions, made exact; others unchanged."""
    sums = rows.sum(axis=1, keepdims=True)  # (N, 1)
    nearly = np.abs(sums - 1.0) < ROUNDING_TOLERANCE
    return np.asarray(np.divide(rows, sums, where=nearly, out=rows.copy()))
