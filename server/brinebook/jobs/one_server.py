"""One server on one data folder: a lock that ends with the process that holds it."""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from brinebook.sync.restore import StillServing

FILE_NAME = "serving.lock"


@contextmanager
def only_one(data: Path) -> Iterator[None]:
    """Hold the folder, or raise ``StillServing``."""
    data.mkdir(parents=True, exist_ok=True)
    handle = os.open(data / FILE_NAME, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as problem:
            raise StillServing(str(data)) from problem
        yield
    finally:
        os.close(handle)
