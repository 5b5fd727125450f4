"""Files that are made for the maker: written whole or not at all, and never over another unasked."""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from fitsolve.cli.common import refuse
from fitsolve.errors import BuildError


def checked_output(output: str, kinds: tuple[str, ...], replace: bool) -> Path:
    """Return the file that is to be written, before any work is done for it. Raises BuildError where
    its kind is not one of `kinds`, it is there already, or its folder is not."""
    path = Path(output)
    if path.suffix.lower() not in kinds:
        wanted = " or ".join(kinds)
        raise refuse(f"the file's name must end in {wanted}, which says what it becomes",
                     f"As: --output {path.stem or 'out'}{kinds[0]}", output)  # fmt: skip
    try:
        _check_place(path, output, replace)
    except OSError as error:
        raise _unwritable(path, error) from None
    return path


def _check_place(path: Path, output: str, replace: bool) -> None:
    if not path.parent.is_dir():
        raise refuse(f"there is no folder {path.parent}", "Make it first, or name a file in one that is there.", output)
    if path.is_dir():
        raise refuse(f"{path} is a folder", "Name a file.", output)
    if path.exists() and not replace:
        raise refuse(f"{path} is there already, and was left as it is", "--replace writes over it.", output)


def _unwritable(path: Path, error: OSError) -> BuildError:
    why = (error.strerror or str(error)).lower()
    return refuse(f"{path} could not be written: {why}", "Name another file, or make room.", str(path))


def write_output(path: Path, content: bytes) -> None:
    """Write the whole file, or leave what was there. Raises BuildError where it can't be written."""
    held = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        try:
            held.write_bytes(content)
            os.replace(held, path)
        finally:
            with suppress(OSError):
                held.unlink(missing_ok=True)
    except OSError as error:
        raise _unwritable(path, error) from None
