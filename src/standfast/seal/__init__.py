"""From nouns to bytes that anybody can check years later: keys, credentials, proofs."""
