"""Pictures of a visit as SVG, and the papers that are handed over, made from its record.

``svg`` all pictures under one name, ``typeset`` the report and the shift's half sheet as PDF, ``content`` their words.
"""
