"""Every page that there is, as somebody at the demo's clinic opens it, and forms that are refused.

A route that is missing here is found by ``test_every_route_stands_in_the_table``.
"""

DAILY = "/machine/bay1/check/daily"
OPENED = (
    "/", "/machine/bay1", "/machine/bay3", "/vaporizer/iso1", "/due", "/week", "/wall", "/who",
    "/setup", "/setup?weight=12kg&machine=bay1", "/paper/daily", "/label/bay1",
    "/label/bay1/code.svg", "/address", "/address/code.svg", "/history/bay1",
    "/history/iso2?all=1", "/find?tag=bay1", "/health",
    "/machine/dental/begin", "/machine/bay1/end", "/machine/exotics/end",
    "/machine/bay1/absorbent", "/machine/bay1/oxygen", "/machine/bay1/cylinder",
    "/machine/bay1/charcoal", "/machine/bay1/charcoal-weight", "/machine/bay3/fault",
    "/machine/bay1/note", "/machine/bay3/back", "/vaporizer/iso1/fill", "/vaporizer/iso1/level",
    "/vaporizer/iso1/fit", "/vaporizer/iso1/remove", "/machine/bay1/plan", "/proof", "/rules",
    "/rules/absorbent-hours", "/rules/absorbent-counts-non-rebreathing",
    "/entry/779", "/entry/779?saved=now", "/entry/779?saved=again", "/entry/779/correct",
    DAILY, f"{DAILY}/review", f"{DAILY}/item/backup-ventilation",
    f"{DAILY}/item/cylinder-pressure", f"{DAILY}/item/absorbent-colour",
    f"{DAILY}/item/breathing-system-leak", f"{DAILY}/item/breathing-system-leak?how=hold",
    f"{DAILY}/item/backup-ventilation?how=failed&anew=1",
    f"{DAILY}/item/backup-ventilation?how=not done&anew=1",
    f"{DAILY}/item/pipeline-pressure?how=not fitted&anew=1", f"{DAILY}/item/pop-off-open",
    "/machine/dental/check/before-case/item/pop-off-open", "/machine/bay3/check/before-case",
)  # fmt: skip
"""What is opened; a check of bay1 is begun, and a case runs on bay1."""
NOT_THERE = ("/nowhere", "/machine/bay9", "/entry/999999", "/find?tag=bay9", "/setup?weight=twelve")
REFUSED: tuple[tuple[str, dict[str, str]], ...] = (
    ("/machine/dental/begin", {"circuit": "adult", "weight": "24"}),
    ("/machine/exotics/end", {}),
    ("/machine/bay1/absorbent", {"mass_g": "much"}),
    ("/machine/bay1/oxygen", {}),
    ("/machine/bay1/cylinder", {"cylinder_psi": "-5"}),
    ("/machine/bay3/fault", {"detail": "hiss"}),
    ("/machine/bay3/back", {"evidence_entry": "1"}),
    ("/vaporizer/iso1/fill", {"level_ml": "x"}),
    ("/vaporizer/iso1/fit", {}),
    ("/machine/bay1/plan", {"item": "service"}),
    ("/rules/absorbent-hours", {"value": "much"}),
    ("/proof", {"token": "forged"}),
    ("/entry/779/correct", {}),
    ("/entry/779/withdraw", {}),
    (f"{DAILY}/item/cylinder-pressure", {"value": "abc"}),
    (f"{DAILY}/item/backup-ventilation?how=not done", {"reason": ""}),
    (f"{DAILY}/save", {}),
    (f"{DAILY}/take-over", {"token": "forged"}),
    (f"{DAILY}/throw-away", {"token": "forged"}),
    ("/who", {"initials": "KO", "pin": "000000"}),
    ("/leave", {"token": "forged"}),
    ("/due", {}),
)
"""Forms with fields that make no sense, by where they are sent."""
