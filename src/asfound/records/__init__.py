"""The record of engines and visits: entries that only grow, and what they add up to.

``entries`` what an entry is, ``kinds`` what each kind holds, ``store`` the place that keeps them, ``visit`` what the
entries of a visit add up to, ``seal`` how a closed visit is made provable, ``export`` how it leaves the house.
"""
