"""Ten people at once for a few seconds; the whole minute, on a larger archive, is in tests/bench/bench_archive.py."""

from crowd import ten_at_once
from handmade import full_log, note

from notelog.archive import Archive, upkeep


def test_eight_readers_and_two_writers(tmp_path):
    path = tmp_path / "jobs.sqlite"
    with Archive(path, create=True) as archive:
        for number in range(30):
            archive.add(f"{number}", [(note(), full_log())])
    told = ten_at_once(str(path), ["bent lower arm", "no play in the wheel bearing", "camber"], seconds=6)
    assert (told["errors"], told["lost"]) == ([], 0)
    assert told["stored"] and told["answers"]
    with Archive(path) as archive:
        assert upkeep.check(archive) == []
        assert len(archive.jobs()) == 30 + told["stored"]
