"""One function per thing the mixer asks for, shared by the command line and the pages."""
