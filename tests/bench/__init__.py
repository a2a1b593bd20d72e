"""Figures that inform and are asserted nowhere: ``python -m tests.bench``, and longer runs.

``audit_many`` audits hundreds of replies, ``garbage`` feeds the core what no player would play,
``endurance`` plays for an hour; ``.ci/soak`` runs all three. By hand, from the top of the checkout.
"""
