"""Sums over arrays in one thread. Work in, the same work with its last digits the same on any machine out.

Sums over several threads differ in their last digits from run to run and machine to machine; equal builds shall give
equal files. The arrays here are small: threads cost more than they bring. Only door to the pools of threads.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from threadpoolctl import threadpool_limits


@contextmanager
def one_thread() -> Iterator[None]:
    """Linear algebra within the block, or within a function decorated by it, runs in one thread."""
    with threadpool_limits(limits=1, user_api="blas"):
        yield
