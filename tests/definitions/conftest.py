"""The little folder, ready to load."""

from pathlib import Path

import pytest

from tests.definitions.folder import Folder


@pytest.fixture
def folder(tmp_path: Path) -> Folder:
    made = Folder(tmp_path)
    made.write()
    return made
