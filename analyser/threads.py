"""one_thread: a calculation whose last digits do not depend on how many threads the linear algebra uses."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

__all__ = ["one_thread"]

P = ParamSpec("P")
T = TypeVar("T")


def one_thread(work: Callable[P, T]) -> Callable[P, T]:
    """``work`` with one thread of BLAS and LAPACK; how many the caller had is as before afterwards.

    A sum over several threads is a sum in another order: with two the covariances differ in their last digits from those with one.
    """

    @wraps(work)
    def alone(*args: P.args, **kwargs: P.kwargs) -> T:
        from threadpoolctl import threadpool_limits

        with threadpool_limits(limits=1, user_api="blas"):
            return work(*args, **kwargs)

    return alone
