"""Figures that inform and are asserted nowhere: ``python -m tests.bench``, and longer runs.

``audit_many`` audits hundreds of replies, ``garbage`` feeds the core what no player would play,
``endurance`` plays for an hour; ``.ci/soak`` runs all three. By hand, from the top of the checkout.

``soloist_...`` measure the soloist's replies against people's solos: ``likeness`` (published
statistics), ``judge`` (can they be told apart?), ``likecall`` (is this call answered?), ``audit``
(the hard rules, every key and tempo), ``times``, and ``read`` (text for a critic). All take
``--quick``, ``--seed``, ``--replies``, ``--styles``, ``--charts``, and ``--data FOLDER`` or the
environment variable ``JAM_SOLOS`` for a folder with human solos, which is no part of the project.
"""
