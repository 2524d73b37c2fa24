"""Worked histories by hand, small enough to check with a pencil. Days are `d…`, hours run at 10 a day unless said.

The first three are the design's own worked histories; the others take one rule each. The values are worked out by hand
from the rules; they come from no other source.
"""

from __future__ import annotations

from tests.facts.worked_more import more_cases
from tests.facts.worked_text import Worked, worked


def worked_cases() -> list[Worked]:
    """Return every worked history as (name, tables, settings, expected)."""
    return [*_whole_histories(), *_lives(), *_work(), *more_cases()]


def _whole_histories() -> list[Worked]:
    return [
        worked(
            "A a flush fails, an open clean holds, then the module is replaced",
            settings={"log_end": "d100"},
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding action     outcome hours
            A1   S     d30      report bad     flush      fail    300
            A1   S     d40      report bad     open_clean pass    300
            A1   S     d62      report bad     swap       pass    520""",
            usage_reading="unit read hours\nA1 d100 800",
            expected={
                "attempts": "received depth attempt_number is_passed\nd30 flush 1 no\nd40 open 2 yes",
                "spells": """
                generation kind  opened entry_days lower_days upper_days at_days is_failure entry_h lower_h upper_h at_h
                1          first d0     0          16         30         23      yes        0       160     300     230
                1          clean d40    0          8          22         15      yes        0       80      220     150
                2          first d62    0          38         38         38      no         0       280     280     280""",
                "module_lives": """
                generation is_failure entry_days exit_days exit_h
                1          yes        0          62        520
                2          no         0          38        280""",
            },
        ),
        worked(
            "B a rental cleaned on schedule, found bad at a check, flushed and stored",
            unit="unit sticks in_service condition out out_reason\nB1 S d0 new d120 stored",
            job="""
            unit stick received reason     finding  action outcome hours
            B1   S     d30      check      nff      test   pass    300
            B1   S     d60      preventive untested air    pass    600
            B1   S     d90      check      bad      flush  pass    900""",
            usage_reading="unit read hours\nB1 d115 1150",
            expected={
                "attempts": "received depth attempt_number is_passed\nd90 flush 1 yes",
                "spells": """
                kind       opened lower_days upper_days at_days is_failure lower_h upper_h at_h
                first      d0     60         60         60      no         600     600     600
                preventive d60    0          30         15      yes        0       300     150
                clean      d90    30         30         30      no         250     250     250""",
                "module_lives": "is_failure exit_days exit_h\nno 120 1150",
            },
        ),
        worked(
            "C bought bad, cleaned, sold with a warranty, returned for drift, no job yet",
            job="""
            unit stick received reason finding action     outcome lot disposition
            C1   S     d10      intake bad     open_clean pass    X   grade_a""",
            sale="unit sold warranty returned return_reason\nC1 d20 90 d39 drift",
            expected={
                "attempts": "received depth attempt_number is_passed\nd10 open 1 yes",
                "spells": """
                kind  opened entry_days lower_days upper_days at_days is_failure at_h
                clean d20    0          19         19         19      yes        -""",
                "left_out": {"unconfirmed_returns": 1, "return_stick_unknown": 0},
            },
        ),
    ]


def _lives() -> list[Worked]:
    return [
        worked(
            "a used unit enters late at the age of its first good sight, known in hours only",
            unit="unit sticks in_service condition\nA1 S d0 used",
            job="""
            unit stick received reason finding action outcome hours
            A1   S     d50      check  nff     test   pass    700
            A1   S     d100     check  bad     test   fail    1200""",
            expected={
                "attempts": "unit",
                "spells": """
                kind  opened is_age_known_days is_age_known_hours entry_days upper_days at_days entry_h lower_h upper_h at_h
                first d50    no                yes                0          50         25      700     700     1200    950""",
            },
        ),
        worked(
            "of a unit with an unknown start that is bad at first sight only the time after the clean is known",
            unit="unit sticks in_service condition\nA1 S d0 refurbished",
            job="""
            unit stick received reason finding action     outcome
            A1   S     d50      report bad     open_clean pass""",
            expected={"spells": "kind opened at_days is_failure\nclean d50 350 no"},
        ),
        worked(
            "a module fitted before the log began has an age from its own start",
            unit="unit sticks in_service condition\nA1 S d0 used",
            job="""
            unit stick received reason finding action outcome hours known                since
            A1   S     d20      check  nff     test   pass    200   -                    -
            A1   S     d60      check  nff     test   pass    600   previous_replacement d40
            A1   S     d90      report bad     test   fail    900   previous_replacement d40""",
            settings={"notice_days": 0},
            expected={
                "spells": """
                kind  opened is_age_known_days entry_days at_days entry_h at_h
                first d20    no                0          70      0       700"""
            },
        ),
        worked(
            "a module whose earlier replacement is dated has that age, in hours from the readings around it",
            job="""
            unit stick received reason finding action outcome hours known                since
            A1   S     d20      report nff     test   pass    200   previous_replacement d10
            A1   S     d60      report bad     test   fail    600   previous_replacement d10""",
            usage_reading="unit read hours\nA1 d0 0",
            settings={"notice_days": 0},
            expected={
                "spells": """
                kind  opened is_age_known_days is_age_known_hours entry_days at_days entry_h at_h
                first d20    yes               yes                10         50      100     500"""
            },
        ),
        worked(
            "without any register a module said to be new begins at age 0",
            job="""
            unit stick received reason finding action outcome hours known since
            A1   S     d30      report bad     test   fail    300   new   d10""",
            settings={"log_start": "d0"},
            expected={
                "spells": "kind opened entry_days lower_days at_days lower_h at_h\nfirst d10 0 6 13 90 195",
            },
        ),
        worked(
            "a unit in service before the log began enters at its age then",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="unit stick received reason finding action outcome hours\nA1 S d100 report bad test fail 1000",
            usage_reading="unit read hours\nA1 d95 950",
            settings={"log_start": "d90"},
            expected={
                "spells": "kind entry_days lower_days upper_days entry_h lower_h upper_h\nfirst 90 90 100 900 900 1000",
            },
        ),
        worked(
            "a stick that no job ever names is at risk to the end of the log",
            unit="unit sticks in_service condition\nA1 L+R d0 new",
            job="unit stick received reason finding action outcome\nA1 L d100 report bad test fail",
            expected={
                "spells": """
                stick kind  at_days is_failure
                L     first 93      yes
                R     first 400     no"""
            },
        ),
        worked(
            "a tag used again after a scrap is another unit with an unknown start",
            unit="unit sticks in_service condition\nA1 L+R d0 new",
            job="""
            unit stick received reason finding action     outcome
            A1   L     d50      report bad     scrap      scrapped
            A1   L     d80      check  nff     test       pass
            A1   L     d99      check  bad     open_clean pass""",
            expected={
                "attempts": "life attempt_number is_passed\n1 1 yes",
                "spells": """
                stick life kind  opened is_age_known_days at_days is_failure
                L     0    first d0     yes               43      yes
                R     0    first d0     yes               50      no
                L     1    first d80    no                9.5     yes
                L     1    clean d99    yes               301     no""",
                "module_lives": """
                stick life exit_days is_failure
                L     0    50        yes
                R     0    50        no
                L     1    320       no""",
            },
        ),
        worked(
            "an incoming inspection before service leaves the first life whole, a fault found and cleaned there does not",
            unit="unit sticks in_service condition\nA1 S d20 new\nA2 S d20 new",
            job="""
            unit stick received reason   finding action outcome
            A1   S     d5       incoming nff     test   pass
            A2   S     d5       incoming bad     air    pass""",
            expected={
                "attempts": "unit attempt_number is_passed\nA2 1 yes",
                "spells": "unit kind opened at_days is_failure\nA1 first d20 380 no\nA2 clean d20 380 no",
            },
        ),
    ]


def _work() -> list[Worked]:
    return [
        worked(
            "the clean that the swap follows failed, however the visit ended",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding action                outcome
            A1   S     d50      check  bad     flush+open_clean+swap pass""",
            expected={
                "attempts": "generation depth attempt_number is_passed\n1 flush 1 no\n1 open 2 no",
                "spells": "generation kind opened at_days is_failure\n1 first d0 25 yes\n2 first d50 350 no",
            },
        ),
        worked(
            "a recalibration after a clean does not fail it, a board without a batch does and is no new module",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new\nA3 S d0 new",
            job="""
            unit stick received reason finding action              outcome batch
            A1   S     d50      check  bad     flush+cal           pass    -
            A2   S     d50      check  bad     flush+replace_board pass    -
            A3   S     d50      check  bad     flush+replace_board pass    B7""",
            expected={
                "attempts": "unit is_passed\nA1 yes\nA2 no\nA3 no",
                "spells": """
                unit generation kind  opened is_failure
                A1   1          first d0     yes
                A1   1          clean d50    no
                A2   1          first d0     yes
                A2   1          other d50    no
                A3   1          first d0     yes
                A3   2          first d50    no""",
            },
        ),
        worked(
            "a job without an outcome is no attempt, and the next one belongs to the same episode",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding  action    outcome
            A1   S     d50      check  bad      air+flush open
            A1   S     d60      report untested flush     pass""",
            expected={
                "attempts": "received depth attempt_number is_passed\nd50 air 1 no\nd60 flush 2 yes",
                "spells": "kind opened at_days is_failure\nfirst d0 25 yes\nclean d60 340 no",
                "left_out": {"no_outcome": 1, "assumed_failures": 0},
            },
        ),
        worked(
            "a good sight after a failed clean ends the episode",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   S     d50      check  bad     air    fail
            A1   S     d70      check  nff     test   pass
            A1   S     d90      check  bad     test   fail""",
            expected={"spells": "kind opened at_days is_failure\nfirst d0 25 yes\nother d70 10 yes"},
        ),
        worked(
            "repaired untested after a report is an assumed failure, at a check it is a preventive clean",
            unit="unit sticks in_service condition\nA1 S d0 new\nA2 S d0 new",
            job="""
            unit stick received reason finding action outcome
            A1   S     d50      -      -       flush  pass
            A2   S     d50      check  -       flush  pass""",
            expected={
                "attempts": "unit is_passed\nA1 yes",
                "spells": """
                unit kind       opened at_days is_failure
                A1   first      d0     43      yes
                A1   clean      d50    350     no
                A2   first      d0     50      no
                A2   preventive d50    350     no""",
                "left_out": {"assumed_failures": 1},
            },
        ),
        worked(
            "with the setting off the first life runs on through a preventive clean",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason     finding  action outcome
            A1   S     d50      preventive untested air    pass
            A1   S     d90      report     bad      air    pass
            A1   S     d99      preventive untested air    pass""",
            settings={"preventive_clean_censors": False},
            expected={
                "spells": """
                kind       opened lower_days at_days is_failure
                first      d0     76         83      yes
                clean      d90    9          9       no
                preventive d99    301        301     no"""
            },
        ),
        worked(
            "a click fault repaired leaves the spell running, a module changed for it ends it unfailed",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding action   outcome mode
            A1   S     d50      report bad     resolder pass    click_fault
            A1   S     d90      report bad     swap     pass    click_fault""",
            expected={
                "spells": "generation kind opened at_days is_failure\n1 first d0 90 no\n2 first d90 310 no",
                "module_lives": "generation exit_days is_failure\n1 90 no\n2 310 no",
            },
        ),
        worked(
            "two jobs of one day follow each other by the day they closed",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received closed reason finding action     outcome
            A1   S     d50      d52    check  bad     open_clean pass
            A1   S     d50      d50    check  bad     air        fail""",
            expected={
                "attempts": "depth attempt_number is_passed\nair 1 no\nopen 2 yes",
                "spells": "kind opened at_days is_failure\nfirst d0 25 yes\nclean d52 348 no",
            },
        ),
        worked(
            "a bad as-left reading fails the job whatever its outcome says, when a limit is set",
            unit="unit sticks in_service condition\nA1 S d0 new",
            job="""
            unit stick received reason finding action outcome al_offset
            A1   S     d50      check  bad     air    pass    9
            A1   S     d60      check  bad     flush  pass    7""",
            settings={"pass_max_rest_offset_pct": 8},
            expected={
                "attempts": "attempt_number is_passed\n1 no\n2 yes",
                "spells": "kind opened is_failure\nfirst d0 yes\nclean d60 no",
            },
        ),
    ]
