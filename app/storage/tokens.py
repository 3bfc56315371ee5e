import hashlib


def token_digest(token: str) -> str:
    """A token is 32 random bytes, so a plain digest is enough: there is nothing to guess."""
    return hashlib.sha256(token.encode()).hexdigest()
