"""Where on a site a radio path works, how often, and with what margin."""
