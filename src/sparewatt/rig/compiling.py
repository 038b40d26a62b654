"""Compile a kernel, or run the very same source as plain Python: one text, two ways of running.

`jit` compiles with numba unless a plain twin is being loaded. Machine code is cached on disk in a folder named after the
text of all kernel modules: numba itself looks only at the file of the function it compiles, and would not notice that
another one it calls has changed. `plain_twin` imports the kernel modules a second time with compiling off; it is the
readable reference in tests, and what answers while the compiled one is not ready yet.
"""

from __future__ import annotations

import hashlib
import importlib
import os
import sys
import tempfile
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from types import ModuleType
from typing import Any, TypeVar, cast

__all__ = ["cache_folder", "is_cached", "jit", "plain_twin", "small"]

Function = TypeVar("Function", bound=Callable[..., Any])
_plain = False
_HERE = Path(__file__).parent


@lru_cache(maxsize=1)
def cache_folder() -> Path:
    """Where the machine code of the kernel as it reads now, for this machine, is kept: beside the source, else in the user's
    own cache."""
    from importlib.metadata import version

    binding: Any = importlib.import_module("llvmlite.binding")
    made_by = (version("numba"), sys.implementation.cache_tag, binding.get_host_cpu_name())
    digest = hashlib.sha256(repr(made_by).encode())
    sources = {*_HERE.glob("motion_*.py"), _HERE / "layout.py", _HERE / "outcome.py"} - {
        _HERE / "motion_bind.py"
    }
    for source in sorted(sources):
        digest.update(source.read_bytes())
    name = f"motion-{digest.hexdigest()[:12]}"
    wanted = os.environ.get("NUMBA_CACHE_DIR")
    homes = [Path(wanted)] if wanted else [_HERE / "__pycache__", Path.home() / ".cache" / "sparewatt"]
    for home in homes:
        try:
            home.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=home):
                return home / name
        except OSError:
            continue
    return Path(tempfile.gettempdir()) / f"sparewatt-{name}"


def is_cached() -> bool:
    """Whether compiled code of the kernel as it reads now lies on disk."""
    return any(cache_folder().rglob("motion_step.run-*.nbc"))


def _compiled(function: Function, **how: Any) -> Function:
    """Compiled, with its code kept on disk. Counting who holds an array (the unnamed `_nrt`) is left out: it took half the
    time of a run, and every array a kernel sees is made outside and outlives it, so that nothing may be allocated inside."""
    import numba

    config: Any = numba.config
    kept = config.CACHE_DIR
    config.CACHE_DIR = str(cache_folder())
    try:
        njit: Any = numba.njit
        made = njit(cache=True, nogil=True, error_model="numpy", _nrt=False, **how)(function)
    finally:
        config.CACHE_DIR = kept
    return cast(Function, made)


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
