"""One file per question: facts → estimates → the answer record that command line, report and screens share."""
