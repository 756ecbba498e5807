"""What all tests share."""

import os

# As the command does: small matrices gain nothing from threads.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
