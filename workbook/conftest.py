"""What is compared when the stored notebooks run again: everything but pixels and markup."""

import pytest


def pytest_collectstart(collector: pytest.Collector) -> None:
    """Leave out still pictures and HTML copies of tables; the text beside them is compared."""
    skip = getattr(collector, "skip_compare", None)    # only the collector of notebooks has it
    if skip is not None:
        collector.skip_compare = (*skip, "text/html", "image/svg+xml")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Let kernels be kernels: their sockets' warnings are not the workbook's."""
    for item in items:
        if item.path.suffix == ".ipynb":
            item.add_marker(pytest.mark.filterwarnings("default"))
