"""A call on a wire with an end that holds, whatever the other side does.

A time limit of a socket starts anew with each octet: who sends one a second is never late. So each
call runs on a thread of its own, and is left alone when its time is over.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable

from curecal.delivery.channels import Answer, Outcome

# The inner deadline has just ended then, and its answer is on its way.
_GRACE_S = 0.25
# So many calls that never came back mean that nothing comes back: no more are begun.
_MOST_LEFT = 16
_TOO_LATE = "no answer in time"


class Crossing:
    """One call. From `leave` on nobody knows what became of the message."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._has_left = False
        self._is_over = False

    def leave(self) -> None:
        """Say that the message leaves now.

        Raises:
            TimeoutError: the time is over and the answer was given: send nothing.
        """
        with self._lock:
            if self._is_over:
                raise TimeoutError
            self._has_left = True

    def end(self) -> Answer:
        """Say that the time is over.

        Returns:
            What is known: not taken, or nothing.
        """
        with self._lock:
            self._is_over = True
            if self._has_left:
                return Answer(Outcome.UNSURE, _TOO_LATE)
            return Answer(Outcome.LATER, _TOO_LATE, is_down=True)


class Crossings:
    """The calls of one wire: some that were left alone may still be there, but not many."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._left: list[threading.Thread] = []

    def run(self, call: Callable[[Crossing], Answer], *, deadline_s: float) -> Answer:
        """Make a call.

        Args:
            call: What to do. It says when the message leaves.
            deadline_s: How long it may take at most [s].

        Returns:
            Its answer; the end's where it gave none in time.
        """
        with self._lock:
            self._left = [thread for thread in self._left if thread.is_alive()]
            if len(self._left) >= _MOST_LEFT:
                return Answer(Outcome.LATER, "earlier calls still hang", is_down=True)
        crossing = Crossing()
        back: queue.SimpleQueue[Answer] = queue.SimpleQueue()

        def carry() -> None:
            try:
                answer = call(crossing)
            except Exception as error:  # noqa: BLE001 - whatever a wire does, the message may be out
                answer = Answer(Outcome.UNSURE, type(error).__name__)
            back.put(answer)

        # A daemon: it holds up nobody who wants to stop.
        thread = threading.Thread(target=carry, name="crossing", daemon=True)
        thread.start()
        try:
            # Steps that keep their own time answer better than the end does.
            return back.get(timeout=deadline_s + _GRACE_S)
        except queue.Empty:
            with self._lock:
                self._left.append(thread)
            return crossing.end()
