r"""Checks for those who write stock sources, vehicle registers or diaries: what kitbuilder relies on, as tests.

A test class of one's own inherits the checks and says what is checked; pytest does the rest (nothing here imports it):

    import pytest
    from kitbuilder import Wanted
    from kitbuilder.testing import SourceCase, SourceChecks
    from workshop_chalk_board import stock_sources

    class TestBoard(SourceChecks):
        @pytest.fixture
        def case(self, tmp_path):
            board = tmp_path / "board.txt"
            board.write_text("TH-10110 2 each\n")
            return SourceCase(
                kind=stock_sources()[0], settings={"file": "board.txt"}, folder=tmp_path,
                has={Wanted("TH-10110", "each"): "2"}, breaks=board.unlink)

Each check's docstring says what it holds a plug-in to; what one case doesn't give is not checked, so give all you can:
`breaks` most of all, for a source that says "none" when it can't know makes a workshop stop.
"""

from kitbuilder.testing.diaries import DiaryCase, DiaryChecks
from kitbuilder.testing.registers import RegisterCase, RegisterChecks
from kitbuilder.testing.sources import SourceCase, SourceChecks

__all__ = ["DiaryCase", "DiaryChecks", "RegisterCase", "RegisterChecks", "SourceCase", "SourceChecks"]
