"""Keys and signatures against published values.

Sources: RFC 8032, section 7.1 (from memory; a slip would not verify); RFC 8037, appendix A; W3C
Data Integrity EdDSA Cryptosuites 1.0, test vectors; W3C Controlled Identifiers 1.0, example 9;
multiformats multibase tests.
"""

from __future__ import annotations

import pytest

from standfast.seal.encoding import base58btc, base64url, from_base58btc
from standfast.seal.keys import PublicKey, SecretKey

RFC_8032 = [
    pytest.param(
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701c"
        "f9b46bd25bf5f0595bbe24655141438e7a100b",
        id="test 1",
    ),
    pytest.param(
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "72",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0"
        "f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        id="test 2",
    ),
    pytest.param(
        "833fe62409237b9d62ec77587520911e9a759cec1d19755b7da901b96dca3d42",
        "ddaf35a193617abacc417349ae20413112e6fa4e89a97ea20a9eeee64b55d39a2192992a274fc1a836ba3c23a3"
        "feebbd454d4423643ce80e2a9ac94fa54ca49f",
        "ec172b93ad5e563bf4932c70e1245034c35467ef2efd4d64ebf819683467e2bf",
        "dc2a4459e7369633a52b1bf277839a00201009a3efbf3ecb69bea2186c26b58909351fc9ac90b3ecfdfbc7c664"
        "31e0303dca179c138ac17ad9bef1177331a704",
        id="SHA(abc)",
    ),
]


@pytest.mark.parametrize(("secret", "message", "public", "signature"), RFC_8032)
def test_signatures_of_rfc_8032(secret: str, message: str, public: str, signature: str) -> None:
    key = SecretKey(bytes.fromhex(secret))
    signed = bytes.fromhex(message)

    assert key.public.raw.hex() == public
    assert key.sign(signed).hex() == signature
    assert key.public.verifies(bytes.fromhex(signature), signed)
    assert not key.public.verifies(bytes.fromhex(signature), signed + b"!")


KEYS = [
    pytest.param(
        "z3u2en7t5LR2WtQH5PfFqMqwVHBeXouLzo6haApm8XHqvjxq",
        "c96ef9ea10c5e414c471723aff9de72c35fa5b70fae97e8832ecac7d2e2b8ed6",
        "z6MkrJVnaZkeFzdQyMZu1cgjg7k1pZZ6pvBQ7XJPt4swbTQ2",
        id="keyPair",
    ),
    pytest.param(
        "z3u2W4YnTstS1nSSBAgZcYSJF43JuZ9uLV6bF38B1Bf8NugW",
        "47eb3eba85ebb34ff469689dbfcb1b93baa648185ddfb734fff41a403185413b",
        "z6MktgKTsu1QhX6QPbyqG6geXdw6FQCZBPq7uQpieWbiQiG7",
        id="set 1",
    ),
    pytest.param(
        "z3u2Zr3tcDLBDQKGxVa9SRDFNLqNqPWsa8p9rWPvCEH6bADB",
        "80265a36a929a88cbf7552de454210d8a30c3fa749f313501ad3f88df4c4df66",
        "z6MkmEq87wkHCYnWnNZkigeDMGTN7oUw1upkhzd77KuXERS1",
        id="set 3",
    ),
]


@pytest.mark.parametrize(("secret", "seed", "public"), KEYS)
def test_keys_as_text(secret: str, seed: str, public: str) -> None:
    key = SecretKey.of(secret)

    assert key.seed.hex() == seed
    assert key.multikey == secret
    assert key.public.multikey == public
    assert PublicKey.of(public) == key.public


def test_a_public_key_as_text() -> None:
    """W3C Controlled Identifiers 1.0, example 9."""
    found = PublicKey.of("z6MkmM42vxfqZQsv4ehtTjFFxQ4sQKS2w6WR7emozFAn5cxu")

    assert found.raw.hex() == "666abe089035ed4a45795989fa720a0ee0c48549e84523485c56f1c81b4287a6"


@pytest.mark.parametrize(
    ("content", "text"),
    [("796573206d616e692021", "z7paNL19xttacUY"), ("0000796573206d616e692021", None)],
)
def test_multibase_of_bitcoin_letters(content: str, text: str | None) -> None:
    found = base58btc(bytes.fromhex(content))

    assert text is None or found == text
    assert from_base58btc(found).hex() == content


@pytest.mark.parametrize(
    ("content", "text"),
    [("796573206d616e692021", "eWVzIG1hbmkgIQ"), ("0000796573206d616e692021", "AAB5ZXMgbWFuaSAh")],
)
def test_multibase_of_base64url(content: str, text: str) -> None:
    assert base64url(bytes.fromhex(content)) == text


def test_signature_and_thumbprint_of_rfc_8037() -> None:
    """Appendix A.3 (thumbprint, from memory) and A.4 (signature)."""
    key = SecretKey(
        bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")
    )
    signed = "eyJhbGciOiJFZERTQSJ9.RXhhbXBsZSBvZiBFZDI1NTE5IHNpZ25pbmc"

    assert base64url(key.sign(signed.encode())) == (
        "hgyY0il_MGCjP0JzlnLWG1PPOt7-09PGcvMg3AIbQR6dWbhijcNR4ki4iylGjg5BhVsPt9g7sVvpAr_MuM0KAg"
    )
    assert key.public.thumbprint == "kPrK_qmxVWaYVA9wwBF6Iuo3vVzz7TxHCTwXBygrS4k"
