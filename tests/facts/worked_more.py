"""More worked histories: where a failure fell, sales and returns, leaving, and play hours."""

from __future__ import annotations

from tests.facts.worked_text import Worked, worked


def more_cases() -> list[Worked]:
    """Return the worked histories about bounds, sales, leaving and hours."""
    return [*_bounds(), *_sales(), *_leaving(), *_hours()]


def _bounds() -> list[Worked]:
    return [
        worked(
            "a reported failure fell after the last good sight or within the notice, whichever is later",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   S     d80      check  nff     test   pass
            A1   S     d100     report bad     test   fail
            A2   S     d95      check  nff     test   pass
            A2   S     d100     report bad     test   fail
            A3   S     d80      check  nff     test   pass
            A3   S     d100     check  bad     test   fail""",
            expected={
                "spells": """
                unit lower_days upper_days at_days
                A1   86         100        93
                A2   95         100        97.5
                A3   80         100        90"""
            },
        ),
        worked(
            "with notice 0 a reported failure is dated at its visit, a failure found at a check is not",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   S     d100     report bad     test   fail
            A2   S     d100     check  bad     test   fail""",
            settings={"notice_days": 0},
            expected={"spells": "unit lower_days upper_days at_days\nA1 100 100 100\nA2 0 100 50"},
        ),
        worked(
            "the quiet lag cuts exposure and failures alike, by the midpoint",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   S     d385     report bad     test   fail
            A2   S     d390     report bad     test   fail""",
            settings={"quiet_lag_days": 21},
            expected={
                "spells": """
                unit lower_days upper_days at_days is_failure
                A1   371        385        378     yes
                A2   379        379        379     no
                A3   379        379        379     no"""
            },
        ),
    ]


def _sales() -> list[Worked]:
    cleaned = """
            unit stick received reason finding action     outcome lot disposition
            A1   L     d10      intake bad     open_clean pass    X   grade_a
            A1   R     d10      intake {right} pass X grade_a
            {more}"""
    return [
        worked(
            "storage is no exposure: not sold, or sold without a warranty, opens nothing",
            job="""
            unit stick received reason finding action     outcome lot
            A1   S     d10      intake bad     open_clean pass    X
            A2   S     d10      intake bad     open_clean pass    X
            A3   S     d10      intake nff     test       pass    X""",
            sale="unit sold warranty\nA2 d30 -\nA3 d40 60",
            expected={
                "attempts": "unit is_passed\nA1 yes\nA2 yes",
                "spells": "unit kind opened is_age_known_days at_days is_failure\nA3 first d40 no 60 no",
            },
        ),
        worked(
            "a warranty job confirms the stick that failed, is no second failure, and the other stick is censored",
            job=cleaned.format(
                right="bad open_clean",
                more="A1 L d42 return bad flush fail X hold\n A1 R d42 return nff test pass X hold",
            ),
            sale="unit sold warranty returned return_reason\nA1 d20 90 d40 drift",
            expected={
                "attempts": "stick received attempt_number is_passed\nL d10 1 yes\nR d10 1 yes\nL d42 2 no",
                "spells": "stick kind opened lower_days at_days is_failure\nL clean d20 20 20 yes\nR clean d20 20 20 no",
                "left_out": {"unconfirmed_returns": 0, "return_stick_unknown": 0},
            },
        ),
        worked(
            "a drift return has the mechanism of the job that confirms it, and a repaired lot unit is watched again",
            job="""
            unit stick received reason finding action     outcome lot mechanism
            A1   S     d10      intake bad     open_clean pass    X   track_wear
            A1   S     d60      return bad     flush      pass    X   contamination
            A2   S     d10      intake bad     open_clean pass    X   track_wear""",
            sale="""
            unit sold warranty returned return_reason
            A1   d20  90       d55      drift
            A2   d20  90       d55      drift""",
            expected={
                "spells": """
                unit kind  opened at_days is_failure mechanism     failed_by
                A1   clean d20    35      yes        track_wear    contamination
                A1   clean d60    50      no         contamination -
                A2   clean d20    35      yes        track_wear    -"""
            },
        ),
        worked(
            "what is cleaned for a buyer is followed to the end of the warranty sold with it, and sold again from that sale",
            unit="unit sticks in_service condition\nA1 S d0 used\nA2 S d0 used",
            job="""
            unit stick received reason finding action     outcome
            A1   S     d10      intake bad     open_clean pass
            A1   S     d60      return bad     open_clean pass
            A2   S     d10      intake bad     open_clean pass
            A2   S     d60      return bad     open_clean pass""",
            sale="""
            unit sold warranty returned return_reason
            A1   d20  90       d55      drift
            A2   d20  90       d55      drift
            A2   d70  90       -        -""",
            expected={
                "spells": """
                unit kind  opened attempt_number at_days is_failure
                A1   clean d20    1              35      yes
                A1   clean d60    2              50      no
                A2   clean d20    1              35      yes
                A2   clean d70    2              90      no"""
            },
        ),
        worked(
            "no fault found withdraws a return",
            job=cleaned.format(right="nff test", more="A1 L d42 return nff test pass X hold"),
            sale="unit sold warranty returned return_reason\nA1 d20 90 d40 drift",
            expected={
                "spells": "stick kind at_days is_failure\nL clean 20 no\nR first 20 no",
                "left_out": {"unconfirmed_returns": 0, "return_stick_unknown": 0},
            },
        ),
        worked(
            "with both sticks cleaned and no job nobody knows which one drifted",
            job=cleaned.format(right="bad air", more=""),
            sale="unit sold warranty returned return_reason\nA1 d20 90 d40 drift",
            expected={
                "spells": "stick kind at_days is_failure\nL clean 20 no\nR clean 20 no",
                "left_out": {"unconfirmed_returns": 0, "return_stick_unknown": 1},
            },
        ),
        worked(
            "a return after the warranty, or for another reason, is no failure",
            job="""
            unit stick received reason finding action     outcome lot
            A1   S     d10      intake bad     open_clean pass    X
            A2   S     d10      intake bad     open_clean pass    X""",
            sale="unit sold warranty returned return_reason\nA1 d20 30 d60 drift\nA2 d20 30 d40 buyer_remorse",
            expected={"spells": "unit at_days is_failure\nA1 30 no\nA2 20 no"},
        ),
        worked(
            "a customer's repair is followed to the end of its warranty",
            job="""
            unit stick received back reason finding action outcome warranty
            A1   S     d10      d12  report bad     flush  pass    90
            A2   S     d10      d12  report bad     flush  pass    90
            A2   S     d50      -    report bad     flush  fail    -""",
            settings={"notice_days": 0},
            expected={"spells": "unit kind opened at_days is_failure\nA1 clean d12 90 no\nA2 clean d12 38 yes"},
        ),
        worked(
            "found bad at intake counts for cleaning only; cleaned untested there is counted apart",
            job="""
            unit stick received reason finding  action outcome lot
            A1   S     d10      intake bad      air    fail    X
            A2   S     d10      intake untested air    pass    X""",
            sale="unit sold warranty\nA1 d20 30\nA2 d20 30",
            expected={
                "attempts": "unit is_passed\nA1 no",
                "spells": "unit kind opened at_days\nA2 preventive d20 30",
                "left_out": {"intake_untested": 1},
            },
        ),
    ]


def _leaving() -> list[Worked]:
    return [
        worked(
            "a unit put on hold leaves with all its sticks",
            unit="unit sticks in_service condition\nA1 L+R d0 new",
            job="unit stick received reason finding action outcome disposition\nA1 L d50 check bad air pass hold",
            expected={
                "attempts": "is_passed\nyes",
                "spells": "stick kind at_days is_failure\nL first 25 yes\nR first 50 no",
            },
        ),
        worked(
            "a registered unit that is sold leaves that day",
            unit="unit sticks in_service condition\nA1 S d0 new",
            sale="unit sold warranty\nA1 d70 90",
            job="unit stick received reason finding action outcome\nA9 S d0 check nff test pass",
            expected={"spells": "unit at_days is_failure\nA1 70 no\nA9 400 no"},
        ),
        worked(
            "a stick U is the only stick of a unit, else it counts in same-day figures alone",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 L+R d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   U     d50      check  bad     air    pass
            A2   U     d50      check  bad     air    pass""",
            expected={
                "attempts": "unit stick attempt_number is_passed\nA1 S 1 yes\nA2 U - yes",
                "spells": """
                unit stick kind  at_days is_failure
                A1   S     first 25      yes
                A1   S     clean 350     no
                A2   L     first 400     no
                A2   R     first 400     no""",
                "left_out": {"stick_unknown": 1},
            },
        ),
    ]


def _hours() -> list[Worked]:
    return [
        worked(
            "hours that fall or exceed the calendar are not used, and a new meter goes on from the old one",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new",
            job="""
            unit stick received reason finding action outcome hours
            A1   S     d50      check  nff     test   pass    500
            A1   S     d60      check  nff     test   pass    5900
            A1   S     d70      check  nff     test   pass    400
            A1   S     d100     check  bad     test   fail    1000
            A2   S     d50      check  nff     test   pass    500
            A2   S     d100     check  bad     test   fail    400""",
            usage_reading="unit read hours reset source\nA2 d60 0 yes meter",
            expected={
                "spells": """
                unit lower_days upper_days lower_h upper_h
                A1   70         100        700     1000
                A2   50         100        500     900"""
            },
        ),
        worked(
            "on the day of a change a reading under the old meter's last is of the new meter, whatever stands first",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new",
            job="""
            unit stick received reason finding action outcome hours
            A1   S     d50      check  nff     test   pass    500
            A1   S     d60      check  nff     test   pass    5
            A1   S     d100     check  bad     test   fail    400
            A2   S     d50      check  nff     test   pass    500
            A2   S     d60      check  nff     test   pass    600
            A2   S     d100     check  bad     test   fail    400""",
            usage_reading="unit read hours reset source\nA1 d60 0 yes meter\nA2 d60 0 yes meter",
            expected={
                "spells": """
                unit lower_days upper_days lower_h upper_h
                A1   60         100        505     900
                A2   60         100        600     1000"""
            },
        ),
        worked(
            "estimated hours are no hours; a spell without a later reading has none",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
            job="""
            unit stick received reason finding action outcome hours basis
            A1   S     d100     report bad     test   fail    1000  estimated
            A2   S     d100     report bad     test   fail    1000  -
            A3   S     d100     report bad     flush  pass    1000  sessions""",
            expected={
                "spells": """
                unit kind  at_days at_h
                A1   first 93      -
                A2   first 93      -
                A3   first 93      930
                A3   clean 300     -"""
            },
        ),
        worked(
            "a spell that still runs is censored at the last reading, days run on to the end",
            unit="unit sticks in_service condition\nA1 S d0 new",
            usage_reading="unit read hours source\nA1 d100 1000 meter\nA1 d300 2000 cash_system",
            job="unit stick received reason finding action outcome\nA9 S d0 check nff test pass",
            expected={"spells": "unit at_days at_h\nA1 400 1000\nA9 400 -"},
        ),
    ]
