"""Compile a kernel, or run the very same source as plain Python: one text, two ways of running.

`jit` compiles with numba unless a plain twin is being loaded. Machine code is cached on disk in a folder named after the
text of all kernel modules: numba itself looks only at the file of the function it compiles, and would not notice that
another one it calls has changed. What lies in that folder is run, so it must be one that nobody else can write into; and
only one process at a time compiles for it. `plain_twin` imports the kernel modules a second time with compiling off; it is
the readable reference in tests, and what answers while the compiled one is not ready yet.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import os
import stat
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar, cast

__all__ = ["cache_folder", "compile_aside", "is_cached", "jit", "kept", "plain_twin", "small"]

Function = TypeVar("Function", bound=Callable[..., Any])
_plain = False
_HERE = Path(__file__).parent
_OTHERS_WRITE = stat.S_IWGRP | stat.S_IWOTH


@lru_cache(maxsize=1)
def cache_folder() -> Path:
    """Where the machine code of the kernel as it reads now, for this machine, is kept: where NUMBA_CACHE_DIR says, beside
    the source, in the user's own cache, or among the temporary files; the first of them that is this user's alone."""
    from importlib.metadata import version

    binding: Any = importlib.import_module("llvmlite.binding")
    made_by = (version("numba"), sys.implementation.cache_tag, binding.get_host_cpu_name())
    digest = hashlib.sha256(repr(made_by).encode())
    sources = {
        *_HERE.glob("motion_*.py"),
        _HERE / "layout.py",
        _HERE / "storing.py",
        _HERE / "outcome.py",
    } - {_HERE / "motion_bind.py"}
    for source in sorted(sources):
        digest.update(source.read_bytes())
    name = f"motion-{digest.hexdigest()[:12]}"
    wanted, shared = os.environ.get("NUMBA_CACHE_DIR"), Path(tempfile.gettempdir())
    homes = [
        *([Path(wanted)] if wanted else []),
        _HERE / "__pycache__",
        Path.home() / ".cache" / "sparewatt",
        shared / f"sparewatt-{_me()}",
    ]
    found = next((home / name for home in homes if _is_ours(home / name)), None)
    return (
        found or Path(tempfile.mkdtemp(prefix="sparewatt-")) / name
    )  # where all are taken: one for this run alone


def _me() -> int:
    """This user's number; 0 where users have none, and each has temporary files of their own."""
    return os.geteuid() if hasattr(os, "geteuid") else 0


def _is_ours(folder: Path) -> bool:
    """Whether only this user, and who rules the machine, can have put there what lies in a folder, now or by swapping the
    folder for another; it is made, and closed to others, if it can be."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if hasattr(os, "geteuid"):
            here, root = folder.resolve(), Path(folder.resolve().anchor).stat().st_uid
            if here.stat().st_uid != _me() or here.stat().st_mode & _OTHERS_WRITE:
                return False
            here.chmod(0o700)
            for above in (one.stat() for one in here.parents):
                swapped = above.st_mode & _OTHERS_WRITE and not above.st_mode & stat.S_ISVTX
                if swapped or above.st_uid not in (_me(), root):
                    return False
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def compile_aside(command: Sequence[str]) -> None:
    """Start a process that compiles, for nobody to wait for, unless one compiles for this folder already.

    The lock goes with the process: it is let go when that ends, whatever way.
    """
    quiet = {"stdin": subprocess.DEVNULL, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    env = {**os.environ, "NUMBA_CACHE_DIR": str(cache_folder().parent)}  # there, and nowhere else
    with (
        contextlib.suppress(OSError),
        _lock() as held,
    ):  # where no process can be had, the plain twin goes on answering
        how: dict[str, Any] = {**quiet, "env": env, "pass_fds": held, "start_new_session": True}
        subprocess.Popen(command, **how)  # noqa: S603


@contextlib.contextmanager
def _lock() -> Iterator[tuple[int, ...]]:
    """The lock of the folder, as handles to pass on; BlockingIOError when it is held, none where there are no locks."""
    try:
        import fcntl
    except ImportError:
        yield ()
        return
    folder = cache_folder()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle = os.open(folder / "compiling", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield (handle,)
    finally:
        os.close(handle)


def is_cached() -> bool:
    """Whether compiled code of the kernel as it reads now lies on disk."""
    return any(cache_folder().rglob("motion_step.run-*.nbc"))


def kept(function: Function, **how: Any) -> Function:
    """Compiled, with its code kept on disk."""
    import numba

    config: Any = numba.config
    before = config.CACHE_DIR
    config.CACHE_DIR = str(cache_folder())
    try:
        njit: Any = numba.njit
        made = njit(cache=True, nogil=True, **how)(function)
    finally:
        config.CACHE_DIR = before
    return cast(Function, made)


def _compiled(function: Function, **how: Any) -> Function:
    """The same for the kernel. Counting who holds an array (the unnamed `_nrt`) is left out: it took half the
    time of a run, and every array a kernel sees is made outside and outlives it, so that nothing may be allocated inside."""
    return kept(function, error_model="numpy", _nrt=False, **how)


def jit(function: Function) -> Function:
    """The function compiled, with its machine code cached on disk; the function itself in a plain twin."""
    return function if _plain else _compiled(function)


def small(function: Function) -> Function:
    """The same for a function so small, or called so often, that LLVM is told to inline it: a call passes every array."""
    return function if _plain else _compiled(function, forceinline=True)


def plain_twin(names: tuple[str, ...]) -> ModuleType:
    """The last of the named modules, imported afresh with compiling off; the others as it needs them."""
    global _plain
    kept = {name: sys.modules.pop(name, None) for name in names}
    parents = {name: sys.modules[name.rpartition(".")[0]] for name in names}
    _plain = True
    try:
        found = [importlib.import_module(name) for name in names]
    finally:
        _plain = False
        for name in names:
            sys.modules.pop(name, None)
            module = kept[name]
            if module is not None:
                sys.modules[name] = module
                setattr(parents[name], name.rpartition(".")[2], module)
    return found[-1]
