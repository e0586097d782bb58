"""A few hundred spoilt recordings; tests/benchmarks/mutate_recordings.py reads ten thousand."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from tests.mutate_files import MUTATIONS, RELATIONS, Judge, Score, broken

FILES = 400


def test_spoilt_recordings_never_crash_are_accounted_for_and_no_wrong_one_passes_in_silence(
    tmp_path: Path,
) -> None:
    score, judge = Score(), Judge(tmp_path)
    for number in range(FILES):
        judge.judge(np.random.default_rng([1, number]), score)
    assert score.wrong == []
    assert score.slowest_s < 5.0
    counts = score.counts.values()
    assert sum(count.files for count in counts) == FILES
    assert len(score.counts) == len(MUTATIONS) + 1
    # the test sees what it should: many break an invariant, most are not refused
    assert sum(count.breaking for count in counts) > 0.08 * FILES
    assert sum(count.refused for count in counts) < 0.2 * FILES


def test_the_sound_file_is_sound(tmp_path: Path) -> None:
    judge = Judge(tmp_path)
    assert judge.said == set()
    assert judge.sound.rows.used == judge.sound.rows.in_file == 900
    assert broken(judge.data, judge.data, judge.sound) == set()
    assert not judge.changed(judge.sound)
    assert len(RELATIONS) == 7
