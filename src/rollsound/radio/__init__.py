"""Radio: carriers that hold together, and reach that is known before the actor walks."""
