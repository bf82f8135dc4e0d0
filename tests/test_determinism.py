"""Plans of one seed are the same bytes in other processes, with other hash seeds and numbers of workers.

Over versions of numpy: `python -m tests.determinism --folder DIR --numpy …`.
"""

from __future__ import annotations

from tests.determinism import digest_elsewhere


def test_other_processes_hash_seeds_and_workers_give_the_same_plans_and_pictures() -> None:
    one = digest_elsewhere(hash_seed="1", workers=1)
    assert len(one) == 64
    assert digest_elsewhere(hash_seed="2", workers=2) == one
