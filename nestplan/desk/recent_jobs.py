"""The jobs that were opened or saved lately, with a small picture of each, for the start page and the menu."""

from __future__ import annotations

import datetime
import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtGui import QPixmap

__all__ = ["RecentJob", "RecentJobs"]

_MOST_RECENT = 10
_PICTURE_RATIO = 2.0
"""Pixels of a kept picture to one of the screen, so that it is sharp on a fine one too."""


@dataclass(frozen=True)
class RecentJob:
    """Files that were opened or saved together, what the work in them is called, and when (ISO date)."""

    files: tuple[str, ...]
    name: str
    date: str = ""

    @property
    def title(self) -> str:
        """What it is called; of files from before names were kept the first one's name."""
        more = f" and {len(self.files) - 1} more" if len(self.files) > 1 else ""
        return self.name or f"{Path(self.files[0]).name}{more}"

    @property
    def folder(self) -> str:
        """The folder it lies in, for telling jobs of one name apart."""
        first = Path(self.files[0])
        return (first if first.is_dir() else first.parent).name


class RecentJobs:
    """The list, the last one first, kept in `settings`; the pictures lie in a folder beside them."""

    def __init__(self, settings: QSettings) -> None:
        self._settings = settings

    @property
    def jobs(self) -> list[RecentJob]:
        """Those whose files are all still there."""
        return [job for job in self._kept() if all(Path(file).exists() for file in job.files)]

    def add(self, files: list[str], name: str = "", picture: QPixmap | None = None) -> None:
        """Put work at the head of the list."""
        now = datetime.datetime.now().astimezone().isoformat(timespec="minutes")
        job = RecentJob(tuple(files), name, now)
        kept = [job, *(other for other in self.jobs if other.files != job.files)]
        for old in kept[_MOST_RECENT:]:
            self._picture_file(old).unlink(missing_ok=True)
        self._settings.setValue("recent", json.dumps([asdict(each) for each in kept[:_MOST_RECENT]]))
        if picture is not None:
            path = self._picture_file(job)
            path.parent.mkdir(parents=True, exist_ok=True)
            picture.save(str(path))

    def picture(self, job: RecentJob) -> QPixmap | None:
        """The small picture of a job, if one was kept."""
        picture = QPixmap(str(self._picture_file(job)))
        picture.setDevicePixelRatio(_PICTURE_RATIO)
        return None if picture.isNull() else picture

    def _kept(self) -> list[RecentJob]:
        words = str(self._settings.value("recent", ""))
        try:
            entries = json.loads(words) if words else []
            return [RecentJob(tuple(each["files"]), each["name"], each["date"]) for each in entries]
        except (json.JSONDecodeError, KeyError, TypeError):
            # As it was kept before names were: a file a line, an empty line between jobs.
            return [RecentJob(tuple(entry.split("\n")), "") for entry in words.split("\n\n") if entry]

    def _picture_file(self, job: RecentJob) -> Path:
        name = hashlib.sha256("\n".join(job.files).encode()).hexdigest()[:24]
        return Path(self._settings.fileName()).parent / "recent" / f"{name}.png"
