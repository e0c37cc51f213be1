"""The signed cookie of a device, and the token that its pages send with every change."""

from __future__ import annotations

import hashlib
import hmac
import secrets

from itsdangerous import BadSignature, URLSafeTimedSerializer

LONGEST_S = 30 * 24 * 3600
_NONCE_BYTES = 9


class Signer:
    """Signs and reads what devices carry.

    Parameters
    ----------
    secret
        the show's own secret, 32 bytes or more, in hexadecimal
    """

    def __init__(self, secret: str) -> None:
        self._secret = secret.encode()
        self._cookies = URLSafeTimedSerializer(secret, salt="device", signer_kwargs={"digest_method": hashlib.sha256})

    def cookie(self, token: str) -> str:
        """The value of the cookie for a device's token."""
        return str(self._cookies.dumps(token))

    def token(self, cookie: str) -> str | None:
        """The token in a cookie; nothing when it was forged, changed or is too old."""
        try:
            token = self._cookies.loads(cookie, max_age=LONGEST_S)
        except BadSignature:
            return None
        return token if isinstance(token, str) else None

    def page_token(self, token: str) -> str:
        """A token for one page view; different each time, so that its letters cannot be guessed from sizes."""
        nonce = secrets.token_urlsafe(_NONCE_BYTES)
        return f"{nonce}.{self._mark(nonce, token)}"

    def page_token_holds(self, given: str, token: str) -> bool:
        """True when the page token belongs to this device."""
        nonce, _, mark = given.partition(".")
        return hmac.compare_digest(mark.encode(), self._mark(nonce, token).encode())

    def _mark(self, nonce: str, token: str) -> str:
        return hmac.new(self._secret, f"page|{nonce}|{token}".encode(), hashlib.sha256).hexdigest()
