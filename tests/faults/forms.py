"""The forms on which faults happen: a case begins, an answer is kept, a check is saved."""

from tests.faults.commands import Writing
from tests.faults.posts import POST

WALK = "/machine/bay1/check/oxygen-failure-alarm"
WALKED, BEGUN = (f"{number}" * 8 + f"-{number * 4}" * 3 + f"-{number * 12}" for number in "12")
"""The identities of a walk and of a case."""
ITEMS = (
    ("oxygen-alarm-sounds", "state=passed"),
    ("other-gases-stop", "state=passed"),
    ("cylinder-side-leak", "value=20"),
    ("oxygen-back", "state=passed"),
)
ANSWERS = tuple((POST, f"{WALK}/item/{key}", told, f"identity={WALKED}") for key, told in ITEMS)
CASE = Writing(
    "post case",
    (POST, "/machine/bay1/begin", "pop_off=open", "circuit=adult", f"identity={BEGUN}"),
    1,
)
ANSWER = Writing("post answer", ANSWERS[0], 0)
CHECK = Writing("post check", (POST, f"{WALK}/save", f"identity={WALKED}"), 1)
POSTS = (CASE, ANSWER, CHECK)
