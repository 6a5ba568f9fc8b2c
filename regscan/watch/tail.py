"""A table that somebody is still writing: its new lines, whole ones only, each once."""

from pathlib import Path


class Tail:
    """Reads a CSV file on as it grows. A file that became shorter was begun anew."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._read, self._header = 0, b""

    @property
    def exists(self) -> bool:
        """Whether there is such a file, and no link to one elsewhere."""
        return self.path.is_file() and not self.path.is_symlink()

    def news(self) -> bytes:
        """The header and the lines that came since; b"" where none did."""
        try:
            size = self.path.stat().st_size
            if size < self._read:
                self._read, self._header = 0, b""
            if size == self._read:
                return b""
            with self.path.open("rb") as file:
                file.seek(self._read)
                text = file.read(size - self._read)
        except OSError:
            return b""
        end = text.rfind(b"\n") + 1  # a line without its end may be half a number
        self._read += end
        lines = text[:end]
        if end and not self._header:
            self._header, _, lines = lines.partition(b"\n")
        return self._header + b"\n" + lines if lines.strip() else b""
