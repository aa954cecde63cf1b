"""One site made once, copied for each test."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.watching.sites import Site, copy_site, make_template


@pytest.fixture(scope="package")
def template(tmp_path_factory: pytest.TempPathFactory) -> Site:
    return make_template(tmp_path_factory.mktemp("site"))


@pytest.fixture
def site(template: Site, tmp_path: Path) -> Site:
    return copy_site(template, tmp_path / "site")
