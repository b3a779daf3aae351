"""``dewgap`` commands from a process that has the whole program loaded already.

A command takes a second and a half to start and often less to work, and the pages have more than a
hundred. So one process loads the program once, and each command is a fork of it, with its own
folder, variables, output and exit status. Where a system cannot fork, ``run.py`` starts each anew.
Like any Python of a page it is begun with ``offline/sitecustomize.py``.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import pkgutil
import signal
import sys
from contextlib import suppress


def load() -> None:
    """Import every module of the program, since commands import what they need when they run."""
    for name in ("cure_models", "windows"):
        for found in pkgutil.walk_packages(importlib.import_module(name).__path__, f"{name}."):
            importlib.import_module(found.name)
    gc.freeze()


def become(words: list[str], folder: str, output: str, longest_s: int) -> None:
    """Be the command ``dewgap`` in its folder, with all that it prints in one file."""
    os.setsid()
    signal.alarm(longest_s)
    os.chdir(folder)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    written = os.open(output, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(written, 1)
    os.dup2(written, 2)
    sys.argv = words
    from windows.cli import main

    main()


def serve() -> None:
    """Read requests from the input, a line each; answer each with its exit status."""
    load()
    for line in sys.stdin:
        request = json.loads(line)
        os.environ.update(request.pop("variables"))
        child = os.fork()
        if child == 0:
            become(**request)
            return
        try:
            _, ended = os.waitpid(child, 0)
        finally:
            # With all that it has started: a command that took too long may have helpers.
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(child, signal.SIGKILL)
        sys.stdout.write(f"{os.waitstatus_to_exitcode(ended)}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    serve()
