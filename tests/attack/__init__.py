"""Attacks on what loopdeck promises: kills, full disks, damaged files, hostile input, by the
hundreds, each with a time limit.

Each module ``attack_*.py`` has a tuple ``ATTACKS``. ``python -m tests.attack.nightly`` runs them at
full size and prints the figures; ``tests/attack/test_attacks.py`` runs a short form of each. The
promises stand in docs/reliability.md.
"""
