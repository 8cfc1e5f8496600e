"""Work on craft and the record of it: ``laidup layup``, one module for each verb or two."""
