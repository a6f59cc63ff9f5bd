"""Key pairs: made safely, read strictly."""

from __future__ import annotations

import os
import stat

import pytest
import zmq
import zmq.auth

from console.core.errors import InputError
from console.link.curve import load_keys, make_keys
from console.link.endpoint import parse_endpoint

posix = pytest.mark.skipif(os.name != "posix", reason="file modes are POSIX's")


def test_a_pair_is_made_and_read(tmp_path):
    """A new pair is one of CURVE's, reads back, and ZeroMQ's own tool reads the same."""
    public_path, secret_path = make_keys(tmp_path / "new" / "keys")
    keys = load_keys(tmp_path / "new" / "keys")
    assert zmq.auth.load_certificate(secret_path) == (keys.public, keys.secret)
    assert zmq.auth.load_certificate(public_path) == (keys.public, None)
    assert zmq.curve_public(keys.secret) == keys.public
    assert make_keys(tmp_path / "other")[0] != public_path
    assert load_keys(tmp_path / "other").secret != keys.secret


@posix
def test_the_secret_is_its_owners(tmp_path):
    """The secret file is made with mode 0600 whatever the mask, and refused with another."""
    mask = os.umask(0)
    try:
        public_path, secret_path = make_keys(tmp_path)
    finally:
        os.umask(mask)
    assert stat.S_IMODE(secret_path.stat().st_mode) == 0o600
    assert stat.S_IMODE(public_path.stat().st_mode) == 0o644
    for mode in (0o640, 0o604, 0o644, 0o777):
        secret_path.chmod(mode)
        with pytest.raises(InputError, match=f"mode {mode:04o}.*chmod 600"):
            load_keys(tmp_path)
    secret_path.chmod(0o400)
    assert load_keys(tmp_path)


def test_a_pair_is_never_overwritten(tmp_path):
    """A folder with a pair, or half of one, is left as it is."""
    public_path, secret_path = make_keys(tmp_path)
    before = secret_path.read_bytes()
    with pytest.raises(InputError, match="there is a key already"):
        make_keys(tmp_path)
    public_path.unlink()
    with pytest.raises(InputError, match="there is a key already"):
        make_keys(tmp_path)
    assert secret_path.read_bytes() == before


def test_a_secret_never_shows(tmp_path):
    """The secret is not in the text of the keys."""
    make_keys(tmp_path)
    keys = load_keys(tmp_path)
    assert keys.secret.decode() not in repr(keys)


def test_one_folder_for_both_ends(tmp_path):
    """Without other keys both ends share the pair."""
    make_keys(tmp_path)
    keys = load_keys(tmp_path)
    assert keys.authorised == {keys.public}
    assert keys.publisher_of(parse_endpoint("tcp://10.0.0.5:5556")) == keys.public


def test_keys_of_others(tmp_path):
    """Keys put beside the pair say who publishes and who may watch."""
    own, one, two = tmp_path / "own", tmp_path / "one", tmp_path / "two"
    publics = [make_keys(folder)[0].read_bytes() for folder in (own, one, two)]
    (own / "publisher.key").write_bytes(publics[1])
    (own / "publishers").mkdir()
    (own / "publishers" / "10.0.0.5-5556.key").write_bytes(publics[2])
    (own / "authorised" / "console-1.key").write_bytes(publics[1])
    (own / "authorised" / "console-2.key").write_bytes(publics[2])
    keys = load_keys(own)
    first, second = load_keys(one).public, load_keys(two).public
    assert keys.publisher_of(parse_endpoint("tcp://10.0.0.5:5557")) == first
    assert keys.publisher_of(parse_endpoint("tcp://10.0.0.5:5556")) == second
    assert keys.authorised == {first, second}


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("public-key", "public", "public-key: missing"),
        ("secret-key", "secret", "secret-key: missing"),
        ('secret-key = "', 'secret-key = "x', "secret-key: no CURVE key"),
        ('public-key = "', 'public-key = "é', "public-key: no CURVE key"),
        ('public-key = "', 'public-key = "" #', "public-key: no CURVE key"),
    ],
)
def test_bad_certificates(tmp_path, old, new, words):
    """A file that is no certificate is refused with its name and what it lacks."""
    _, secret_path = make_keys(tmp_path)
    secret_path.write_text(secret_path.read_text().replace(old, new), encoding="utf-8")
    with pytest.raises(InputError, match=words) as caught:
        load_keys(tmp_path)
    assert str(secret_path) in str(caught.value)


def test_a_secret_of_another_pair(tmp_path):
    """A public file that does not belong to the secret is refused."""
    public_path, _ = make_keys(tmp_path / "a")
    public_path.write_bytes(make_keys(tmp_path / "b")[0].read_bytes())
    with pytest.raises(InputError, match="does not belong"):
        load_keys(tmp_path / "a")


def test_unusable_folders(tmp_path):
    """A missing, unreadable or blocked folder is an input error, never a traceback."""
    with pytest.raises(InputError, match="no secret key"):
        load_keys(tmp_path / "nowhere")
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError):
        make_keys(tmp_path / "file" / "keys")
    make_keys(tmp_path / "keys")
    (tmp_path / "keys" / "authorised" / "bad.key").write_bytes(b"\xff\xfe")
    with pytest.raises(InputError, match=r"bad\.key"):
        load_keys(tmp_path / "keys")
