"""What the bench itself saw, for those who come too late to ask it: one JSON object a line, appended as it happens.

Each carries the system's monotonic clock, which all processes of a machine share, so that an output's end can be held
against the moment at which the program that drove it was killed.
"""

import json
import time
from pathlib import Path


class Log:
    """A file that grows; without a path, nothing."""

    def __init__(self, path: str) -> None:
        self._file = Path(path).open("a", encoding="utf-8") if path else None  # noqa: SIM115  # closed by `close`

    def write(self, **fields: object) -> None:
        """Append one line, and let others see it at once."""
        if self._file is not None:
            self._file.write(json.dumps({"monotonic_s": time.monotonic(), **fields}, ensure_ascii=False) + "\n")
            self._file.flush()

    def close(self) -> None:
        """Close the file; nothing can be written afterwards."""
        if self._file is not None:
            self._file.close()
