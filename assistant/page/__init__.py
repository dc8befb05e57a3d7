"""The shop's page: the day's record in a browser, drawn on the server, whole without script.

Reads the record's ledger and writes through the record's log; knows record and sums, and nobody else.
"""

from assistant.page.app import build
from assistant.page.passphrase import PassPhrase
from assistant.page.shop import Names, Shop

__all__ = ["Names", "PassPhrase", "Shop", "build"]
