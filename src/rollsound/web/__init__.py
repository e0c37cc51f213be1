"""The pages and the JSON interface: parse what is asked, call `actions/` and the show, show the answer."""
