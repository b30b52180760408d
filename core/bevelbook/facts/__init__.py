"""What follows from the records: each fact is defined and worked out in one place, with one typed result.

Records are what people wrote. Facts follow from them: the order of builds and the last one, runs, oil, masses, limits,
what a build lost, whether a diff was full in a run, parts, ideas, builds run in turn. Those that every page needs are
kept in ``build_facts``, ``run_diff_facts`` and ``diff_facts``, which :mod:`bevelbook.facts.renew` writes in the
transaction of every change that they depend on. Commands, pages, views and checks read them; none works one out again.
"""
