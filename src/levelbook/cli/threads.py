"""How many threads linear algebra may take."""

import os

VARIABLES = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def one_thread() -> None:
    """Keep linear algebra to one thread, unless told otherwise; before numpy is imported.

    The matrices of a house are small: more threads make them slower, and many processes with
    many threads each far slower.
    """
    for variable in VARIABLES:
        os.environ.setdefault(variable, "1")
