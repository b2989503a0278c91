"""What lines of the log leave out: addresses that open something by themselves."""

import logging
import re

SECRET_ADDRESS = re.compile(r"(/(?:feeds|invitation)/)[^/\s?.\"']+")


class HideSecretAddresses(logging.Filter):
    """Refusals and failures are logged with their path; of a secret one only the beginning is kept."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = SECRET_ADDRESS.sub(r"\1…", record.getMessage()), ()
        return True
