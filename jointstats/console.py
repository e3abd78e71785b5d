"""What a program owes the console it runs in: streams that work, and an end when asked."""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import NoReturn, TextIO


def say(text: str) -> None:
    """Print on standard output; end quietly where nobody reads on."""
    try:
        print(text)
        sys.stdout.flush()
    except OSError as error:
        # What is still held back would fail again when Python ends.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if not isinstance(error, BrokenPipeError):
            raise OSError(error.errno, error.strerror, "standard output") from error


def open_streams() -> None:
    """Give the process the streams it may lack, and let them take any character.

    Pictures go to files alone: no window is asked for, and no word of where fonts are kept.
    """
    os.environ["MPLBACKEND"] = "agg"
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    for name in ("stdout", "stderr"):
        stream: TextIO | None = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            # A pipe gets UTF-8, as a file does; a terminal its own encoding.
            stream.reconfigure(
                encoding=stream.encoding if stream.isatty() else "utf-8",
                errors="backslashreplace",
            )


@contextmanager
def stoppable() -> Iterator[None]:
    """A request to end stops like an interrupt from the keyboard, so that all is put in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(*_: object) -> NoReturn:
        raise KeyboardInterrupt

    asked = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    taken = [one for one in asked if signal.getsignal(one) is signal.SIG_DFL]
    for one in taken:
        signal.signal(one, stop)
    try:
        yield
    finally:
        for one in taken:
            signal.signal(one, signal.SIG_DFL)
