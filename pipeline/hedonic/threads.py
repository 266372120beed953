"""One thread for the linear algebra: the matrices of a fit are too small for more to pay."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache

from threadpoolctl import ThreadpoolController


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Hold BLAS to one thread inside; on a busy machine several would wait for each other."""
    with _loaded().limit(limits=1, user_api="blas"):
        yield


@cache
def _loaded() -> ThreadpoolController:
    """Find the libraries that are loaded, once: it takes longer than a small solve."""
    import scipy.linalg  # noqa: F401  (it brings a BLAS of its own, which has to be loaded to be held)

    return ThreadpoolController()
