"""One end of a socket between two processes, along which whole messages go.

Nobody waits at it unwillingly: what is put in goes out as the other end takes it, and what has come is taken as far as it
is there, so that a window can listen beside everything else it does. Messages are pickled, each after its length.
"""

import pickle
import selectors
import socket
import struct

_LENGTH = struct.Struct("!Q")
_AT_ONCE = 1 << 18
"""Bytes asked of the socket at a time."""


class Wire:
    """Over a connected stream socket, which it owns from now on. For one thread."""

    def __init__(self, end: socket.socket) -> None:
        end.setblocking(False)
        self._end = end
        self._out = bytearray()
        self._in = bytearray()
        self._closed = False

    def fileno(self) -> int:
        """The socket's number, for whoever listens to several."""
        return self._end.fileno()

    @property
    def sending(self) -> bool:
        """Whether something that was put in has not gone out yet: :meth:`flush` it once the socket takes more."""
        return bool(self._out)

    def put(self, message: object) -> None:
        """Send as much as the other end takes at once; the rest stays for :meth:`flush`. OSError where it is gone."""
        told = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
        self._out += _LENGTH.pack(len(told))
        self._out += told
        self.flush()

    def flush(self) -> None:
        """Send on; never waits."""
        try:
            while self._out:
                del self._out[: self._end.send(self._out)]
        except BlockingIOError:
            return

    def send(self, message: object) -> None:
        """Send and wait until all of it has gone out."""
        self.put(message)
        while self._out:
            self._wait(selectors.EVENT_WRITE, None)
            self.flush()

    def taken(self) -> list[object]:
        """All messages that have come whole. EOFError or OSError where the other end is gone and nothing is left."""
        self._read()
        messages: list[object] = []
        at, there = 0, len(self._in)
        while there - at >= _LENGTH.size:
            (long,) = _LENGTH.unpack_from(self._in, at)
            end = at + _LENGTH.size + long
            if there < end:
                break
            with memoryview(self._in)[at + _LENGTH.size : end] as told:
                messages.append(pickle.loads(told))  # from a process that this one started, or was started by
            at = end
        del self._in[:at]
        if self._closed and not messages:
            raise EOFError("the other end is closed")
        return messages

    def wait(self, timeout_s: float | None = None) -> None:
        """Return once something has come, or something can go on that waits to be sent; or after so many seconds."""
        self._wait(selectors.EVENT_READ | (selectors.EVENT_WRITE if self._out else 0), timeout_s)
        self.flush()

    def close(self) -> None:
        """Let the other end find nothing more to come."""
        self._end.close()

    def _read(self) -> None:
        try:
            while not self._closed:
                came = self._end.recv(_AT_ONCE)
                self._in += came
                self._closed = not came
                if len(came) < _AT_ONCE:
                    return
        except BlockingIOError:
            return

    def _wait(self, events: int, timeout_s: float | None) -> None:
        with selectors.DefaultSelector() as selector:
            selector.register(self._end, events)
            selector.select(timeout_s)


def both_ends() -> tuple[Wire, socket.socket]:
    """An end for here, and the socket of the other, to be handed to the process that is to have it."""
    ours, theirs = socket.socketpair()
    return Wire(ours), theirs
