"""One thread for the linear algebra: the matrices of a fit are too small for more to pay."""

from collections.abc import Iterator
from contextlib import contextmanager

from threadpoolctl import threadpool_limits


@contextmanager
def one_blas_thread() -> Iterator[None]:
    """Hold BLAS to one thread inside; on a busy machine several would wait for each other."""
    import scipy.linalg  # noqa: F401  (it brings a BLAS of its own, which has to be loaded to be held)

    with threadpool_limits(limits=1, user_api="blas"):
        yield
