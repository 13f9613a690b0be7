"""What measurements and the log tell of one boat, each with its uncertainty.

Pure numpy and scipy over hydrostatics and the running-trim estimate: readings at the dock
(:mod:`.survey`, :mod:`.predict`, :mod:`.fit`, :mod:`.inclining`), ridden runs (:mod:`.log`, by
:mod:`.regression`), and what is known of the boat and worth measuring next (:mod:`.known`).
"""
