"""Writing from the browser: who may, a form that was sent, and the pages below ``/DATABASE/-/enter/``."""
