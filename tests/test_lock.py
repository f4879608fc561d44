from lapkit.lock import held


def test_only_one_holds_it_at_a_time(tmp_path):
    path = tmp_path / "lock"
    with held(path) as first, held(path) as second:
        assert (first, second) == (True, False)
    with held(path) as again:
        assert again


def test_its_file_is_there_while_it_is_held_and_gone_after(tmp_path):
    path = tmp_path / "lock"
    with held(path):
        assert path.exists()
        # Who could not have it leaves it to its holder.
        with held(path):
            pass
        assert path.exists()
    assert not path.exists()


def test_an_error_lets_go_of_it(tmp_path):
    path = tmp_path / "lock"
    try:
        with held(path):
            raise KeyError
    except KeyError:
        pass
    assert not path.exists()
    with held(path) as again:
        assert again
