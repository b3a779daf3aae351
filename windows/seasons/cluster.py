"""Many tasks on many cores: in this process, on Dask workers of its own, or on a cluster.

A task returns None, or what went wrong. It leaves its result on disk, so that nothing is lost with
a worker: the scheduler gives an unfinished task to another one.
"""

from __future__ import annotations

import logging
import re
import signal
import socket
import threading
import warnings
from contextlib import ExitStack, contextmanager, suppress
from multiprocessing import resource_tracker
from typing import TYPE_CHECKING, Any, TypeVar

from windows.errors import DewgapError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

__all__ = ["cores", "dask_setup", "each_done", "require_dask"]

Item = TypeVar("Item")

_CONNECT_S = 5
_ADDRESS = re.compile(r"(?:(?:tcp|tls)://)?(\[[0-9a-fA-F:]+\]|[^\s:/\[\]]+):(\d{1,5})")
_FIRST_WORKER_S = 10
_ONE_THREAD = dict.fromkeys(
    ("OMP_NUM_THREADS", "MKL_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMEXPR_NUM_THREADS"), "1"
)
_CONFIG = {
    # A task that was on two workers that died is tried again by itself: see _by_dask.
    "distributed.scheduler.allowed-failures": 1,
    "distributed.nanny.pre-spawn-environ": _ONE_THREAD,
    "distributed.comm.timeouts.connect": f"{_CONNECT_S}s",
}


def require_dask() -> Any:
    """Return Dask's package of clusters; refuse several workers where it is not installed.

    Raises
    ------
    DewgapError
        If it is not.
    """
    try:
        import distributed
    except ImportError:
        raise DewgapError(
            "portfolio on several cores needs the extra cluster: pip install dask distributed, or "
            "--workers 1"
        ) from None
    return distributed


def cores() -> int:
    """Return the number of cores that this process may use."""
    import os

    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def each_done(
    task: Callable[[Item], str | None],
    items: Sequence[Item],
    *,
    workers: int,
    scheduler: str | None = None,
) -> Iterator[tuple[Item, str | None]]:
    """Run a task on every item and yield each as it is done, with what went wrong or None.

    Parameters
    ----------
    task
        Called once an item, perhaps again after the death of a worker. It must not raise.
    items
        What it is called with.
    workers
        Processes of this machine; 1 is this process itself. Not used with a scheduler.
    scheduler
        Address of a Dask scheduler that runs already.

    Raises
    ------
    DewgapError
        If Dask is not installed, or the scheduler does not answer or goes away.
    """
    if not items:
        return
    if workers == 1 and scheduler is None:
        for item in items:
            yield item, task(item)
        return
    yield from _by_dask(task, items, workers, scheduler)


def _by_dask(
    task: Callable[[Item], str | None], items: Sequence[Item], workers: int, scheduler: str | None
) -> Iterator[tuple[Item, str | None]]:
    distributed = require_dask()
    import dask

    with ExitStack() as closing:
        closing.enter_context(_quiet())
        closing.enter_context(dask.config.set(_CONFIG))
        client = closing.enter_context(
            _own(min(workers, len(items))) if scheduler is None else _connected(scheduler)
        )
        waiting = {client.submit(task, item, pure=False): item for item in items}
        suspects = []
        for future in distributed.as_completed(list(waiting), loop=client.loop):
            item = waiting.pop(future)
            if _killed(future):
                suspects.append(item)
            else:
                yield item, _outcome(future)
        # All tasks of a worker that dies are counted as if they had killed it. Each by itself.
        for item in suspects:
            yield item, _outcome(client.submit(task, item, pure=False))


def _killed(future: Any) -> bool:
    from distributed.scheduler import KilledWorker

    return future.status == "error" and isinstance(future.exception(), KilledWorker)


def _outcome(future: Any) -> str | None:
    """Return what a task returned, or a sentence in its place."""
    from concurrent.futures import CancelledError

    from distributed.scheduler import KilledWorker

    try:
        told: str | None = future.result()
    except KilledWorker:
        return "every worker that took it died (out of memory, perhaps); try it with --workers 1"
    except CancelledError:
        raise _gone() from None
    except Exception as fault:
        text = " ".join(str(fault).split())
        return f"the worker cannot do it ({type(fault).__name__}: {text}); mend the worker"
    return told


def _gone() -> DewgapError:
    return DewgapError(
        "the scheduler has gone away; what was done is kept: start it and run the same again"
    )


@contextmanager
def _own(workers: int) -> Iterator[Any]:
    """Start workers of this machine that no other one can reach."""
    distributed = require_dask()
    with _interrupts_put_off() as came:
        cluster = distributed.LocalCluster(
            n_workers=workers,
            threads_per_worker=1,
            host="127.0.0.1",
            dashboard_address=None,
            # Without a port of its own here, the scheduler would take a fixed one.
            scheduler_kwargs={"dashboard": False, "dashboard_address": "127.0.0.1:0"},
            memory_limit=0,  # a task holds one site; a limit would only kill a large one
            silence_logs=logging.CRITICAL,
            preload=[__name__],
        )
    try:
        if came:
            raise KeyboardInterrupt
        with distributed.Client(cluster, set_as_default=False) as client:
            yield client
            with suppress(TimeoutError):  # a worker that is being started anew cannot be closed
                client.wait_for_workers(workers, timeout=_FIRST_WORKER_S)
    finally:
        with suppress(Exception):  # all is done, or given up: workers end with this process
            cluster.close()


@contextmanager
def _interrupts_put_off() -> Iterator[list[int]]:
    """Put Ctrl-C off while workers start, who never get it; yield what came in the meantime."""
    came: list[int] = []
    main = threading.current_thread() is threading.main_thread()
    if not main or not hasattr(signal, "pthread_sigmask"):
        yield came
        return
    resource_tracker.ensure_running()  # started later, it would let the signal through again
    before = signal.signal(signal.SIGINT, lambda number, frame: came.append(number))
    mask = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})  # workers inherit it
    try:
        yield came
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, mask)
        signal.signal(signal.SIGINT, before)


def dask_setup(worker: object) -> None:
    """Leave Ctrl-C to the process that started this worker: called by Dask as a worker begins."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


@contextmanager
def _connected(address: str) -> Iterator[Any]:
    """Connect to a scheduler, and see that it has a worker."""
    distributed = require_dask()
    try:
        _knock(address)
        client = distributed.Client(address, timeout=_CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as fault:
        text = " ".join(str(fault).split())
        raise DewgapError(
            f"--scheduler {address}: no Dask scheduler answers there ({text}); give the address "
            "that it shows when it starts, as tcp://127.0.0.1:8786"
        ) from None
    with client:
        try:
            client.wait_for_workers(1, timeout=_FIRST_WORKER_S)
        except TimeoutError:
            raise DewgapError(
                f"--scheduler {address}: it has no worker after {_FIRST_WORKER_S} s; start one "
                f"with dask worker {address}"
            ) from None
        yield client


def _knock(address: str) -> None:
    """See that somebody listens at an address, sooner than Dask does."""
    found = _ADDRESS.fullmatch(address)
    if found is None:
        raise ValueError("this is no address")
    if address.startswith("tls:"):
        secured = require_dask().Security().get_connection_args("client")
        if secured.get("ssl_context") is None:
            raise ValueError("Dask's own settings name no certificates")
    with socket.create_connection((found[1].strip("[]"), int(found[2])), _CONNECT_S) as line:
        # Dask speaks first, but not through TLS; its own client would wait for others for ever.
        if not address.startswith("tls:") and not line.recv(1):
            raise OSError("who listens there is not Dask")


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep Dask's own remarks off the screen: what matters is told by a result."""
    before = logging.root.manager.disable
    logging.disable(logging.CRITICAL)
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", module=r"(distributed|dask|tornado)(\.|$)")
            yield
    finally:
        logging.disable(before)
