"""The same work on a Dask cluster, through the ``concurrent.futures`` interface."""

from __future__ import annotations

from concurrent.futures import Executor

from lapkit.errors import OptionError


def executor_of(address: str | None) -> Executor | None:
    """An executor on the cluster whose scheduler has that address; None without an address.

    Raises:
        OptionError: the ``cluster`` extra is not installed, or no scheduler answers there.
    """
    if not address:
        return None
    try:
        from distributed import Client
    except ImportError:
        raise OptionError(
            "--scheduler needs the cluster extra",
            remedy="Install it: pip install 'lapkit[cluster]'.",
        ) from None
    try:
        client = Client(address, timeout="10s")
    except (OSError, ValueError) as error:
        raise OptionError(
            f"no scheduler at {address} ({error})", remedy="Check the address and that it runs."
        ) from None
    # A pure function of a file's path would give a changed file the old answer.
    return client.get_executor(pure=False)
